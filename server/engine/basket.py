"""Between steps 4 and 5, and step 5: what goes to the whole basket.

Surplus of a coupon where the house gives it to the basket, then coupons on the basket.
Common practice of the trade, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

from .belt import TAKEN_OFF, Belt, called
from .offers import BasketOff
from .papers import Refusal

_MEASURED = {
    "before_coupons": "before coupons",
    "after_store_coupons": "after store coupons",
    "after_all_coupons": "after all coupons",
}


def give_surplus_to_basket(belt: Belt) -> None:
    """Each surplus to the other units in belt order, as far as they have room."""
    for number, surplus in belt.surplus:
        coupon = belt.coupons[belt.transaction.uses[number].coupon]
        why = f"What {called(coupon.description, coupon.id)} is worth beyond its own items."
        for unit in range(len(belt.items)):
            surplus -= belt.take(unit, "overage", coupon.id, surplus, why, number)


def in_proportion(value: int, weights: Sequence[int]) -> list[int]:
    """``value`` cents spread in proportion to ``weights`` by largest remainder.

    Whole cents that add up to ``value``; equal remainders go by order. ``value`` is at most
    the sum of the weights, so no part is above its weight. 100 over (2, 1, 1) of 4: all; 1
    over (1, 1): (1, 0).
    """
    total = sum(weights)
    if value == 0 or total == 0:
        return [0] * len(weights)
    parts = [value * weight // total for weight in weights]
    by_remainder = sorted(range(len(weights)), key=lambda i: (-(value * weights[i] % total), i))
    for i in by_remainder[: value - sum(parts)]:
        parts[i] += 1
    return parts


def take_basket_coupons(belt: Belt) -> Refusal | None:
    """Step 5, in handing-over order. Refused where the spend does not reach the threshold."""
    for number, use in enumerate(belt.transaction.uses):
        coupon = belt.coupons[use.coupon]
        gives = coupon.gives
        if not isinstance(gives, BasketOff):
            continue
        products = coupon.asks[0].products
        name = called(coupon.description, coupon.id)
        # Other basket coupons never count against the threshold: no measure takes them off.
        spend = belt.spend(products, TAKEN_OFF[gives.measure])
        threshold = f"from {belt.money(gives.from_cents)} of goods, {_MEASURED[gives.measure]}"
        if spend < gives.from_cents:
            sentence = f"{name} asks for a spend {threshold}; here it is {belt.money(spend)}."
            return Refusal(rule="basket_threshold", subject=coupon.id, sentence=sentence)
        units = [i for i, item in enumerate(belt.items) if not products or item.product.id in products]
        left = [belt.items[unit].left for unit in units]
        why = f"{name}: {belt.money(gives.cents)} off {threshold}, spread by what is left of each item."
        belt.note(number, why)
        for unit, cents in zip(units, in_proportion(min(gives.cents, sum(left)), left), strict=True):
            belt.take(unit, "basket_coupon", coupon.id, cents, why, number)
    return None
