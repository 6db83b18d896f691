"""Promise kept here: what went otherwise than planned is told in sentences, and what to ask back in cents."""

from __future__ import annotations

import msgspec

from counterfoil.after.books import open_books
from counterfoil.after.differences import Compared, TripCompared, compared
from counterfoil.after.notes import Note, RefundAsked, RefundState
from counterfoil.after.purchases import bought
from counterfoil.after.refunds import refunds
from counterfoil.engine.offers import ShelfPrice, Trip, Want
from counterfoil.engine.papers import Line, NotPrinted, Report, ShelfEmpty, Transaction, TransactionDone, Use
from counterfoil.engine.planner import plan

from .month import BRINDLEWICK, OSTREL, SOAP, SOAP_TAG, SOAPS, WEEK_44, belt, events, first_week, note

GREEN = msgspec.structs.replace(SOAP, id="green-soap", description="Lathrin green soap, 4 bars")
GREEN_TAG = ShelfPrice(store="ostrel", product="green-soap", cents=310)
WEEK: Trip = msgspec.structs.replace(
    WEEK_44,
    products=(*WEEK_44.products, GREEN),
    prices=(*WEEK_44.prices, GREEN_TAG),
    wants=(Want(id="soap", products=("soap", "green-soap"), need=2), *WEEK_44.wants[1:]),
)


def ostrel(*reports: Report) -> Compared:
    """Ostrel's transaction of the week against the plan: two soaps, one coupon, 5.92."""
    found = compared(first_week(week_44=events(WEEK_44, *reports)), "week-44", plan(WEEK_44))
    assert found is not None
    return next(each for each in found.transactions if each.store == "ostrel")


def words(of: Compared) -> list[str]:
    return [each.words for each in of.differences]


def done(transaction: Transaction, shown: int | None = None) -> TransactionDone:
    return TransactionDone(transaction=transaction, shown_total_cents=shown)


def test_what_went_as_planned_has_no_difference() -> None:
    here = ostrel(done(msgspec.structs.replace(SOAPS, uses=both_coupons())))

    assert (here.planned_cents, here.reckoned_cents, here.paid_cents) == (542, 542, 542)
    assert here.differences == ()


def both_coupons() -> tuple[Use, ...]:
    return (Use(coupon="soap-50", units=(0,)), Use(coupon="soap-50", units=(1,)))


def test_a_coupon_that_stayed_in_the_pocket_has_its_price() -> None:
    (difference,) = ostrel(done(SOAPS)).differences

    assert difference.words == "Coupon not used: 50 cents off one Lathrin soap, $0.50 of the plan."
    assert (difference.kind, difference.cents) == ("coupon not used", 50)


def test_a_tag_that_asked_more_counts_for_every_unit() -> None:
    """3.10 on the tag where 3.00 was planned, twice: 0.20 before tax."""
    dearer = msgspec.structs.replace(
        SOAPS, uses=both_coupons(), prices=(msgspec.structs.replace(SOAP_TAG, cents=310),)
    )
    (difference,) = ostrel(done(dearer)).differences

    assert difference.words == "Lathrin soap, 4 bars: the tag showed $3.10, planned $3.00."
    assert difference.cents == 20


def test_a_register_that_asked_for_more_is_worth_a_question() -> None:
    here = ostrel(done(msgspec.structs.replace(SOAPS, uses=both_coupons()), shown=552))

    assert words(here) == ["The register showed $0.10 more than its papers come to."]


def test_missing_goods_say_why() -> None:
    one = belt(WEEK_44, OSTREL, Line(product="soap", units=1), uses=both_coupons()[:1])

    assert words(ostrel(ShelfEmpty(store="ostrel", product="soap"), done(one))) == [
        "1 × Lathrin soap, 4 bars not bought here: the shelf was empty.",
        "Coupon not used: 50 cents off one Lathrin soap, $0.50 of the plan.",
        "Reward Buy 2 soaps, get a slip of 1.00: $0.00 came out, planned $1.00.",
    ]


def test_a_reward_that_did_not_print_is_told() -> None:
    bought = done(msgspec.structs.replace(SOAPS, uses=both_coupons()))
    here = ostrel(bought, NotPrinted(done="week-44-01", offer="soap-reward"))

    assert words(here) == ["Reward Buy 2 soaps, get a slip of 1.00: $0.00 came out, planned $1.00."]


def test_another_scent_of_the_same_want_is_a_swap() -> None:
    green = belt(WEEK, OSTREL, Line(product="soap", units=1), Line(product="green-soap", units=1))
    found = compared(open_books([bought(WEEK, events(WEEK, done(green)))]), "week-44", plan(WEEK))
    assert found is not None

    swapped = [each.words for t in found.transactions for each in t.differences if each.kind == "swapped"]
    assert swapped == ["1 × Lathrin green soap, 4 bars instead of Lathrin soap, 4 bars."]


def test_goods_beyond_the_plan_are_told() -> None:
    three = belt(WEEK_44, OSTREL, Line(product="soap", units=3), uses=both_coupons())

    assert words(ostrel(done(three))) == ["1 × Lathrin soap, 4 bars more than planned here."]


def whole(*reports: Report) -> TripCompared:
    found = compared(first_week(week_44=events(WEEK_44, *reports)), "week-44", plan(WEEK_44))
    assert found is not None
    return found


def test_a_transaction_that_was_not_made_and_one_that_was_not_planned_are_told() -> None:
    tea = belt(WEEK_44, BRINDLEWICK, Line(product="tea", units=1))
    found = whole(done(tea), done(tea))

    assert [
        (each.store, each.number, words(each)) for each in found.transactions if each.store == "ostrel"
    ] == [("ostrel", 1, ["This transaction at Ostrel Pharmacy was not made."])]
    assert words(found.transactions[-1]) == ["The plan had no such transaction at Brindlewick Foods."]


def test_without_a_plan_only_the_total_is_compared() -> None:
    found = compared(first_week(), "week-44", None)
    assert found is not None

    assert not found.planned
    assert [words(each) for each in found.transactions] == [
        ["The register showed $0.10 more than its papers come to."],
        [],
    ]
    assert compared(first_week(), "no-such-trip", None) is None


def asked(state: RefundState, cents: int = 10) -> Note:
    what = RefundAsked(trip="week-44", done="week-44-01", cents=cents, state=state)
    return note(f"refund-{state}", "2026-11-05", what)


def test_money_to_ask_back_goes_through_its_states() -> None:
    (open_,) = refunds(first_week())
    assert (open_.cents, open_.state) == (10, "worth asking for")
    assert (
        open_.words == "Ostrel Pharmacy asked for $0.10 more than the papers explain: show them the receipt."
    )

    (waiting,) = refunds(first_week(asked("asked")))
    (came,) = refunds(first_week(asked("asked"), asked("paid")))
    assert (waiting.state, waiting.came_cents) == ("asked", 0)
    assert (came.state, came.came_cents, came.words) == ("paid", 10, "Ostrel Pharmacy gave back $0.10.")


def test_a_register_that_asked_for_less_owes_nothing() -> None:
    assert refunds(first_week(week_44=events(WEEK_44, done(SOAPS, shown=500)))) == ()
