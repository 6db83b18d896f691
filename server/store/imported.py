"""Prices and stock counts that came with a batch (an import), under the source ``import-NUMBER``.

Taking the batch back sets them aside under the batch that did so; taking that one back brings them in
again, under the source of the newest.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence

import msgspec

from .facts import PriceRow, StockRow
from .sqlite import SqliteStore

# Rows that are true by themselves and are not reckoned from events or notes.
OWN = "(source = 'typed' OR source LIKE 'import-%')"


class _Facts(msgspec.Struct, frozen=True, array_like=True):
    prices: tuple[PriceRow, ...]
    stock: tuple[StockRow, ...]


def write(
    connection: sqlite3.Connection, batch: int, prices: Iterable[PriceRow], stock: Iterable[StockRow]
) -> None:
    """Writes the rows of a batch, inside the caller's transaction."""
    insert(connection, _source(batch), prices, stock)


def take_back(connection: sqlite3.Connection, batch: int, undo: int) -> None:
    """Sets the rows of a batch aside under ``undo``; where it was an undo itself, brings back its own."""
    source = _source(batch)
    facts = _Facts(
        tuple(
            PriceRow(product=row[0], store=row[1], day=row[2], cents=row[3], each_cents=row[4], how=row[5])
            for row in connection.execute(
                "SELECT product, store, day, cents, each_cents, how FROM prices_seen WHERE source = ?",
                (source,),
            )
        ),
        tuple(
            StockRow(product=row[0], day=row[1], units=row[2], how=row[3])
            for row in connection.execute(
                "SELECT product, day, units, how FROM stock_moves WHERE source = ? ORDER BY place", (source,)
            )
        ),
    )
    if facts.prices or facts.stock:
        connection.execute(
            "INSERT INTO facts_set_aside (batch, document) VALUES (?, ?)", (undo, msgspec.json.encode(facts))
        )
        connection.execute("DELETE FROM prices_seen WHERE source = ?", (source,))
        connection.execute("DELETE FROM stock_moves WHERE source = ?", (source,))
    for (document,) in list(
        connection.execute("SELECT document FROM facts_set_aside WHERE batch = ?", (batch,))
    ):
        back = msgspec.json.decode(document, type=_Facts)
        write(connection, undo, back.prices, back.stock)


def insert(
    connection: sqlite3.Connection, source: str, prices: Iterable[PriceRow], stock: Iterable[StockRow]
) -> None:
    """Adds rows to a source: counts after those that are there, a price of the same place and day over it."""
    connection.executemany(
        "INSERT OR REPLACE INTO prices_seen (product, store, day, source, cents, each_cents, how)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        ((row.product, row.store, row.day, source, row.cents, row.each_cents, row.how) for row in prices),
    )
    [(last,)] = connection.execute(
        "SELECT COALESCE(MAX(place), -1) FROM stock_moves WHERE source = ?", (source,)
    )
    connection.executemany(
        "INSERT INTO stock_moves (source, place, product, day, units, how) VALUES (?, ?, ?, ?, ?, ?)",
        (
            (source, place, row.product, row.day, row.units, row.how)
            for place, row in enumerate(stock, start=last + 1)
        ),
    )


def _source(batch: int) -> str:
    return f"import-{batch}"


class SqliteImports:
    """What of an import is there already."""

    def __init__(self, store: SqliteStore) -> None:
        self._store = store

    async def prices_kept(self, prices: Sequence[PriceRow]) -> set[int]:
        """The places of those prices that were typed or imported before, with the same cents."""
        return await self._store.look(
            lambda connection: {
                place
                for place, row in enumerate(prices)
                if list(
                    connection.execute(
                        f"SELECT 1 FROM prices_seen WHERE product = ? AND store = ? AND day = ? AND {OWN}"
                        " AND cents = ? AND each_cents = ?",
                        (row.product, row.store, row.day, row.cents, row.each_cents),
                    )
                )
            }
        )

    async def counts_kept(self, stock: Sequence[StockRow]) -> set[int]:
        """The places of those counts that were typed or imported before, with the same units."""
        return await self._store.look(
            lambda connection: {
                place
                for place, row in enumerate(stock)
                if list(
                    connection.execute(
                        f"SELECT 1 FROM stock_moves WHERE product = ? AND day = ? AND how = ? AND {OWN}"
                        " AND units = ?",
                        (row.product, row.day, row.how, row.units),
                    )
                )
            }
        )
