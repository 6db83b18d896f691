"""Bringing a table in: read and weighed against the household, then written as one batch or not at all.

Used by the Desk's page and by ``counterfoil import-table``. The work on a large file is done beside the
event loop, so that phones can sync meanwhile.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence

import msgspec

from .home.importing import (
    PRICE_HISTORY,
    STOCK,
    TABLE_KINDS,
    Preview,
    PriceOnADay,
    Rows,
    StockCount,
    read_rows,
    weigh,
)
from .homes import Home, Snapshot, key_of
from .intake.tables.cells import Currency
from .intake.tables.delimited import MOST_ROWS
from .store.facts import PriceRow, StockRow
from .store.imported import SqliteImports


class Weighed(msgspec.Struct, frozen=True, kw_only=True):
    """A file's preview and the household that it was weighed against."""

    preview: Preview
    snapshot: Snapshot


def currency_of(snapshot: Snapshot) -> Currency:
    """The household's currency, for reading and writing amounts."""
    return Currency(snapshot.settings.currency, snapshot.settings.exponent)


async def weigh_file(
    home: Home, imports: SqliteImports, data: bytes, kind: str | None, *, most_rows: int = MOST_ROWS
) -> Weighed:
    """Each row's fate. Raises ``BadInput`` where the file as a whole cannot be read."""
    snapshot = await home.snapshot()
    currency = currency_of(snapshot)
    rows = await asyncio.to_thread(read_rows, data, kind, snapshot.records, currency, most_rows=most_rows)
    prices, stock = await _facts_kept(imports, rows)
    preview = await asyncio.to_thread(
        weigh, rows, snapshot.records, snapshot.known, currency, prices_kept=prices, stock_kept=stock
    )
    return Weighed(preview=preview, snapshot=snapshot)


async def take_in(home: Home, weighed: Weighed, *, name: str, device: str) -> int:
    """Writes what is new or changed as one batch; its number, 0 where nothing is.

    Raises ``BadInput`` where a record was changed since it was weighed; then nothing is written.
    """
    preview = weighed.preview
    if not preview.writes:
        return 0
    revisions = {
        key_of(record): weighed.snapshot.revisions.get(key_of(record), 0) for record in preview.records
    }
    return await home.save(
        preview.records,
        words=words_of(preview, name),
        device=device,
        revisions=revisions,
        prices=price_rows(preview.prices),
        stock=stock_rows(preview.stock),
    )


def words_of(preview: Preview, name: str) -> str:
    """What an import is called among the changes: ``Brought in from offers.csv: 12 coupons, 1 store``."""
    written = [fate for fate in preview.fates if fate.fate in ("new", "changed")]
    counts = {kind: sum(1 for fate in written if fate.kind == kind) for kind in TABLE_KINDS}
    parts = [
        f"{count} {TABLE_KINDS[kind].one if count == 1 else _many(kind)}"
        for kind, count in counts.items()
        if count
    ]
    return f"Brought in{f' from {name}' if name else ''}: {', '.join(parts)}"


def _many(kind: str) -> str:
    return "prices seen" if kind == PRICE_HISTORY else TABLE_KINDS[kind].many


def price_rows(prices: Sequence[PriceOnADay]) -> list[PriceRow]:
    """Prices as the store keeps them."""
    return [
        PriceRow(
            product=price.product,
            store=price.store,
            day=price.day,
            cents=price.cents,
            each_cents=price.cents if price.each_cents is None else price.each_cents,
            how="import",
        )
        for price in prices
    ]


def stock_rows(stock: Sequence[StockCount]) -> list[StockRow]:
    """Counts as the store keeps them."""
    return [StockRow(product=row.product, day=row.day, units=row.units, how="counted") for row in stock]


async def _facts_kept(imports: SqliteImports, rows: Rows) -> tuple[set[PriceOnADay], set[StockCount]]:
    prices = [row.record for row in rows.rows if row.kind == PRICE_HISTORY and row.record is not None]
    stock = [row.record for row in rows.rows if row.kind == STOCK and row.record is not None]
    return (
        {prices[place] for place in await imports.prices_kept(price_rows(prices))},
        {stock[place] for place in await imports.counts_kept(stock_rows(stock))},
    )
