"""Promise kept here: the larder and the price book get every fact once, with where it came from."""

from __future__ import annotations

import pytest

from counterfoil.after.facts import after_deal, price_facts, stock_moves, stock_on
from counterfoil.after.notes import Counted, PurchaseLine, UnplannedPurchase, UsedUp
from counterfoil.engine.offers import BuyOneGetOne, NForM, ShelfPrice
from counterfoil.engine.papers import Found, PriceSeen, TransactionDone

from .month import SOAPS, WEEK_44, books, events, first_week, note


def test_what_was_bought_comes_into_stock_on_its_day() -> None:
    moves = stock_moves(books())

    assert [(move.day, move.product, move.units, move.source) for move in moves] == [
        ("2026-10-31", "soap", 2, "week-44-01"),
        ("2026-10-31", "tea", 1, "week-44-03"),
        ("2026-11-07", "soap", 1, "week-45-01"),
        ("2026-11-07", "tea", 2, "week-45-02"),
        ("2026-11-07", "towels", 1, "week-45-02"),
    ]
    assert stock_on(moves, "2026-11-06") == {"soap": 2, "tea": 1}


def test_a_count_replaces_what_was_reckoned_and_nothing_goes_below_none() -> None:
    """On the day of the count first comes what was bought, then goes what was used, then it is counted."""
    moves = stock_moves(
        books(
            note("n1", "2026-11-07", Counted(product="soap", units=5)),
            note("n2", "2026-11-07", UsedUp(product="soap", units=1)),
            note("n3", "2026-11-08", UsedUp(product="soap", units=9)),
        )
    )

    assert [stock_on(moves, day)["soap"] for day in ("2026-11-06", "2026-11-07", "2026-11-08")] == [2, 5, 0]


def test_an_unplanned_purchase_is_in_stock_and_in_the_price_book() -> None:
    lines = (PurchaseLine(product="soap", units=3, cents=800),)
    shop = note("n1", "2026-11-03", UnplannedPurchase(store="ostrel", lines=lines))

    assert stock_on(stock_moves(first_week(shop)), "2026-11-03")["soap"] == 5
    fact = next(fact for fact in price_facts(first_week(shop)) if fact.source_id == "n1")
    assert (fact.cents, fact.units, fact.tag_cents, fact.source) == (800, 3, None, "paid")


def test_prices_are_those_of_the_tags_and_as_paid() -> None:
    soap = [fact for fact in price_facts(first_week()) if fact.product == "soap"]

    assert [(fact.source, fact.tag_cents, fact.cents, fact.units) for fact in soap] == [
        ("tag in a trip", 300, 300, 1),
        ("paid", 300, 550, 2),
    ]


def test_a_tag_seen_in_the_aisle_is_a_price_even_where_nothing_was_bought() -> None:
    happened = events(
        WEEK_44,
        PriceSeen(store="brindlewick", product="towels", cents=99),
        Found(want="tea", store="brindlewick", product="tea", cents=189),
        TransactionDone(transaction=SOAPS),
    )
    seen = [fact for fact in price_facts(first_week(week_44=happened)) if fact.source == "seen in the aisle"]

    assert [(fact.product, fact.tag_cents, fact.source_id) for fact in seen] == [
        ("towels", 99, "week-44-01"),
        ("tea", 189, "week-44-02"),
    ]


@pytest.mark.parametrize(
    ("deal", "cents_and_units"),
    [
        (None, (300, 1)),
        (NForM(n=3, cents=100), (100, 3)),
        (BuyOneGetOne(off_bp=5_000), (450, 2)),
        (BuyOneGetOne(), (300, 2)),
    ],
)
def test_a_deal_is_the_exact_price_of_its_group(
    deal: NForM | BuyOneGetOne | None, cents_and_units: tuple[int, int]
) -> None:
    assert after_deal(ShelfPrice(store="ostrel", product="soap", cents=300, deal=deal)) == cents_and_units
