"""The binder's and the larder's pages over a large household: 1,500 products and five years of trips.

    python -m tests.bench.household_bench [TRIPS]

Every trip is the demo's week, gone through the register as planned. Each trip's purchases are priced once
after a start of the server; that and the first page are told apart from the pages after it.
"""

from __future__ import annotations

import asyncio
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import msgspec

from counterfoil.engine.offers import Product, ShelfPrice, Size, Store, Trip
from counterfoil.engine.papers import Report, TransactionDone
from counterfoil.engine.planner import plan
from counterfoil.home.household import Staple
from counterfoil.home.kinds import Record
from counterfoil.homes import Home
from counterfoil.store.facts import PriceRow, StockRow
from counterfoil.store.interface import ArrivingEvent
from counterfoil.store.records import SqliteRecords
from counterfoil.store.sqlite import SqliteStore
from counterfoil.store.sqlite_facts import SqliteFacts
from tests.bench.machine import machine, percentile, table
from tests.kitchen import TODAY, coupon, days_before
from tests.served import ROOT
from tests.server.conftest import paired

PRODUCTS, STAPLES, COUPONS, TRIPS = 1_500, 250, 400, 260
PAGES = (
    "/desk/binder",
    "/desk/calendar",
    "/desk/larder",
    "/desk/larder/count",
    "/desk/larder/staples/staple-7",
    "/desk/larder/prices",
    "/desk/larder/prices/staples/staple-7",
    "/desk/larder/prices/products/product-7",
    "/desk/larder/prices/products/product-7?every=yes",
    "/desk/settings",
)
TIMES = 20
BUDGET_MS = 200


def records() -> list[Record]:
    """Products, staples of three products each, a tag for each product, coupons past and to come."""
    products = [
        Product(id=f"product-{n}", description=f"Product {n}", size=Size(amount=str(n % 40 + 1), unit="oz"))
        for n in range(PRODUCTS)
    ]
    staples = [
        Staple(
            id=f"staple-{n}",
            name=f"Staple {n}",
            products=tuple(f"product-{3 * n + k}" for k in range(3)),
            per="oz",
        )
        for n in range(STAPLES)
    ]
    soap = Product(id="soap", description="Soap")
    tags = [
        ShelfPrice(store="store-0", product=each.id, cents=299, until=days_before(TODAY, n % 400 - 20))
        for n, each in enumerate(products)
    ]
    coupons = [coupon(f"coupon-{n}", days_before(TODAY, n - 200)) for n in range(COUPONS)]
    stores = [Store(id=f"store-{n}", name=f"Store {n}") for n in range(3)]
    return [*stores, *products, soap, *staples, *tags, *coupons]


def facts() -> Iterator[tuple[str, list[PriceRow], list[StockRow]]]:
    """For each week of five years 120 tags at each of three stores and 40 purchases; a count now and then."""
    for week in range(260):
        day = days_before(TODAY, 7 * (260 - week))
        prices = [
            PriceRow(
                product=f"product-{(n * 7 + week) % 120 if n % 2 else (n + week * 120) % PRODUCTS}",
                store=f"store-{store}",
                day=day,
                cents=300 + n,
                each_cents=300 + n - 60 * (week % 5 == store),
                how="tag",
            )
            for store in range(3)
            for n in range(120)
        ]
        stock = [
            StockRow(product=f"product-{(n + week * 40) % (3 * STAPLES)}", day=day, units=2, how="bought")
            for n in range(40)
        ]
        if week % 13 == 0:
            stock += [
                StockRow(product=f"product-{n}", day=day, units=n % 3, how="counted")
                for n in range(3 * STAPLES)
            ]
        yield f"import-{week}", prices, stock


async def fill(data: Path, trips: int) -> None:
    """Keeps all of it."""
    week = msgspec.json.decode((ROOT / "demo" / "trip.json").read_bytes(), type=Trip)
    done: list[Report] = [TransactionDone(transaction=each.transaction) for each in plan(week).transactions]
    store = SqliteStore(data)
    await store.open()
    try:
        kept = SqliteFacts(store)
        await Home(SqliteRecords(store)).save(records(), words="The household", device="desk")
        for source, prices, stock in facts():
            await kept.replace(source, prices, stock)
        for number in range(trips):
            day = (date.fromisoformat(TODAY) - timedelta(weeks=trips - number)).isoformat()
            trip = msgspec.structs.replace(week, id=f"week-{number}")
            await store.save_trip(
                trip_id=trip.id, version=1, title=trip.title, day=day, document=msgspec.json.encode(trip)
            )
            await store.exchange(
                "phone", trip.id, 0, [_event(trip.id, n, each) for n, each in enumerate(done)]
            )
    finally:
        await store.close()


def _event(trip: str, number: int, report: Report) -> ArrivingEvent:
    return ArrivingEvent(
        id=f"{trip}-{number:03}",
        device="phone",
        counter=number,
        at="2026-11-01T10:00:00Z",
        trip=trip,
        kind="transaction_done",
        payload=msgspec.json.encode(report).decode(),
    )


def measured(client: Any, address: str) -> float:
    """Milliseconds to the whole answer."""
    begun = time.perf_counter()
    answer = client.get(address, headers={"Accept": "text/html"})
    assert answer.status_code == 200, answer.text
    return (time.perf_counter() - begun) * 1000


def main() -> None:
    trips = int(sys.argv[1]) if len(sys.argv) > 1 else TRIPS
    print(machine())
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        asyncio.run(fill(data, trips))
        for start in ("first start", "next start"):
            with paired(data, today=lambda: TODAY) as client:
                first = {page: measured(client, page) for page in PAGES}
                rows: list[tuple[object, ...]] = [
                    (
                        page,
                        f"{first[page]:.0f}",
                        *_p50_p95([measured(client, page) for _ in range(TIMES)]),
                        BUDGET_MS,
                    )
                    for page in PAGES
                ]
            print(f"\n{start}: {PRODUCTS} products, {trips} trips; milliseconds")
            print(table(("page", "first", "p50", "p95", "budget"), rows))


def _p50_p95(times: list[float]) -> tuple[str, str]:
    return f"{percentile(times, 0.5):.0f}", f"{percentile(times, 0.95):.0f}"


if __name__ == "__main__":
    main()
