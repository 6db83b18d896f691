"""Promise kept here: every house rule has its default, its plain sentence, and one for each store."""

from __future__ import annotations

import msgspec
import pytest

from counterfoil.engine.money import show
from counterfoil.engine.offers import HouseRules, Multiplying
from counterfoil.engine.rules import RULES, say


def test_table_names_every_house_rule_in_order() -> None:
    assert tuple(RULES) == HouseRules.__struct_fields__


@pytest.mark.parametrize("field", RULES)
def test_rule_has_the_default_of_the_document(field: str) -> None:
    assert RULES[field].default == getattr(HouseRules(), field)


@pytest.mark.parametrize("field", RULES)
def test_rule_speaks_in_sentences(field: str) -> None:
    assert RULES[field].plain.endswith(".")
    assert say(field, HouseRules(), show).endswith(".")


@pytest.mark.parametrize(
    ("rules", "field", "sentence"),
    [
        ({}, "like_coupons_per_transaction", "At most 4 like coupons in one transaction."),
        (
            {"like_coupons_per_transaction": None},
            "like_coupons_per_transaction",
            "Any number of like coupons in one transaction.",
        ),
        (
            {"manufacturer_coupons_per_unit": 0},
            "manufacturer_coupons_per_unit",
            "No manufacturer coupons on one item, paper or digital.",
        ),
        ({}, "store_coupons_per_unit", "At most 1 store coupon on one item."),
        (
            {"multiplying": Multiplying(times=3, up_to_cents=75, per_transaction=2)},
            "multiplying",
            "Manufacturer coupons up to $0.75 count 3 times, the first 2 of a transaction.",
        ),
        (
            {"overage": "basket"},
            "overage",
            "What a coupon is worth beyond its items goes to the rest of the basket.",
        ),
    ],
)
def test_rule_is_said_with_the_stores_own_numbers(
    rules: dict[str, object], field: str, sentence: str
) -> None:
    assert say(field, msgspec.structs.replace(HouseRules(), **rules), show) == sentence
