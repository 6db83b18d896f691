"""The house rules: one table with a plain sentence for each, general and for one store.

``RULES`` names every field of ``HouseRules``. ``say`` gives the sentence with the store's
own numbers in it; refusals and receipts quote it. All defaults are common practice of the
trade, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from .offers import HouseRules

Money = Callable[[int], str]


@dataclass(frozen=True, slots=True)
class Rule:
    """``plain``: what the rule is about, without numbers. ``says``: it at one store."""

    plain: str
    default: object
    says: Callable[[HouseRules, Money], str]


def say(field: str, rules: HouseRules, money: Money) -> str:
    """The sentence of one rule at a store with these ``rules``; ``money`` shows cents."""
    return RULES[field].says(rules, money)


def _at_most(number: int, thing: str, where: str) -> str:
    if number == 0:
        return f"No {thing}s {where}."
    return f"At most {number} {thing}{'' if number == 1 else 's'} {where}."


def _like(rules: HouseRules, money: Money) -> str:
    limit = rules.like_coupons_per_transaction
    if limit is None:
        return "Any number of like coupons in one transaction."
    return _at_most(limit, "like coupon", "in one transaction")


def _multiplying(rules: HouseRules, money: Money) -> str:
    house = rules.multiplying
    if house is None:
        return "Coupons count at face value, none is multiplied."
    first = "" if house.per_transaction is None else f", the first {house.per_transaction} of a transaction"
    return f"Manufacturer coupons up to {money(house.up_to_cents)} count {house.times} times{first}."


def _overage(rules: HouseRules, money: Money) -> str:
    return {
        "cut": "A coupon worth more than its items is cut to what is left of them.",
        "basket": "What a coupon is worth beyond its items goes to the rest of the basket.",
        "refuse": "A coupon worth more than its items is not taken.",
    }[rules.overage]


RULES: Mapping[str, Rule] = {
    "manufacturer_coupons_per_unit": Rule(
        "How many manufacturer coupons, paper or digital, one item takes.",
        1,
        lambda rules, money: _at_most(
            rules.manufacturer_coupons_per_unit, "manufacturer coupon", "on one item, paper or digital"
        ),
    ),
    "store_coupons_per_unit": Rule(
        "How many store coupons one item takes.",
        1,
        lambda rules, money: _at_most(rules.store_coupons_per_unit, "store coupon", "on one item"),
    ),
    "percent_offers_per_unit": Rule(
        "How many percent offers one item takes.",
        1,
        lambda rules, money: _at_most(rules.percent_offers_per_unit, "percent offer", "on one item"),
    ),
    "store_with_manufacturer": Rule(
        "Whether a store coupon and a manufacturer coupon go on the same item.",
        True,
        lambda rules, money: (
            "A store coupon and a manufacturer coupon go on the same item."
            if rules.store_with_manufacturer
            else "No store coupon on an item that takes a manufacturer coupon."
        ),
    ),
    "like_coupons_per_transaction": Rule(
        "How many coupons of the same kind one transaction takes.", 4, _like
    ),
    "coupons_no_more_than_items": Rule(
        "Whether there may be more manufacturer coupons than items.",
        True,
        lambda rules, money: (
            "No more manufacturer coupons than items."
            if rules.coupons_no_more_than_items
            else "There may be more manufacturer coupons than items."
        ),
    ),
    "slip_counts_as_manufacturer_coupon": Rule(
        "Whether a reward slip counts where coupons are held against items.",
        False,
        lambda rules, money: (
            "A reward slip counts as a manufacturer coupon."
            if rules.slip_counts_as_manufacturer_coupon
            else "A reward slip does not count as a coupon."
        ),
    ),
    "percent_base": Rule(
        "What a percentage is taken of: the shelf price, or what is left by then.",
        "shelf",
        lambda rules, money: (
            "Percentages are taken of the shelf price."
            if rules.percent_base == "shelf"
            else "Percentages are taken of what is left of the price."
        ),
    ),
    "percent_rounding": Rule(
        "Whether a percentage is rounded for each item or once for the line.",
        "unit",
        lambda rules, money: (
            "Percentages are rounded half up for each item."
            if rules.percent_rounding == "unit"
            else "Percentages are rounded half up once for all items of a line."
        ),
    ),
    "multiplying": Rule(
        "Whether the house multiplies manufacturer coupons, up to which face value, how many.",
        None,
        _multiplying,
    ),
    "overage": Rule(
        "What becomes of a coupon that is worth more than its items.",
        "cut",
        _overage,
    ),
    "basket_coupons_per_transaction": Rule(
        "How many coupons on the whole basket one transaction takes.",
        1,
        lambda rules, money: _at_most(
            rules.basket_coupons_per_transaction, "basket coupon", "in one transaction"
        ),
    ),
    "slips_buy_gift_cards": Rule(
        "Whether reward slips pay for gift cards.",
        False,
        lambda rules, money: (
            "Reward slips pay for gift cards too."
            if rules.slips_buy_gift_cards
            else "Reward slips do not pay for gift cards."
        ),
    ),
    "transactions_per_visit": Rule(
        "How many transactions the house allows in one visit.",
        2,
        lambda rules, money: _at_most(rules.transactions_per_visit, "transaction", "in one visit"),
    ),
}
