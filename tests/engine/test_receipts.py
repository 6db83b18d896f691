"""Promise kept here: a receipt's parts add up, whatever lies on the belt, and the guard bites.

``check_receipt`` runs in every test of the register; here it is shown to catch what it must,
and to hold for transactions that nobody thought of.
"""

from __future__ import annotations

from collections import Counter
from typing import Any

import msgspec
import pytest

from counterfoil.engine.papers import Receipt, Refusal, Transaction
from counterfoil.engine.receipts import BrokenReceipt, check_receipt
from counterfoil.engine.register import price
from tests.engine.made_up import made_up
from tests.engine.vectors import vectors

SEEDS = range(2_000)


def rung_up(name: str) -> tuple[Transaction, Receipt]:
    transaction = msgspec.convert(vectors("register")[name]["transaction"], Transaction)
    receipt = price(transaction)
    assert isinstance(receipt, Receipt)
    return transaction, receipt


def test_receipts_of_made_up_transactions_hold() -> None:
    for seed in SEEDS:
        transaction = made_up(seed)
        answer = price(transaction)
        if isinstance(answer, Receipt):
            check_receipt(transaction, answer)


def test_made_up_transactions_meet_most_rules() -> None:
    answers = [price(made_up(seed)) for seed in SEEDS]
    kinds = Counter(
        adjustment.kind
        for answer in answers
        if isinstance(answer, Receipt)
        for unit in answer.units
        for adjustment in unit.adjustments
    )
    refused = Counter(answer.rule for answer in answers if isinstance(answer, Refusal))

    assert len(kinds) == 7
    assert min(kinds.values()) >= 20
    assert len(answers) - refused.total() >= len(SEEDS) // 3
    assert len(refused) >= 12


def test_price_leaves_the_transaction_as_it_was() -> None:
    for seed in range(50):
        price(transaction := made_up(seed))
        assert transaction == made_up(seed)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("merchandise_cents", 0),
        ("total_cents", 1),
        ("tax_cents", 1),
        ("shelf_cents", 0),
        ("out_of_pocket_cents", 0),
        ("coupons", ()),
        ("tenders", ()),
        ("taxes", ()),
        ("units", ()),
    ],
)
def test_guard_bites_where_a_part_is_changed(field: str, value: Any) -> None:
    transaction, receipt = rung_up("worked-13-tax-after-store-coupon")

    check_receipt(transaction, receipt)
    with pytest.raises(BrokenReceipt):
        check_receipt(transaction, msgspec.structs.replace(receipt, **{field: value}))


def test_guard_bites_where_a_coupon_lies_on_an_item_that_it_does_not_claim() -> None:
    transaction, receipt = rung_up("coupons-in-handing-over-order")
    elsewhere = msgspec.structs.replace(transaction.uses[0], units=(5,))

    with pytest.raises(BrokenReceipt):
        check_receipt(msgspec.structs.replace(transaction, uses=(elsewhere, transaction.uses[1])), receipt)


def test_guard_bites_where_there_are_not_copies_enough() -> None:
    transaction, receipt = rung_up("worked-01-reward-slip")
    one_copy = msgspec.structs.replace(transaction.coupons[0], copies=1)

    with pytest.raises(BrokenReceipt, match="limits"):
        check_receipt(msgspec.structs.replace(transaction, coupons=(one_copy,)), receipt)


def test_guard_bites_where_a_reward_is_above_its_limit() -> None:
    transaction, receipt = rung_up("worked-01-reward-slip")
    twice = msgspec.structs.replace(receipt.earned[0], times=2, cents=800)

    with pytest.raises(BrokenReceipt, match="within a transaction"):
        check_receipt(transaction, msgspec.structs.replace(receipt, earned=(twice,)))
