"""The register: one transaction, exactly. Every cent of the receipt has an owner.

Order: 1 shelf, 2 percent offers and percent store coupons, 3 store coupons, 4 manufacturer
coupons (multiplied where the house does), surplus to the basket, 5 basket coupons, 6 tax,
7 tenders, 8 rewards. Common practice of the trade, no source, unless a step names one.

Worked by hand: a box at 4.78, 25 % off by loyalty offer, manufacturer coupon of 1.25,
7 % tax, coupons of the store lower what is taxed:

    tag                                 4.78
    25 % off: 119.5 cents, half up     -1.20
    manufacturer coupon                -1.25
    goods                               2.33
    tax: 7 % of 3.58 is 25.06 cents     0.25
    total                               2.58
"""

from __future__ import annotations

from .basket import give_surplus_to_basket, take_basket_coupons
from .belt import Belt, lay_on_belt
from .coupons import take_manufacturer_coupons, take_store_coupons
from .earning import rewards_earned
from .legality import refuse
from .offers import PercentOff
from .papers import CouponTaken, Receipt, Refusal, TaxLine, TenderLine, Transaction, UnitOnReceipt
from .percents import take_percent_offers, take_percent_store_coupons
from .rules import say
from .tax import tax_lines, taxable_amounts
from .tenders import pay, pay_with_food_benefits

LOCAL_LAW = "Tax as set for this store; local law and the printed receipt decide."


def price(transaction: Transaction) -> Receipt | Refusal:
    """The receipt of a transaction, or the refusal that names the rule and the paper.

    Units of the receipt: one per physical item, in belt order. Cents; pure.
    """
    refusal = refuse(transaction)
    if refusal is not None:
        return refusal
    belt = lay_on_belt(transaction)
    refusal = _take_everything_off(belt)
    if refusal is not None:
        return refusal
    benefits, taxable = pay_with_food_benefits(belt, taxable_amounts(belt))
    taxes = tax_lines(belt, taxable)
    total = sum(item.left for item in belt.items) + sum(line.cents for line in taxes)
    tenders = pay(belt, total, benefits)
    if isinstance(tenders, Refusal):
        return tenders
    return _receipt(belt, taxable, taxes, tenders)


def _take_everything_off(belt: Belt) -> Refusal | None:
    """Steps 2 to 5."""
    take_percent_offers(belt)
    take_percent_store_coupons(belt)
    refusal = take_store_coupons(belt) or take_manufacturer_coupons(belt)
    if refusal is not None:
        return refusal
    give_surplus_to_basket(belt)
    return take_basket_coupons(belt)


def _receipt(
    belt: Belt, taxable: list[int], taxes: tuple[TaxLine, ...], tenders: tuple[TenderLine, ...]
) -> Receipt:
    merchandise = sum(item.left for item in belt.items)
    tax = sum(line.cents for line in taxes)
    return Receipt(
        store=belt.transaction.store.id,
        units=tuple(
            UnitOnReceipt(
                product=item.product.id,
                line=item.line,
                tag_cents=item.tag_cents,
                adjustments=tuple(item.adjustments),
                paid_cents=item.left,
                taxable_cents=cents,
            )
            for item, cents in zip(belt.items, taxable, strict=True)
        ),
        coupons=_coupons_taken(belt),
        taxes=taxes,
        tenders=tenders,
        earned=rewards_earned(belt),
        shelf_cents=sum(item.tag_cents for item in belt.items),
        merchandise_cents=merchandise,
        tax_cents=tax,
        total_cents=merchandise + tax,
        out_of_pocket_cents=sum(line.cents for line in tenders if line.kind == "cash"),
        why=_house_rules_at_work(belt, taxes),
    )


def _coupons_taken(belt: Belt) -> tuple[CouponTaken, ...]:
    cents = [0] * len(belt.transaction.uses)
    for item in belt.items:
        for adjustment in item.adjustments:
            if adjustment.use is not None:
                cents[adjustment.use] += adjustment.cents
    return tuple(
        CouponTaken(use=number, coupon=use.coupon, cents=cents[number], why=" ".join(belt.notes[number]))
        for number, use in enumerate(belt.transaction.uses)
    )


def _house_rules_at_work(belt: Belt, taxes: tuple[TaxLine, ...]) -> tuple[str, ...]:
    """The sentences of the house rules that decided a cent here, and whose word on tax counts."""
    kinds = {adjustment.kind for item in belt.items for adjustment in item.adjustments}
    percents = bool(belt.transaction.offer_uses) or any(
        isinstance(belt.coupons[use.coupon].gives, PercentOff) for use in belt.transaction.uses
    )
    fields = ("percent_base", "percent_rounding") if percents else ()
    fields += ("multiplying",) if "multiplied" in kinds else ()
    sentences = [say(field, belt.transaction.store.rules, belt.money) for field in fields]
    return (*sentences, LOCAL_LAW) if taxes else tuple(sentences)
