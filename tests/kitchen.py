"""A household for tests of the binder, the larder and the price book: an invented year, up to any day."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from counterfoil.engine.offers import (
    Asks,
    CentsOff,
    Coupon,
    FreeItem,
    GiftCard,
    PercentOffer,
    Product,
    RainCheck,
    Size,
    Slip,
    Store,
)
from counterfoil.home.household import Staple
from counterfoil.home.kinds import Record
from counterfoil.homes import Home
from counterfoil.store.facts import PriceRow, StockRow
from counterfoil.store.records import SqliteRecords
from counterfoil.store.sqlite import SqliteStore
from counterfoil.store.sqlite_facts import SqliteFacts

TODAY = "2026-11-26"
# Long before anything that a test does.
TYPED_AT = datetime(2020, 1, 1, tzinfo=UTC)

ALDER = Store(id="alder", name="Alder Row Grocers")
BIRCH = Store(id="birch", name="Birchwell Market")
TOWELS = Product(
    id="towels-12",
    description="Dabwick paper towels, 12 rolls",
    size=Size(amount="12", unit="roll"),
    pieces=12,
)
TOWELS_SMALL = Product(
    id="towels-2", description="Dabwick paper towels, 2 rolls", size=Size(amount="2", unit="roll"), pieces=2
)
OATS = Product(id="oats", description="Wickel rolled oats", size=Size(amount="18", unit="oz"))
SOAP = Product(id="soap", description="Lathrin soap, 4 bars", size=Size(amount="4", unit="bar"), pieces=4)
TOWEL_STAPLE = Staple(
    id="towels",
    name="Paper towels",
    products=("towels-12", "towels-2"),
    per="roll",
    weekly_use="3",
    keep="6",
    room="48",
    stock_up_cents="40",
)
OAT_STAPLE = Staple(id="oats", name="Oats", products=("oats",), per="oz", keep="18")
SOAP_STAPLE = Staple(id="soap", name="Soap", products=("soap",), per="bar", keep="2", room="24")


def days_before(today: str, days: int) -> str:
    """An ISO day so many days before another (after it, below zero)."""
    return (date.fromisoformat(today) - timedelta(days=days)).isoformat()


def coupon(id: str, until: str | None, **more: object) -> Coupon:
    """50 cents off one soap, unless said otherwise."""
    fields: dict[str, object] = {
        "description": f"50 cents off one Lathrin soap ({id})",
        "issuer": "manufacturer",
        "form": "insert",
        "gives": CentsOff(cents=50),
        "asks": (Asks(products=("soap",)),),
        "until": until,
    }
    return Coupon(id=id, **(fields | more))  # type: ignore[arg-type]  # as the struct has them


def records(today: str = TODAY) -> Sequence[Record]:
    """Everything that the household has typed in."""

    def ahead(days: int) -> str:
        return days_before(today, -days)

    return (
        ALDER,
        BIRCH,
        TOWELS,
        TOWELS_SMALL,
        OATS,
        SOAP,
        TOWEL_STAPLE,
        OAT_STAPLE,
        SOAP_STAPLE,
        coupon("soap-50", ahead(2), copies=3, where="red pouch, page 4"),
        coupon("soap-later", ahead(40), description="Buy one Lathrin soap, get one free", gives=FreeItem()),
        coupon("app", ahead(9), form="digital", description="$1.00 off Dabwick towels", stores=("alder",)),
        coupon("print", None, form="printable", description="75 cents off Wickel oats"),
        coupon(
            "old", days_before(today, 3), copies=2, description="25 cents off Wickel oats", where="drawer"
        ),
        PercentOffer(
            id="ten", store="birch", description="10 % off the whole aisle", bp=1_000, until=ahead(5)
        ),
        Slip(id="slip-alder", store="alder", cents=300, until=ahead(6)),
        GiftCard(id="card-birch", store="birch", cents=2_500),
        RainCheck(id="rain-oats", store="alder", product="oats", cents=249, units=2, until=ahead(12)),
    )


def prices(today: str = TODAY) -> list[PriceRow]:
    """Two years of weekly tags at both stores; every fifth week the towels are on sale at one of them."""
    rows: list[PriceRow] = []
    for week in range(104):
        day = days_before(today, 7 * (104 - week))
        for store, shelf, phase in (("alder", 899, 0), ("birch", 949, 2)):
            sale = week % 5 == phase
            cents = 499 + 10 * (week % 3) if sale else shelf
            rows.append(row("towels-12", store, day, shelf, cents))
            rows.append(row("oats", store, day, 349 - 40 * (week % 7 == 3), 349 - 40 * (week % 7 == 3)))
    return rows


def row(product: str, store: str, day: str, cents: int, each_cents: int, how: str = "typed") -> PriceRow:
    """A price of one pack."""
    return PriceRow(product=product, store=store, day=day, cents=cents, each_cents=each_cents, how=how)


def stock(today: str = TODAY) -> list[StockRow]:
    """Towels counted today; oats counted twice in ten weeks; soap bought and used."""

    def move(product: str, days: int, units: int, how: str) -> StockRow:
        return StockRow(product=product, day=days_before(today, days), units=units, how=how)

    return [
        move("towels-12", 0, 1, "counted"),
        move("towels-2", 0, 2, "counted"),
        move("oats", 70, 4, "counted"),
        move("oats", 30, 3, "bought"),
        move("oats", 0, 2, "counted"),
        move("soap", 42, 6, "bought"),
        move("soap", 21, -1, "used"),
        move("soap", 7, -2, "used"),
    ]


def fill(data: Path, today: str = TODAY) -> None:
    """Keeps all of it in the folder of a server that is not running."""

    async def keep() -> None:
        store = SqliteStore(data, now=lambda: TYPED_AT)
        await store.open()
        try:
            facts = SqliteFacts(store)
            await Home(SqliteRecords(store)).save(records(today), words="The household", device="desk")
            await facts.add_prices("typed", prices(today))
            await facts.add_stock("typed", stock(today))
        finally:
            await store.close()

    asyncio.run(keep())
