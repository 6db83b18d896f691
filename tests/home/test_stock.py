"""Stock from moves, and how fast it goes: worked figures, and what always holds."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from counterfoil.home.stock import level, packs_at_home, weekly_use
from counterfoil.store.facts import StockRow

TWELVES = {"towels": Fraction(12), "small": Fraction(2)}
YEAR_AGO, TODAY = "2025-11-27", "2026-11-26"

days = st.integers(min_value=1, max_value=28).map(lambda day: f"2026-11-{day:02}")


def bought(day: str, units: int, product: str = "towels") -> StockRow:
    return StockRow(product=product, day=day, units=units, how="bought")


def used(day: str, units: int = 1, product: str = "towels") -> StockRow:
    return StockRow(product=product, day=day, units=-units, how="used")


def counted(day: str, units: int, product: str = "towels") -> StockRow:
    return StockRow(product=product, day=day, units=units, how="counted")


@st.composite
def moves(draw: st.DrawFn) -> list[StockRow]:
    """A story of a month, by day."""
    kinds = st.sampled_from((bought, used, counted))
    numbers, names = st.integers(min_value=1, max_value=9), st.sampled_from(("towels", "small"))
    drawn = draw(st.lists(st.tuples(kinds, days, numbers, names), max_size=25))
    return sorted((kind(day, units, name) for kind, day, units, name in drawn), key=lambda move: move.day)


def test_a_count_replaces_what_was_reckoned_and_using_more_than_is_there_leaves_none() -> None:
    story = [
        bought("2026-11-01", 3),
        used("2026-11-02", 5),
        bought("2026-11-03", 2),
        counted("2026-11-04", 7),
    ]
    assert packs_at_home(story, "2026-11-02") == {"towels": 0}
    assert packs_at_home(story, "2026-11-03") == {"towels": 2}
    assert packs_at_home([*story, used("2026-11-04")], TODAY) == {"towels": 6}


def test_two_counts_tell_the_weekly_use_whatever_was_noted_between_them() -> None:
    """3 packs, 2 more, 1 left: 4 packs of 12 rolls in 42 days."""
    story = [counted("2026-10-01", 3), used("2026-10-09"), bought("2026-10-20", 2), counted("2026-11-12", 1)]
    found = weekly_use(story, TWELVES, YEAR_AGO, TODAY)
    assert found is not None
    assert (found.amount, found.used, found.how) == (8, 48, "counts")
    assert (found.from_day, found.until_day) == ("2026-10-01", "2026-11-12")


def test_what_was_bought_and_gone_before_the_first_count_is_not_reckoned_with() -> None:
    story = [bought("2026-09-01", 9), counted("2026-10-01", 3), counted("2026-10-29", 1)]
    found = weekly_use(story, TWELVES, YEAR_AGO, TODAY)
    assert found is not None
    assert found.amount == 6


def test_a_household_that_changes_brands_goes_on_using_as_much() -> None:
    story = [
        counted("2026-09-01", 2),
        counted("2026-09-29", 0),
        bought("2026-09-29", 12, "small"),
        counted("2026-10-27", 0, "small"),
    ]
    found = weekly_use(story, TWELVES, YEAR_AGO, TODAY)
    assert found is not None
    assert found.amount == 6  # 24 rolls in 4 weeks, then 24 in 4


def test_what_turns_up_in_a_cupboard_is_no_use_below_nothing() -> None:
    story = [counted("2026-09-01", 1), counted("2026-10-01", 3), counted("2026-10-01", 2, "small")]
    found = weekly_use(story, TWELVES, YEAR_AGO, TODAY)
    assert found is not None
    assert found.amount == 0


def test_without_two_counts_what_was_told_as_used_counts_from_the_first_move_until_today() -> None:
    story = [bought("2026-10-29", 6), used("2026-11-05"), used("2026-11-19")]
    found = weekly_use(story, TWELVES, YEAR_AGO, TODAY)
    assert found is not None
    assert (found.amount, found.how) == (6, "used")  # 24 rolls in 28 days


def test_too_little_watching_tells_nothing() -> None:
    assert weekly_use([counted("2026-11-13", 3), counted(TODAY, 1)], TWELVES, YEAR_AGO, TODAY) is None
    assert weekly_use([bought("2026-11-13", 3), used(TODAY)], TWELVES, YEAR_AGO, TODAY) is None
    assert weekly_use([bought("2026-01-01", 3)], TWELVES, YEAR_AGO, TODAY) is None
    assert weekly_use([counted("2024-01-01", 3), counted("2024-06-01", 1)], TWELVES, YEAR_AGO, TODAY) is None


def test_by_now_the_usual_use_went_on_from_the_last_count() -> None:
    """36 rolls on 5 November, 8 a week: three weeks later 12."""
    found = level([counted("2026-11-05", 3)], TWELVES, Fraction(8), TODAY)
    assert (found.noted, found.now, found.counted) == (36, 12, "2026-11-05")


def test_what_is_told_as_used_is_not_taken_off_twice() -> None:
    story = [counted("2026-11-05", 3), used("2026-11-12"), used("2026-11-19")]
    assert level(story, TWELVES, Fraction(8), TODAY).now == 12  # 24 went, told or usual
    assert level(story, TWELVES, Fraction(4), TODAY).now == 12  # 24 were told, more than usual


def test_an_empty_shelf_owes_nothing_to_what_is_bought_later() -> None:
    story = [counted("2026-01-01", 1), bought("2026-11-19", 3)]
    assert level(story, TWELVES, Fraction(8), TODAY).now == 28  # 36 less one week


def test_without_a_weekly_use_it_is_what_is_noted() -> None:
    assert level([bought("2026-11-05", 3)], TWELVES, None, TODAY).now == 36
    nothing = level([], TWELVES, Fraction(8), TODAY)
    assert (nothing.now, nothing.packs, nothing.counted) == (0, {}, "")


@given(moves(), st.fractions(min_value=0, max_value=100))
def test_there_is_never_less_than_nothing_nor_more_than_a_larder_without_use(
    story: list[StockRow], weekly: Fraction
) -> None:
    found = level(story, TWELVES, weekly, "2026-12-15")
    lavish = level([move for move in story if move.how != "used"], TWELVES, Fraction(0), "2026-12-15")
    assert 0 <= found.now <= lavish.now
    assert all(count >= 0 for count in found.packs.values())


@given(moves())
def test_what_went_and_what_is_left_add_up_to_what_came(story: list[StockRow]) -> None:
    """A closed ledger: from the first count of everything to the last count of everything."""
    opening = [counted("2026-10-01", 5), counted("2026-10-01", 5, "small")]
    closing = [counted("2026-11-30", 2), counted("2026-11-30", 2, "small")]
    between = [move for move in story if move.how != "counted"]
    found = weekly_use([*opening, *between, *closing], TWELVES, YEAR_AGO, "2026-12-15")
    came = sum(move.units * TWELVES[move.product] for move in between if move.how == "bought")
    assert found is not None
    assert found.used == came + 5 * 14 - 2 * 14
    assert found.amount == found.used * 7 / 60
