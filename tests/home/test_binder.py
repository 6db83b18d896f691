"""The binder: copies left, the soonest to end first, the expired apart."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterfoil.engine.offers import Asks, CentsOff, Coupon, Form
from counterfoil.home.binder import Binder, CopiesMove, CouponMark, binder, counted, earlier, in_hand, loaded

TODAY = "2026-11-26"
MONDAY, SATURDAY, SUNDAY = (
    "2026-11-16T18:00:00+00:00",
    "2026-11-21T10:00:00.500Z",
    "2026-11-22T09:00:00+00:00",
)


def coupon(name: str, until: str | None = None, form: Form = "insert", copies: int = 1) -> Coupon:
    return Coupon(
        id=name,
        description=f"Coupon {name}",
        issuer="manufacturer",
        form=form,
        gives=CentsOff(cents=50),
        asks=(Asks(products=("soap",)),),
        copies=copies,
        until=until,
    )


def use(copies: int = 1, at: str = SATURDAY, name: str = "soap") -> CopiesMove:
    return CopiesMove(coupon=name, copies=-copies, at=at, trip="week-47")


def left(copies: int, typed_at: str, *moves: CopiesMove, mark: CouponMark | None = None) -> int:
    return in_hand(coupon("soap", copies=copies), mark, typed_at, moves, TODAY).left


def ids(found: Binder) -> list[str]:
    return [each.coupon.id for held in found.in_hand.values() for each in held]


def test_what_trips_used_since_the_copies_were_typed_is_gone() -> None:
    assert left(3, MONDAY, use(2)) == 1


def test_a_count_that_is_typed_later_than_a_use_wins() -> None:
    assert left(2, SUNDAY, use(2)) == 2
    assert left(2, MONDAY, use(2), mark=CouponMark(id="soap", counted_at=SUNDAY)) == 2


def test_a_use_after_the_count_is_taken_from_it_whichever_way_it_was_counted() -> None:
    later = use(1, "2026-11-23T10:00:00Z")
    assert left(2, SUNDAY, use(2), later) == 1
    assert left(2, SUNDAY, later, mark=CouponMark(id="soap", counted_at=MONDAY)) == 1


def test_copies_that_nobody_typed_since_records_began_are_taken_from_the_first() -> None:
    assert left(3, "", use(1)) == 2


def test_copies_found_in_the_store_are_more_and_there_are_never_fewer_than_none() -> None:
    peeled = CopiesMove(coupon="soap", copies=2, at=SATURDAY, trip="week-47")
    assert left(1, MONDAY, peeled, use(2)) == 1
    assert left(1, MONDAY, use(3)) == 0


def test_times_of_another_zone_are_compared_as_moments() -> None:
    assert left(3, "2026-11-21T11:00:00+00:00", use(1, "2026-11-21T11:30:00+01:00")) == 3


@pytest.mark.parametrize(
    ("at", "received", "expected"),
    [
        (SATURDAY, SUNDAY, SATURDAY),
        ("2031-01-01T00:00:00Z", SUNDAY, SUNDAY),
        ("no time", SUNDAY, SUNDAY),
    ],
)
def test_a_phones_clock_is_believed_unless_it_runs_ahead(at: str, received: str, expected: str) -> None:
    assert earlier(at, received) == expected


def test_the_soonest_to_end_comes_first_by_form_and_what_never_ends_last() -> None:
    found = binder(
        (
            coupon("never"),
            coupon("later", "2027-01-31"),
            coupon("today", TODAY),
            coupon("app", "2026-12-01", "digital"),
        ),
        {},
        {},
        (),
        TODAY,
    )
    assert ids(found) == ["today", "later", "never", "app"]
    assert [each.days_left for each in found.in_hand["insert"]] == [0, 66, None]
    assert [each.soon for each in found.in_hand["insert"]] == [True, False, False]
    assert found.copies == 4


def test_expired_coupons_stand_apart_and_those_that_were_used_up_are_gone() -> None:
    old = coupon("old", "2026-11-25"), coupon("older", "2026-10-01"), coupon("soap", "2026-11-25")
    found = binder(old, {}, {"soap": MONDAY}, (use(1),), TODAY)
    assert [each.coupon.id for each in found.expired] == ["old", "older"]
    assert ids(found) == []


def test_a_coupon_of_which_none_is_left_stays_in_view() -> None:
    found = binder((coupon("soap"),), {}, {"soap": MONDAY}, (use(1),), TODAY)
    assert [each.coupon.id for each in found.none_left] == ["soap"]


def test_digital_coupons_are_loaded_or_still_to_load() -> None:
    app = coupon("app", form="digital")
    assert binder((app,), {}, {}, (), TODAY).to_load == 1
    mark = loaded(in_hand(app, None, "", (), TODAY), None, True)
    found = binder((app,), {"app": mark}, {}, (), TODAY)
    assert (found.to_load, found.in_hand["digital"][0].loaded) == (0, True)


@given(st.integers(min_value=0, max_value=20), st.integers(min_value=0, max_value=5), st.integers(-3, 3))
def test_one_more_and_one_fewer_count_from_what_is_left(copies: int, uses: int, step: int) -> None:
    """After a count, what is left is what was counted, whatever was used before."""
    moves = [use(uses)] if uses else []
    before = in_hand(coupon("soap", copies=copies), None, MONDAY, moves, TODAY)
    changed, mark = counted(before, None, before.left + step, SUNDAY)
    assert in_hand(changed, mark, MONDAY, moves, TODAY).left == max(before.left + step, 0)


def test_counting_keeps_the_mark_that_it_is_loaded() -> None:
    held = in_hand(coupon("app", form="digital"), CouponMark(id="app", loaded=True), "", (), TODAY)
    _, mark = counted(held, CouponMark(id="app", loaded=True), 2, SUNDAY)
    assert mark == CouponMark(id="app", loaded=True, counted_at=SUNDAY)
