"""Tables to take away: everything of a kind, or an empty one to fill in, as ``intake/tables/`` reads them."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator, Iterable, Mapping, Sequence
from typing import Any

from .engine.offers import (
    Asks,
    CentsOff,
    Coupon,
    GiftCard,
    PercentOffer,
    Product,
    RainCheck,
    Rebate,
    RewardOffer,
    SetBonus,
    ShelfPrice,
    Size,
    Slip,
    Store,
    Tier,
)
from .home.household import Staple
from .home.tables import PRICE_HISTORY, STOCK, TABLE_TYPES, PriceOnADay, StockCount
from .homes import Snapshot
from .intake.tables.cells import Currency
from .intake.tables.delimited import write_rows, write_table
from .intake.tables.records import heading_of, row_of
from .store.facts import Facts, PriceRow, StockRow

PRODUCTS_AT_ONCE = 20  # of a history; each has a thousand prices after years

# One of each kind, which name each other; invented.
EXAMPLES: Mapping[str, Any] = {
    "store": Store(id="alder", name="Alder Row Grocers", region="north"),
    "product": Product(
        id="oats-500",
        description="Wickel rolled oats, 500 g",
        category="cereal",
        size=Size(amount="500", unit="g"),
    ),
    "price": ShelfPrice(
        store="alder",
        product="oats-500",
        cents=249,
        regular_cents=349,
        kind="sale",
        from_date="2026-12-01",
        until="2026-12-07",
        place="Aisle 3",
    ),
    "coupon": Coupon(
        id="oats-50",
        description="50 cents off one Wickel oats",
        issuer="manufacturer",
        form="insert",
        gives=CentsOff(cents=50),
        asks=(Asks(products=("oats-500",)),),
        copies=2,
        until="2026-12-31",
        where="blue folder",
    ),
    "percent_offer": PercentOffer(
        id="cereal-20", store="alder", description="20% off oats", bp=2000, products=("oats-500",)
    ),
    "reward": RewardOffer(
        id="oats-reward",
        store="alder",
        description="Buy 2 oats, get a 1.00 slip",
        kind="slip",
        tiers=(Tier(threshold=2, cents=100),),
        products=("oats-500",),
    ),
    "rebate": Rebate(id="oats-back", description="75 cents back on oats", cents=75, products=("oats-500",)),
    "set_bonus": SetBonus(
        id="breakfast-set", description="Both rebates", cents=100, rebates=("oats-back", "milk-back")
    ),
    "slip": Slip(id="slip-1", store="alder", cents=400, until="2026-12-19"),
    "gift_card": GiftCard(id="card-1", store="alder", cents=2500),
    "rain_check": RainCheck(
        id="rain-1", store="alder", product="oats-500", cents=199, units=2, until="2026-12-31"
    ),
    "staple": Staple(
        id="oats",
        name="Oats",
        products=("oats-500",),
        per="g",
        stock_up_cents="0.5",
        weekly_use="250",
        keep="500",
    ),
    "price_history": PriceOnADay(product="oats-500", store="alder", day="2026-11-28", cents=299),
    "stock": StockCount(product="oats-500", day="2026-12-05", units=3),
}


def example_table(kind: str, currency: Currency) -> bytes:
    """All columns of a kind and one example row."""
    return write_table(heading_of(TABLE_TYPES[kind]), [row_of(EXAMPLES[kind], currency)])


def table_of(kind: str, snapshot: Snapshot, stock: Sequence[StockRow], currency: Currency) -> bytes:
    """Every record of a kind, by id; of ``stock``, each product's counts."""
    if kind == STOCK:
        counts = {
            (row.product, row.day): StockCount(product=row.product, day=row.day, units=row.units)
            for row in stock
            if row.how == "counted"
        }
        return _table(kind, counts.values(), currency)
    return _table(kind, snapshot.records[kind].values(), currency)


async def history_parts(
    facts: Facts, products: Sequence[str], currency: Currency
) -> AsyncGenerator[bytes, None]:
    """The price history as a table, in parts: a few products at a time, each by day. A price that was seen
    in several ways on a day stands there once."""
    yield _table(PRICE_HISTORY, (), currency)
    for first in range(0, len(products), PRODUCTS_AT_ONCE):
        prices = await facts.prices_of(*products[first : first + PRODUCTS_AT_ONCE])
        rows = await asyncio.to_thread(_history_rows, prices, currency)
        yield rows


def _history_rows(prices: Sequence[PriceRow], currency: Currency) -> bytes:
    known = {
        PriceOnADay(
            product=row.product,
            store=row.store,
            day=row.day,
            cents=row.cents,
            each_cents=None if row.each_cents == row.cents else row.each_cents,
        ): None
        for row in prices
    }
    return write_rows(row_of(record, currency) for record in known)


def _table(kind: str, records: Iterable[Any], currency: Currency) -> bytes:
    return write_table(heading_of(TABLE_TYPES[kind]), (row_of(record, currency) for record in records))
