"""A household after years: its records, weekly tags, and trips that were walked, the same for the same sizes.

Products, coupons and offers are those of ``week_sizes.py``, made once for everything; each trip takes a
dozen wants of them. Prices are written straight into the store, as one import.
"""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from random import Random
from typing import NamedTuple

import msgspec

from counterfoil.engine.offers import ShelfPrice, Trip
from counterfoil.engine.papers import TransactionDone
from counterfoil.engine.planner import plan
from counterfoil.home.household import Staple
from counterfoil.home.kinds import Record
from counterfoil.homes import Home
from counterfoil.store.facts import StockRow
from counterfoil.store.interface import ArrivingEvent
from counterfoil.store.records import SqliteRecords
from counterfoil.store.sqlite import SqliteStore

from .week_sizes import week

TODAY = date(2026, 12, 5)
WEEK = timedelta(weeks=1)
SHAPES = 12  # different trips; the others are these on another day


class Sizes(NamedTuple):
    """How much of everything. ``offers``: coupons, percent offers, rewards, rebates and tags together."""

    products: int = 1_500
    offers: int = 2_000
    stores: int = 4
    weeks: int = 260
    trips: int = 260


def make(folder: Path, sizes: Sizes) -> None:
    """The household's data in ``folder``."""
    asyncio.run(_make(folder, sizes))


async def _make(folder: Path, sizes: Sizes) -> None:
    store = SqliteStore(folder)
    await store.open()
    try:
        home = Home(SqliteRecords(store))
        whole = _whole(sizes)
        await home.save(list(_records(whole, sizes)), words="Years of offers", device="bench")
        batch = await home.save((), words="Years of prices", device="bench", stock=list(_counts(whole)))
        await store.write(lambda connection: _prices(connection, whole, sizes, f"import-{batch}"))
        await _trips(store, whole, sizes)
    finally:
        await store.close()


def _whole(sizes: Sizes) -> Trip:
    """One week of everything: a want has about two and a half products."""
    wants = sizes.products * 2 // 5
    made = week(wants, sizes.offers // 2, sizes.offers // 20, sizes.stores, seed=5)
    return msgspec.structs.replace(made, products=made.products[: sizes.products])


def _records(whole: Trip, sizes: Sizes) -> Iterator[Record]:
    known = {product.id for product in whole.products}
    yield from whole.stores
    yield from whole.products
    offers: list[Record] = []
    offers.extend(c for c in whole.coupons if {p for a in c.asks for p in a.products} <= known)
    others = (*whole.percent_offers, *whole.rewards, *whole.rebates)
    offers.extend(offer for offer in others if set(offer.products) <= known)
    for number, tag in enumerate(tag for tag in whole.prices if tag.product in known):
        starts = TODAY + timedelta(days=number % 28 - 14)
        until = starts + timedelta(days=6)
        offers.append(msgspec.structs.replace(tag, from_date=starts.isoformat(), until=until.isoformat()))
    yield from offers[: sizes.offers]
    for number, want in enumerate(want for want in whole.wants if set(want.products) <= known):
        if number < 120:
            yield Staple(
                id=want.id,
                name=f"Staple {number}",
                products=want.products,
                stock_up_cents=want.stock_up.cents if want.stock_up else None,
                weekly_use="1",
                keep="2",
                room="12",
            )


def _counts(whole: Trip) -> Iterator[StockRow]:
    for number, product in enumerate(whole.products[:300]):
        day = TODAY - timedelta(days=number % 90)
        yield StockRow(product=product.id, day=day.isoformat(), units=number % 7, how="counted")


def _prices(connection: sqlite3.Connection, whole: Trip, sizes: Sizes, source: str) -> None:
    dice = Random(7)

    def rows() -> Iterator[tuple[object, ...]]:
        days = [(TODAY - WEEK * n).isoformat() for n in range(1, sizes.weeks + 1)]
        for product in whole.products:
            for store in whole.stores:
                usual = dice.randrange(150, 1200)
                for day in days:
                    cents = usual if dice.random() < 0.8 else usual * dice.randrange(50, 95) // 100
                    yield product.id, store.id, day, source, cents, cents, "import"

    connection.executemany(
        "INSERT INTO prices_seen (product, store, day, source, cents, each_cents, how)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        rows(),
    )


async def _trips(store: SqliteStore, whole: Trip, sizes: Sizes) -> None:
    shapes = [_shape(whole, number) for number in range(min(SHAPES, sizes.trips))]
    done = [
        [each.transaction for each in plan(shape).transactions if each.transaction.lines] for shape in shapes
    ]
    for number in range(sizes.trips):
        day = (TODAY - WEEK * (sizes.trips - number)).isoformat()
        id = f"trip-{number:03}"
        trip = msgspec.structs.replace(shapes[number % SHAPES], id=id, day=day, title=f"Week {number}")
        await store.save_trip(
            trip_id=id, version=1, title=trip.title, day=day, document=msgspec.json.encode(trip)
        )
        events = [
            ArrivingEvent(
                id=f"01943f00-0000-7{at:03x}-8000-{number:012x}",
                device="bench",
                counter=number * 100 + at + 1,
                at=f"{day}T10:00:00.000Z",
                trip=id,
                kind="transaction_done",
                payload=msgspec.json.encode(
                    TransactionDone(transaction=msgspec.structs.replace(transaction, day=day))
                ).decode(),
            )
            for at, transaction in enumerate(done[number % SHAPES])
        ]
        await store.exchange("bench", id, 0, events)


def _shape(whole: Trip, number: int) -> Trip:
    """A dozen wants of the whole at two stores, with what is on offer for them."""
    known = {product.id for product in whole.products}
    wants = [want for want in whole.wants if set(want.products) <= known][number * 12 : number * 12 + 12]
    ids = {product for want in wants for product in want.products}
    stores = whole.stores[number % 2 : number % 2 + 2]
    at = {store.id for store in stores}
    prices = [tag for tag in whole.prices if tag.product in ids and tag.store in at]
    sold = {tag.product for tag in prices}
    prices += [ShelfPrice(store=stores[0].id, product=product, cents=499) for product in sorted(ids - sold)]
    coupons = [
        coupon
        for coupon in whole.coupons
        if {p for asks in coupon.asks for p in asks.products} <= ids and set(coupon.stores) <= at
    ]
    return Trip(
        id="shape",
        title="",
        day=TODAY.isoformat(),
        stores=stores,
        products=tuple(product for product in whole.products if product.id in ids),
        prices=tuple(prices),
        wants=tuple(msgspec.structs.replace(w, need=1, welcome=max(1, w.welcome)) for w in wants),
        coupons=tuple(coupons),
        rewards=tuple(r for r in whole.rewards if set(r.products) <= ids and r.store in at),
        rebates=tuple(r for r in whole.rebates if set(r.products) <= ids),
    )
