"""Promise kept here: what was reckoned of a trip is kept, and equals what would be reckoned now."""

from __future__ import annotations

import asyncio
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.after.books import open_books
from counterfoil.after.expiries import due
from counterfoil.after.purchases import bought
from counterfoil.after.reports import currencies, reports
from counterfoil.engine.offers import Product, Size, Store, Trip
from counterfoil.engine.papers import Event, TransactionDone, Undone
from counterfoil.home.household import HouseholdSettings
from counterfoil.homes import Home
from counterfoil.ledger import Ledger
from counterfoil.reckoned_trips import TripFacts
from counterfoil.store.records import SqliteRecords
from counterfoil.store.sqlite import FILE_NAME, SqliteStore
from counterfoil.store.sqlite_facts import SqliteFacts
from tests.engine.made_up import DAY, GOODS, made_up
from tests.kitchen import TODAY, fill

from .conftest import Phone, paired
from .test_binder import bring_trip, soaps_bought
from .test_desk import words

PAGES = (
    "/desk/larder",
    "/desk/binder",
    "/desk/calendar",
    "/desk/settle",
    "/desk/reports",
    "/desk/trips/new",
    "/desk/trips/soap-week/settle",
    "/desk/larder/prices/products/soap",
)


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A household whose trip went through the register; nobody has looked at it since."""
    folder = tmp_path / "data"
    fill(folder)
    with paired(folder, today=lambda: TODAY) as desk:
        phone: Phone = bring_trip(desk)
        phone.sync(phone.event(soaps_bought(1)))
        words(desk, "/desk/larder")
    return folder


def paid_rows(data: Path) -> list[tuple[str, int]]:
    """Product and cents of every price that a trip paid."""
    with closing(sqlite3.connect(data / FILE_NAME)) as connection:
        return connection.execute(
            "SELECT product, each_cents FROM prices_seen WHERE source LIKE 'trip:%' AND how = 'paid'"
        ).fetchall()


def spoil(data: Path, change: str) -> None:
    with closing(sqlite3.connect(data / FILE_NAME)) as connection, connection:
        connection.execute(change)


def never(*_: object) -> None:
    raise ZeroDivisionError("reckoned again")


@settings(max_examples=60, deadline=None)
@given(seeds=st.lists(st.integers(0, 10_000), max_size=4), gone=st.integers(0, 3))
def test_kept_facts_equal_fresh_ones_and_so_does_all_that_follows(seeds: list[int], gone: int) -> None:
    trip = Trip(
        id="made-up",
        title="Made up",
        day=DAY,
        stores=(Store(id="corner", name="Corner"),),
        products=tuple(
            Product(id=good, description=good, size=Size(amount="1", unit="piece")) for good in GOODS
        ),
        prices=(),
        wants=(),
    )
    reports_of_it = [
        *(TransactionDone(transaction=made_up(seed)) for seed in seeds),
        Undone(event=f"e-{gone}"),
    ]
    events = [
        Event(id=f"e-{n}", device="phone", counter=n, at=f"{DAY}T10:00:00Z", trip=trip.id, what=what)
        for n, what in enumerate(reports_of_it)
    ]
    fresh = TripFacts(bought=bought(trip, events))

    kept = msgspec.json.decode(msgspec.json.encode(fresh), type=TripFacts)

    assert kept == fresh
    before, after = open_books((fresh.bought,)), open_books((kept.bought,))
    for currency, exponent in currencies(before):
        assert reports(after, DAY, currency, exponent) == reports(before, DAY, currency, exponent)
    assert due(after, DAY) == due(before, DAY)


def test_after_a_restart_no_transaction_is_priced_again(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with paired(data, today=lambda: TODAY) as desk:
        before = {page: words(desk, page) for page in PAGES}
    monkeypatch.setattr("counterfoil.reckoned_trips.bought", never)
    with paired(data, today=lambda: TODAY) as desk:
        assert {page: words(desk, page) for page in PAGES} == before


def test_what_cannot_be_read_any_more_is_reckoned_again(data: Path) -> None:
    with paired(data, today=lambda: TODAY) as desk:
        before = {page: words(desk, page) for page in PAGES}
    spoil(data, "UPDATE trip_facts SET document = CAST('{}' AS BLOB)")
    with paired(data, today=lambda: TODAY) as desk:
        assert {page: words(desk, page) for page in PAGES} == before


def test_another_currency_reckons_prices_anew(data: Path) -> None:
    """Prices of a trip in dollars are comparable while the household keeps its book in dollars."""
    assert paid_rows(data) != []

    async def change(currency: str) -> None:
        store = SqliteStore(data)
        await store.open()
        try:
            home = Home(SqliteRecords(store))
            await home.save((HouseholdSettings(currency=currency),), words="Settings", device="desk")
            await Ledger(store, SqliteFacts(store), home).refresh()
        finally:
            await store.close()

    before = paid_rows(data)
    asyncio.run(change("EUR"))
    assert paid_rows(data) == []
    asyncio.run(change("USD"))
    assert paid_rows(data) == before


def test_facts_of_a_program_that_reckoned_otherwise_are_reckoned_anew(
    data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = paid_rows(data)
    spoil(data, "UPDATE prices_seen SET each_cents = 1 WHERE source LIKE 'trip:%'")
    with paired(data, today=lambda: TODAY) as desk:
        words(desk, "/desk/larder")
    assert paid_rows(data) != before  # it is the same program: nothing tells it

    monkeypatch.setattr("counterfoil.reckoned_trips.digest_of_reckoning", lambda: "another")
    with paired(data, today=lambda: TODAY) as desk:
        words(desk, "/desk/larder")
    assert paid_rows(data) == before


def test_a_start_reckons_what_is_stale_before_anyone_asks(data: Path) -> None:
    before = paid_rows(data)
    spoil(data, "UPDATE trip_facts SET events = 99")
    spoil(data, "DELETE FROM prices_seen WHERE source LIKE 'trip:%'")
    with paired(data, today=lambda: TODAY):
        until = time.monotonic() + 20
        while paid_rows(data) != before and time.monotonic() < until:
            time.sleep(0.02)
    assert paid_rows(data) == before


def test_a_stop_in_the_middle_of_it_leaves_everything_whole(data: Path) -> None:
    before = paid_rows(data)
    spoil(data, "UPDATE trip_facts SET events = 99")
    with paired(data, today=lambda: TODAY):
        pass
    SqliteStore(data).prepare()
    with paired(data, today=lambda: TODAY) as desk:
        words(desk, "/desk/larder")
    assert paid_rows(data) == before
