"""Promise kept here: the demo is what its README says, to the cent, and shows every kind of offer."""

from __future__ import annotations

import msgspec
import pytest

from counterfoil.engine.check import check_transaction, check_trip
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Receipt, Transaction
from counterfoil.engine.planner import plan
from counterfoil.engine.receipts import check_receipt
from counterfoil.engine.register import price
from counterfoil.shipped import demo_folder


def demo_trip(name: str) -> Trip:
    return msgspec.json.decode((demo_folder() / name).read_bytes(), type=Trip)


@pytest.mark.parametrize("name", ["trip.json", "small-trip.json"])
def test_demo_trips_are_sound(name: str) -> None:
    assert check_trip(demo_trip(name)) == []


def test_the_week_has_every_kind_of_offer() -> None:
    week = demo_trip("trip.json")

    assert (len(week.stores), len(week.products), len(week.wants), len(week.coupons)) == (3, 28, 16, 30)
    assert len({product.category for product in week.products}) == 8
    assert {coupon.form for coupon in week.coupons} == {
        "insert",
        "printable",
        "digital",
        "on_package",
        "register",
    }
    assert {type(coupon.gives).__name__ for coupon in week.coupons} == {
        "CentsOff",
        "PercentOff",
        "FreeItem",
        "FixedPrice",
        "BasketOff",
    }
    assert {reward.kind for reward in week.rewards} == {"slip", "gift_card", "points"}
    assert {reward.rolls for reward in week.rewards if reward.kind == "slip"} == {True, False}
    assert any(price.low_cents and price.high_cents for price in week.prices)
    assert week.set_bonuses
    assert week.wallet.rain_checks
    assert week.wallet.cash_cents


def test_the_week_costs_what_the_readme_says() -> None:
    answer = plan(demo_trip("trip.json"))

    assert answer.unmet == ()
    assert answer.proof.optimal
    assert (answer.totals.paid_cents, answer.totals.net_cents) == (7203, 4236)
    assert answer.totals.out_of_pocket_cents == 5268
    assert [planned.store for planned in answer.transactions] == [
        "brindlewick",
        *["ostrel"] * 2,
        *["marrowbell"] * 3,
    ]
    for planned in answer.transactions:
        check_receipt(planned.transaction, planned.receipt)


def test_coupons_that_ended_or_have_not_begun_stay_at_home() -> None:
    handed_over = {
        coupon for planned in plan(demo_trip("trip.json")).transactions for coupon in planned.hand_over
    }

    assert handed_over.isdisjoint({"pearlip-200", "dabwick-100"})


def test_the_small_trip_by_hand() -> None:
    answer = plan(demo_trip("small-trip.json"))

    assert answer.totals.paid_cents == 79 + 233 + 3 * 249
    assert answer.totals.net_cents == 312
    assert answer.totals.out_of_pocket_cents == 561
    assert answer.totals.left_slips_cents == 249
    assert answer.totals.transactions == 3


def test_the_transaction_by_hand() -> None:
    transaction = msgspec.json.decode((demo_folder() / "transaction.json").read_bytes(), type=Transaction)
    assert check_transaction(transaction) == []

    receipt = price(transaction)

    assert isinstance(receipt, Receipt)
    check_receipt(transaction, receipt)
    assert (receipt.merchandise_cents, receipt.tax_cents, receipt.total_cents) == (551, 44, 595)
    assert receipt.out_of_pocket_cents == 395
    assert [earned.cents for earned in receipt.earned] == [300]


def test_a_stack_names_the_sale_before_the_coupons_that_follow_it() -> None:
    answer = plan(demo_trip("trip.json"))

    stacks = [stack for each in answer.transactions for stack in each.stacks]
    pairs = [
        [name for name, _ in stack.parts]
        for stack in stacks
        if any(part[0] == "sale" for part in stack.parts)
    ]

    assert any(len(names) > 1 for names in pairs)
    assert all(names[0] == "sale" for names in pairs)
