"""Step 7 of the register: who pays. Food benefits are settled before tax, the rest after it.

No tender lowers a reward's threshold, and none but food benefits lowers the tax (20 NYCRR
528.27: benefits go to the taxable items first). Otherwise common practice, no source.
"""

from __future__ import annotations

from .belt import Belt
from .papers import (
    PayByCash,
    PayByFoodBenefit,
    PayByGiftCard,
    PayBySlip,
    Refusal,
    TenderLine,
)
from .rules import say

# A product of this category is a gift card on sale.
GIFT_CARD_CATEGORY = "gift card"


def pay_with_food_benefits(belt: Belt, taxable: list[int]) -> tuple[dict[int, int], list[int]]:
    """What each food benefit pays, by its place among the tenders, and what stays taxable.

    ``taxable``: cents per unit before. Eligible units are paid at what is left of them, those
    with tax on them first (a class taxed at 0 has none), in belt order; a coupon's taxable value on
    such a unit stays.
    """
    rates = belt.transaction.store.tax.rates
    taxed = [
        cents > 0 and rates.get(item.product.tax_class, 0) > 0
        for item, cents in zip(belt.items, taxable, strict=True)
    ]
    paid: dict[int, int] = {}
    still = list(taxable)
    left = [item.left for item in belt.items]
    for number, tender in enumerate(belt.transaction.tenders):
        if not isinstance(tender, PayByFoodBenefit):
            continue
        budget = tender.cents
        for unit in sorted(range(len(left)), key=lambda unit: (not taxed[unit], unit)):
            if tender.products and belt.items[unit].product.id not in tender.products:
                continue
            cents = min(budget, left[unit])
            budget -= cents
            left[unit] -= cents
            still[unit] = max(0, still[unit] - cents)
        paid[number] = tender.cents - budget
    return paid, still


def pay(belt: Belt, total_cents: int, benefits: dict[int, int]) -> tuple[TenderLine, ...] | Refusal:
    """The tenders in order until nothing is due; tenders that pay nothing leave no line.

    ``total_cents``: goods and tax. ``benefits``: from ``pay_with_food_benefits``. Refuses a
    slip larger than what is due, a slip twice, and a sum that does not reach the total.
    """
    due = total_cents - sum(benefits.values())
    for_slips = due if belt.transaction.store.rules.slips_buy_gift_cards else due - _gift_cards_on_sale(belt)
    lines: list[TenderLine] = []
    slips: set[str] = set()
    for number, tender in enumerate(belt.transaction.tenders):
        match tender:
            case PayByFoodBenefit():
                _add(lines, TenderLine(kind="food_benefit", cents=benefits[number]))
            case PayBySlip():
                refusal = _refuse_slip(belt, tender, due, for_slips, slips)
                if refusal is not None:
                    return refusal
                slips.add(tender.id)
                due -= tender.cents
                for_slips -= tender.cents
                _add(lines, TenderLine(kind="slip", cents=tender.cents, id=tender.id, offer=tender.offer))
            case PayByGiftCard():
                cents = min(tender.cents, due)
                due -= cents
                _add(lines, TenderLine(kind="gift_card", cents=cents, id=tender.id))
            case PayByCash():
                cents = due if tender.cents is None else min(tender.cents, due)
                due -= cents
                _add(lines, TenderLine(kind="cash", cents=cents))
    if due > 0:
        sentence = f"{belt.money(due)} of {belt.money(total_cents)} is not paid."
        return Refusal(rule="not_paid", subject="", sentence=sentence)
    return tuple(lines)


def _gift_cards_on_sale(belt: Belt) -> int:
    return sum(item.left for item in belt.items if item.product.category == GIFT_CARD_CATEGORY)


def _refuse_slip(belt: Belt, slip: PayBySlip, due: int, for_slips: int, used: set[str]) -> Refusal | None:
    if slip.id != "" and slip.id in used:
        return Refusal(rule="slip_twice", subject=slip.id, sentence="A slip pays once.")
    worth = f"The slip is worth {belt.money(slip.cents)}"
    if slip.cents > due:
        sentence = f"{worth}, {belt.money(due)} is due: a slip pays whole and without change."
        return Refusal(rule="slip_whole", subject=slip.id, sentence=sentence)
    if slip.cents > for_slips:
        house = say("slips_buy_gift_cards", belt.transaction.store.rules, belt.money)
        sentence = f"{worth}; without the gift cards {belt.money(max(0, for_slips))} is due. {house}"
        return Refusal(rule="slips_buy_gift_cards", subject=slip.id, sentence=sentence)
    return None


def _add(lines: list[TenderLine], line: TenderLine) -> None:
    if line.cents > 0:
        lines.append(line)
