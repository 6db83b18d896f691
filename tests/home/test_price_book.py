"""The price book: effective prices per unit of measure, exactly, and a stock-up price that was seen."""

from __future__ import annotations

import statistics
from fractions import Fraction
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterfoil.engine.measure import worth_cents
from counterfoil.engine.offers import Product, Size, StockUp
from counterfoil.home.price_book import (
    Observation,
    as_decimal,
    by_store,
    from_money,
    in_money,
    median,
    observations,
    proposal,
    quantile,
    sale_cycle,
    summary,
)
from counterfoil.store.facts import PriceRow

TOWELS = Product(id="towels", description="Dabwick towels", size=Size(amount="12", unit="roll"), pieces=12)
SMALL = Product(id="small", description="Dabwick towels, small", size=Size(amount="2", unit="roll"), pieces=2)
SOAP = Product(id="soap", description="Lathrin soap", size=Size(amount="500", unit="ml"))
PRODUCTS = {product.id: product for product in (TOWELS, SMALL, SOAP)}

prices = st.lists(st.fractions(min_value=0, max_value=1000), min_size=1, max_size=60)


def seen(
    day: str, cents: int, *, store: str = "alder", product: str = "towels", how: str = "tag"
) -> PriceRow:
    """A price of so many cents for one pack."""
    return PriceRow(product=product, store=store, day=day, cents=cents, each_cents=cents, how=how)


def book(*rows: PriceRow) -> tuple[Observation, ...]:
    """The observations per roll."""
    return observations(rows, PRODUCTS, "roll")


def test_the_tag_and_the_receipt_of_a_day_are_one_observation_at_what_was_paid() -> None:
    tag, paid = seen("2026-11-07", 600), seen("2026-11-07", 540, how="paid")
    [found] = book(tag, paid)
    assert (found.price, found.shelf, found.cents, found.how) == (45, 50, 540, "paid")


def test_a_deal_on_the_tag_counts_as_used() -> None:
    two_for_nine = PriceRow(
        product="towels", store="alder", day="2026-11-07", cents=600, each_cents=450, how="tag"
    )
    assert book(two_for_nine)[0].price == Fraction(450, 12)


def test_packs_of_all_sizes_compare_in_her_unit_of_measure() -> None:
    rows = seen("2026-11-07", 600), seen("2026-11-07", 90, product="small")
    assert sorted(each.price for each in book(*rows)) == [45, 50]


def test_goods_that_are_not_sold_by_that_measure_do_not_count() -> None:
    rows = (
        seen("2026-11-07", 600),
        seen("2026-11-07", 100, product="soap"),
        seen("2026-11-07", 1, product="gone"),
    )
    assert [each.price for each in observations(rows, PRODUCTS, "l")] == [200]


def test_the_lowest_names_its_latest_day_and_the_last_its_cheapest_store() -> None:
    found = summary(
        book(
            seen("2026-10-03", 300),
            seen("2026-10-31", 300),
            seen("2026-11-07", 600),
            seen("2026-11-07", 480, store="birch"),
        )
    )
    assert found is not None
    assert (found.lowest.day, found.lowest.price) == ("2026-10-31", 25)
    assert (found.last.store, found.last.price, found.count) == ("birch", 40, 4)
    assert found.median == Fraction(25 + 40, 2)


def test_nothing_seen_is_no_summary_and_no_proposal() -> None:
    assert summary(()) is None
    assert proposal((), 20, "2026-11-26") is None


def test_stores_stand_by_themselves() -> None:
    found = by_store(book(seen("2026-11-07", 600, store="birch"), seen("2026-11-14", 480)))
    assert {store: len(each) for store, each in found.items()} == {"alder": 1, "birch": 1}


# Nearest rank, worked by hand: of 15, 20, 35, 40, 50 the 30th hundredth is the ceil(1.5) = 2nd.
@pytest.mark.parametrize(
    ("hundredths", "expected"), [(1, 15), (20, 15), (21, 20), (30, 20), (40, 20), (50, 35), (100, 50)]
)
def test_the_quantile_is_the_nearest_rank(hundredths: int, expected: int) -> None:
    assert quantile([Fraction(n) for n in (35, 20, 50, 15, 40)], hundredths) == expected


@given(prices, st.integers(min_value=1, max_value=100))
def test_the_quantile_inverts_the_share_of_prices_at_or_below(
    prices: list[Fraction], hundredths: int
) -> None:
    """Hyndman and Fan's definition, asked of every price instead of by rank: the least price that at least
    so many in a hundred do not exceed."""

    def share(price: Fraction) -> Fraction:
        return Fraction(sum(each <= price for each in prices), len(prices))

    assert quantile(prices, hundredths) == min(
        price for price in prices if share(price) >= Fraction(hundredths, 100)
    )


