"""Promise kept here: a second reckoning of a receipt, written without the register, comes to the same cents.

``second_receipt`` has the model of ``best_value`` reckon a transaction in which everything is given: the
belt, the claims and the handing-over order. Made-up transactions are full of houses that take two coupons
on an item, of refusals and of food benefits; those of plans get food benefits that pay for a part.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor

import msgspec
import pytest

from counterfoil.engine.papers import PayByFoodBenefit, Receipt, Transaction
from counterfoil.engine.planner import plan
from counterfoil.engine.register import price
from tests.engine.made_up import made_up
from tests.engine.vectors import vectors

from .answer import Figures, ask_register, processes
from .stacked_trips import benefits_on, stacked_trip

SEEDS = range(200)
PLANNED = range(30)


@pytest.fixture(scope="module")
def process() -> Iterator[ProcessPoolExecutor]:
    with processes(1) as pool:
        yield pool


def figures(transaction: Transaction) -> Figures | None:
    """The register's own figures; None where it refuses."""
    receipt = price(transaction)
    if not isinstance(receipt, Receipt):
        return None
    return Figures(
        paid=tuple(unit.paid_cents for unit in receipt.units),
        tax=receipt.tax_cents,
        benefits=sum(line.cents for line in receipt.tenders if line.kind == "food_benefit"),
        cash=receipt.out_of_pocket_cents,
        earned={earned.offer: earned.cents for earned in receipt.earned},
    )


def second_figures(process: ProcessPoolExecutor, asked: Sequence[Transaction]) -> list[Figures | None]:
    return [*process.map(ask_register, [msgspec.json.encode(each) for each in asked], chunksize=20)]


def without_rates_of_nothing(transaction: Transaction) -> Transaction:
    """A class at no rate left out of the rates: no cent of tax is on it either way."""
    store = transaction.store
    rates = {name: rate for name, rate in store.tax.rates.items() if rate}
    tax = msgspec.structs.replace(store.tax, rates=rates)
    return msgspec.structs.replace(transaction, store=msgspec.structs.replace(store, tax=tax))


def test_second_receipt_is_the_registers_on_made_up_transactions(process: ProcessPoolExecutor) -> None:
    transactions = [without_rates_of_nothing(made_up(seed)) for seed in SEEDS]

    for seed, mine, theirs in zip(
        SEEDS, second_figures(process, transactions), map(figures, transactions), strict=True
    ):
        assert mine == theirs, seed


def test_second_receipt_is_the_registers_on_the_stories(process: ProcessPoolExecutor) -> None:
    stories = vectors("register")
    transactions = [msgspec.convert(story["transaction"], Transaction) for story in stories.values()]

    for name, mine, theirs in zip(
        stories, second_figures(process, transactions), map(figures, transactions), strict=True
    ):
        assert mine == theirs, name


def test_food_benefits_pay_for_what_was_planned_alike(process: ProcessPoolExecutor) -> None:
    planned = [
        benefits_on(seed, each.transaction, each.receipt.merchandise_cents)
        for seed in PLANNED
        for each in plan(stacked_trip(seed)).transactions
    ]

    receipts = [figures(transaction) for transaction in planned]

    assert second_figures(process, planned) == receipts
    short = [receipt for receipt in receipts if receipt is not None and receipt.benefits and receipt.cash]
    assert len(short) > len(planned) / 3


def test_food_benefits_pay_what_bears_tax_before_a_class_at_no_rate(process: ProcessPoolExecutor) -> None:
    transaction = made_up(32)
    assert any(isinstance(tender, PayByFoodBenefit) for tender in transaction.tenders)

    assert second_figures(process, [transaction]) == [figures(transaction)]
