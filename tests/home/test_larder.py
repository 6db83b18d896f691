"""The larder: what the week needs of a staple, each number with its sentence."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterfoil.engine.offers import Product, Size
from counterfoil.home.household import Staple
from counterfoil.home.larder import StapleState, amount, state_of, states
from counterfoil.store.facts import StockRow

TODAY = "2026-11-26"
TWELVE = Product(
    id="twelve", description="Dabwick towels, 12", size=Size(amount="12", unit="roll"), pieces=12
)
TWO = Product(id="two", description="Dabwick towels, 2", size=Size(amount="2", unit="roll"), pieces=2)
OATS = Product(id="oats", description="Wickel rolled oats", size=Size(amount="500", unit="g"))
PRODUCTS = {product.id: product for product in (TWELVE, TWO, OATS)}
TOWELS = Staple(id="towels", name="Towels", products=("twelve", "two"), per="roll", keep="12", room="60")


def counted(units: int, product: str = "twelve", day: str = TODAY) -> StockRow:
    return StockRow(product=product, day=day, units=units, how="counted")


def stands(staple: Staple, *moves: StockRow, weeks: int = 2) -> StapleState:
    return state_of(staple, PRODUCTS, moves, weeks, TODAY)


def towels(**changed: str | None) -> Staple:
    fields: dict[str, str | None] = {"weekly_use": "8", "keep": "12", "room": "60", **changed}
    return Staple(id="towels", name="Towels", products=("twelve", "two"), per="roll", **fields)  # type: ignore[arg-type]  # texts all


def test_the_need_brings_her_to_the_next_trip_with_what_she_keeps() -> None:
    """20 rolls at home, 8 a week, two weeks: 4 are left, 12 are kept, so 8 are missing; 40 more find room."""
    found = stands(towels(), counted(1), counted(4, "two"))
    assert found.level.now == 20
    assert (found.need, found.welcome, found.pack) == (1, 3, 12)
    assert found.runs_out == "2026-12-13"  # 17.5 days
    assert found.why == (
        "Counted on 26 November; with all that was noted since, 20 rolls are at home.",
        "8 rolls a week go, as you wrote.",
        "So it lasts until about 13 December.",
        "Of 20 rolls, 16 rolls go in 2 weeks until the next trip and 4 rolls stay; 12 rolls are to be kept:"
        " 1 pack of 12 rolls needed.",
        "At a stock-up price, up to 3 packs are welcome: there is room for 60 rolls.",
    )


def test_nothing_is_needed_where_enough_is_there() -> None:
    found = stands(towels(), counted(3))
    assert found.need == 0
    assert found.why[-2].endswith("12 rolls are to be kept: none is needed.")


def test_an_empty_larder_needs_all_of_it() -> None:
    found = stands(towels())
    assert (found.need, found.runs_out) == (3, TODAY)  # 12 kept and 16 used make 28
    assert found.why[0] == "Nothing of it was ever counted or bought."


def test_a_full_larder_welcomes_nothing_but_a_need_outweighs_the_room() -> None:
    assert stands(towels(), counted(5)).welcome == 0
    cramped = stands(towels(room="10"), counted(0))
    assert (cramped.need, cramped.welcome) == (3, 3)
    assert "nothing beyond that is welcome" in cramped.why[-1]


def test_without_a_room_a_years_use_is_welcome_and_without_a_use_only_the_need() -> None:
    assert stands(towels(room=None), counted(2)).welcome == (8 * 52 - 24) // 12
    unknown = stands(towels(room=None, weekly_use=None), counted(0))
    assert (unknown.need, unknown.welcome) == (1, 1)
    assert "count it twice" in unknown.why[1]


def test_her_weekly_use_goes_before_what_is_reckoned() -> None:
    story = counted(9, day="2026-10-01"), counted(1)
    reckoned = stands(towels(weekly_use=None), *story)
    assert reckoned.weekly is not None
    assert reckoned.weekly.amount == 12  # 96 rolls in 8 weeks
    assert "96 rolls went between the counts of 1 October and 26 November: 12 rolls a week." in reckoned.why
    hers = stands(towels(), *story)
    assert hers.weekly is not None
    assert (hers.weekly.amount, hers.weekly.how) == (8, "hers")


def test_packs_are_those_of_the_product_that_she_likes_best() -> None:
    staple = Staple(id="towels", name="Towels", products=("gone", "two", "twelve"), per="roll", keep="12")
    assert (stands(staple).pack, stands(staple).need) == (2, 6)


def test_what_is_sold_by_weight_is_counted_in_packs_and_kept_by_weight() -> None:
    staple = Staple(id="oats", name="Oats", products=("oats",), per="g", weekly_use="350", keep="500")
    found = stands(staple, counted(1, "oats"), weeks=1)
    assert found.need == 1
    assert found.why[3].startswith("Of 500 g, 350 g go in a week until the next trip and 150 g stay")


def test_what_lasts_for_decades_has_no_last_day() -> None:
    assert stands(towels(weekly_use="0.001"), counted(5)).runs_out is None
    assert stands(towels(weekly_use="0"), counted(5)).runs_out is None


def test_each_staple_sees_the_moves_of_its_own_products_alone() -> None:
    oats = Staple(id="oats", name="Oats", products=("oats",), per="g")
    found = states((TOWELS, oats), PRODUCTS, (counted(2), counted(3, "oats")), 1, TODAY)
    assert [each.level.noted for each in found] == [24, 1500]


@given(
    st.integers(min_value=0, max_value=9),
    st.integers(min_value=0, max_value=90),
    st.integers(min_value=0, max_value=90),
    st.integers(min_value=0, max_value=40),
    st.integers(min_value=1, max_value=6),
)
def test_the_need_is_enough_and_a_pack_fewer_is_not(
    home: int, keep: int, room: int, weekly: int, weeks: int
) -> None:
    found = stands(towels(keep=str(keep), room=str(room), weekly_use=str(weekly)), counted(home), weeks=weeks)
    left = 12 * home - weekly * weeks
    assert left + 12 * found.need >= keep
    assert found.need == 0 or left + 12 * (found.need - 1) < keep
    assert found.welcome >= found.need
    assert found.welcome == found.need or 12 * (home + found.welcome) <= room


@pytest.mark.parametrize(
    ("value", "per", "text"),
    [
        (Fraction(1), "roll", "1 roll"),
        (Fraction(5, 2), "oz", "2.5 oz"),
        (Fraction(5, 2), "fl-oz", "2.5 fl oz"),
        (Fraction(1, 3), "box", "0.3 boxes"),
        (Fraction(29, 20), "pouch", "1.5 pouches"),
        (Fraction(0), "egg", "0 eggs"),
    ],
)
def test_amounts_are_said_with_their_unit(value: Fraction, per: str, text: str) -> None:
    assert amount(value, per) == text