@given(prices, st.integers(min_value=1, max_value=100))
def test_the_quantile_is_the_same_by_plain_recomputation(prices: list[Fraction], hundredths: int) -> None:
    assert quantile(prices, hundredths) == sorted(prices)[ceil(Fraction(hundredths * len(prices), 100)) - 1]


@given(prices)
def test_the_median_is_that_of_the_standard_library(prices: list[Fraction]) -> None:
    assert median(prices) == statistics.median(prices)


def test_only_the_last_year_makes_the_proposal() -> None:
    rows = book(
        seen("2025-11-26", 120), seen("2025-11-27", 240), seen("2026-11-26", 600), seen("2026-11-27", 12)
    )
    assert proposal(rows, 20, "2026-11-26") == 20
    assert proposal(rows, 100, "2026-11-26") == 50


@given(st.integers(min_value=1, max_value=100_000), st.integers(min_value=1, max_value=400))
def test_a_pack_at_the_proposed_price_is_worth_stocking_up(cents: int, pieces: int) -> None:
    """The decimal is rounded up, so the price that it was taken from is still at or under it; and it lets
    nothing in that costs a cent more."""
    product = Product(id="pack", description="", size=Size(amount=str(pieces), unit="piece"), pieces=pieces)
    stock_up = StockUp(cents=as_decimal(Fraction(cents, pieces)))
    assert worth_cents(product, stock_up) == cents


@pytest.mark.parametrize(
    ("price", "text"),
    [
        (Fraction(100, 3), "33.333334"),
        (Fraction(25), "25"),
        (Fraction(349, 16), "21.8125"),
        (Fraction(0), "0"),
    ],
)
def test_a_stock_up_price_is_kept_as_a_short_decimal(price: Fraction, text: str) -> None:
    assert as_decimal(price) == text


# --- sales ----------------------------------------------------------------------------

WEEKS = [f"2026-{month:02}-{day:02}" for month in range(1, 11) for day in (1, 8, 15, 22)]


def weeks(sales: set[int], **where: str) -> list[PriceRow]:
    """A tag every week, at half price in the weeks that are named."""
    return [seen(day, 300 if week in sales else 600, **where) for week, day in enumerate(WEEKS)]


def test_the_cycle_is_the_median_of_days_between_sale_starts() -> None:
    """Sales start on 8 January, 8 February (two weeks long), 8 March, 15 April and 8 May: 31, 28, 38 and 23
    days apart, in the middle (28 + 31) / 2."""
    found = sale_cycle(book(*weeks({1, 5, 6, 9, 14, 17})))
    assert (found.days, found.cycles, found.last_start) == (Fraction(59, 2), 4, "2026-05-08")


def test_fewer_than_three_cycles_are_not_enough_yet() -> None:
    found = sale_cycle(book(*weeks({1, 5, 9})))
    assert (found.days, found.cycles) == (None, 2)


def test_a_sale_that_was_on_when_watching_began_has_no_start() -> None:
    assert sale_cycle(book(*weeks({0, 1}))).last_start == ""


def test_a_coupon_makes_no_sale() -> None:
    rows = [*weeks(set()), *(seen(WEEKS[week], 200, how="paid") for week in (1, 5, 9, 13))]
    assert sale_cycle(book(*rows)).cycles == 0


def test_sales_at_two_stores_are_two_stories() -> None:
    rows = [*weeks({1, 5}), *weeks({3, 8, 12}, store="birch")]
    found = sale_cycle(book(*rows))
    assert found.cycles == 3
    assert found.days == 31  # 8 January to 8 February; 22 January to 1 March (38); 1 March to 1 April (31)


def test_tags_of_a_sale_with_weeks_unseen_between_them_are_two_sales() -> None:
    rows = [
        seen("2026-01-01", 600),
        seen("2026-01-08", 300),
        seen("2026-03-01", 300),
        seen("2026-03-08", 600),
    ]
    assert sale_cycle(book(*rows, seen("2026-04-01", 600))).cycles == 1


@given(st.integers(min_value=0, max_value=10**12), st.sampled_from((0, 2, 3)))
def test_a_stock_up_price_comes_back_from_its_form_as_it_was(millionths: int, exponent: int) -> None:
    cents = as_decimal(Fraction(millionths, 10**6))
    assert from_money(in_money(cents, exponent), exponent) == cents


@pytest.mark.parametrize(
    ("text", "cents"), [("0.25", "25"), (".218125", "21.8125"), ("1", "100"), ("0.10", "10")]
)
def test_a_stock_up_price_is_typed_in_money(text: str, cents: str) -> None:
    assert from_money(text, 2) == cents


@pytest.mark.parametrize("text", ["", ".", "a", "-1", "1,5", "0.123456789", "1.2.3"])
def test_what_is_no_amount_is_none(text: str) -> None:
    assert from_money(text, 2) is None
