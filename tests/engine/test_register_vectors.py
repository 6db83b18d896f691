"""Promise kept here: the register answers every shared vector to the cent, and says why.

Each vector of ``tests/vectors/register`` is one story of the trade with its figures worked
by hand. The same files go through the twin in ``test_register_twin.py``.
"""

from __future__ import annotations

import msgspec
import pytest

from counterfoil.engine.offers import HouseRules
from counterfoil.engine.papers import Receipt, Refusal, Transaction
from counterfoil.engine.receipts import check_receipt
from counterfoil.engine.register import price
from tests.engine.vectors import differences, vectors

STORIES = vectors("register")


@pytest.mark.parametrize("name", STORIES)
def test_register_prices_the_story(name: str) -> None:
    vector = STORIES[name]
    transaction = msgspec.convert(vector["transaction"], Transaction)

    answer = price(transaction)

    assert differences(vector["expect"], msgspec.to_builtins(answer)) == []
    if isinstance(answer, Receipt):
        check_receipt(transaction, answer)
    else:
        assert answer.sentence.endswith(".")


@pytest.mark.parametrize("name", STORIES)
def test_answer_is_a_document_that_can_be_read_again(name: str) -> None:
    answer = price(msgspec.convert(STORIES[name]["transaction"], Transaction))

    assert msgspec.json.decode(msgspec.json.encode(answer), type=type(answer)) == answer


@pytest.mark.parametrize("name", STORIES)
def test_story_tells_its_source(name: str) -> None:
    assert STORIES[name]["story"].endswith(".")
    assert STORIES[name]["source"]


def test_every_house_rule_of_the_register_has_its_story() -> None:
    stories = [msgspec.convert(vector["transaction"], Transaction) for vector in STORIES.values()]
    told = {
        field
        for story in stories
        for field in HouseRules.__struct_fields__
        if getattr(story.store.rules, field) != getattr(HouseRules(), field)
    }
    # Transactions a visit are counted by the planner, which sees the whole visit.
    assert told == {*HouseRules.__struct_fields__} - {"transactions_per_visit"}


def test_every_house_rule_that_can_refuse_refuses_in_a_story() -> None:
    answers = (price(msgspec.convert(vector["transaction"], Transaction)) for vector in STORIES.values())
    refused = {answer.rule for answer in answers if isinstance(answer, Refusal)}

    assert refused >= {
        "manufacturer_coupons_per_unit",
        "store_coupons_per_unit",
        "percent_offers_per_unit",
        "store_with_manufacturer",
        "like_coupons_per_transaction",
        "coupons_no_more_than_items",
        "slip_counts_as_manufacturer_coupon",
        "overage",
        "basket_coupons_per_transaction",
        "slips_buy_gift_cards",
    }
