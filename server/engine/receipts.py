"""What must always hold of a receipt. Run in every test of the register.

``check_receipt`` trusts nothing that the steps did: it adds up again from the transaction's
own papers. A broken promise raises ``BrokenReceipt`` and is a fault of ours.
"""

from __future__ import annotations

from collections import Counter

from .offers import BasketOff
from .papers import Receipt, Transaction


class BrokenReceipt(AssertionError):
    """A receipt that breaks a promise; the message says which."""


def check_receipt(transaction: Transaction, receipt: Receipt) -> None:
    """Raises ``BrokenReceipt`` unless the parts add up, nothing is below zero, and every
    coupon lies on units that are there, within its copies and limits."""
    _check_units(transaction, receipt)
    _check_sums(receipt)
    _check_coupons(transaction, receipt)
    _check_rewards(transaction, receipt)


def _must(holds: bool, promise: str) -> None:
    if not holds:
        raise BrokenReceipt(promise)


def _check_units(transaction: Transaction, receipt: Receipt) -> None:
    belt = [
        (line.product, number) for number, line in enumerate(transaction.lines) for _ in range(line.units)
    ]
    _must([(unit.product, unit.line) for unit in receipt.units] == belt, "a unit for each item on the belt")
    for unit in receipt.units:
        off = sum(adjustment.cents for adjustment in unit.adjustments)
        _must(unit.tag_cents - off == unit.paid_cents, "tag less adjustments is what is paid")
        _must(unit.paid_cents >= 0, "no unit is paid below zero")
        _must(unit.taxable_cents >= 0, "no taxable amount below zero")
        _must(
            all(a.cents > 0 or a.kind == "sale" for a in unit.adjustments),
            "each takes something off",
        )
        _must(all(a.why != "" for a in unit.adjustments), "every adjustment says why")


def _check_sums(receipt: Receipt) -> None:
    _must(receipt.shelf_cents == sum(unit.tag_cents for unit in receipt.units), "the tags add up")
    _must(receipt.merchandise_cents == sum(unit.paid_cents for unit in receipt.units), "the goods add up")
    _must(receipt.tax_cents == sum(line.cents for line in receipt.taxes), "the taxes add up")
    _must(receipt.total_cents == receipt.merchandise_cents + receipt.tax_cents, "goods and tax are the total")
    _must(receipt.total_cents == sum(line.cents for line in receipt.tenders), "the tenders pay the total")
    cash = sum(line.cents for line in receipt.tenders if line.kind == "cash")
    _must(receipt.out_of_pocket_cents == cash, "out of pocket is the cash")
    taxable = sum(unit.taxable_cents for unit in receipt.units)
    _must(taxable == sum(line.taxable_cents for line in receipt.taxes), "taxable amounts add up")
    _must(all(line.cents > 0 for line in receipt.tenders), "every tender pays something")
    _must(all(line.cents >= 0 for line in receipt.taxes), "no tax below zero")
    _must(all(line.why != "" for line in receipt.taxes), "every tax says why")


def _check_coupons(transaction: Transaction, receipt: Receipt) -> None:
    coupons = {coupon.id: coupon for coupon in transaction.coupons}
    taken = [0] * len(transaction.uses)
    for place, unit in enumerate(receipt.units):
        for adjustment in unit.adjustments:
            if adjustment.use is None:
                continue
            use = transaction.uses[adjustment.use]
            _must(adjustment.source == use.coupon, "an adjustment names its use's coupon")
            whole_basket = adjustment.kind in ("basket_coupon", "overage")
            _must(whole_basket or place in use.units, "a coupon takes off the units that it claims")
            taken[adjustment.use] += adjustment.cents
    shown = [(line.use, line.coupon, line.cents) for line in receipt.coupons]
    handed = [(number, use.coupon, taken[number]) for number, use in enumerate(transaction.uses)]
    _must(shown == handed, "each coupon's line is what it took off")
    _must(all(line.why != "" for line in receipt.coupons), "every coupon says why")
    for coupon_id, times in Counter(use.coupon for use in transaction.uses).items():
        coupon = coupons[coupon_id]
        limits = (coupon.copies, coupon.per_transaction, coupon.per_day, coupon.per_household)
        _must(all(limit is None or times <= limit for limit in limits), "a coupon within its limits")
    for use in transaction.uses:
        coupon = coupons[use.coupon]
        asked = 0 if isinstance(coupon.gives, BasketOff) else sum(asks.units for asks in coupon.asks)
        _must(len(set(use.units)) == len(use.units) == asked, "a coupon claims as many units as it asks for")
        products = [product for asks in coupon.asks for product in [asks.products] * asks.units]
        for unit, eligible in zip(use.units, products, strict=False):
            _must(not eligible or receipt.units[unit].product in eligible, "a coupon on its own products")


def _check_rewards(transaction: Transaction, receipt: Receipt) -> None:
    offers = {offer.id: offer for offer in transaction.rewards}
    for line in receipt.earned:
        offer = offers[line.offer]
        before = transaction.earned_before.get(line.offer, 0)
        _must(line.cents == line.times * line.each_cents > 0, "a reward is its times")
        _must(
            offer.per_transaction is None or line.times <= offer.per_transaction,
            "within a transaction",
        )
        _must(offer.per_household is None or before + line.times <= offer.per_household, "in a household")
        own_slip = any(t.kind == "slip" and t.offer == offer.id for t in receipt.tenders)
        _must(offer.rolls or not own_slip, "a slip that does not roll earns none of its own")
