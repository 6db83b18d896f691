"""Prices, stock and each trip's facts in the store's file (``facts.py`` says what they are)."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any

from .facts import NoteFacts, PriceHead, PriceRow, StockRow, TripState
from .sqlite import SqliteStore

# On one day: what trips brought, what notes say, then what was typed, each in the order in which it came.
_ON_ONE_DAY = "source = 'typed', source LIKE 'note:%', source, place"
_NOTES_RECKONED_AS = "notes_reckoned_as"  # in the table of what is ours alone


class SqliteFacts:
    """``Facts`` in the store's file."""

    def __init__(self, store: SqliteStore) -> None:
        self._store = store

    async def trip_states(self, reckoned_as: str) -> Sequence[TripState]:
        """Every trip in the order of their days."""
        rows = await self._store.read(
            "SELECT trips.id, trips.content, COALESCE(trip_progress.events, 0) AS heard,"
            " trip_facts.trip IS NULL OR trip_facts.content <> trips.content"
            " OR trip_facts.events <> COALESCE(trip_progress.events, 0) OR trip_facts.reckoned_as <> ?"
            " FROM trips LEFT JOIN trip_progress ON trip_progress.trip = trips.id"
            " LEFT JOIN trip_facts ON trip_facts.trip = trips.id ORDER BY trips.day, trips.id",
            (reckoned_as,),
        )
        return [TripState(id=row[0], content=row[1], events=row[2], stale=bool(row[3])) for row in rows]

    async def keep_trip_facts(
        self,
        trip: TripState,
        reckoned_as: str,
        document: bytes,
        prices: Sequence[PriceRow],
        stock: Sequence[StockRow],
    ) -> None:
        """Replaces all that came from a trip."""

        def write(connection: sqlite3.Connection) -> None:
            replace_source(connection, f"trip:{trip.id}", prices, stock)
            connection.execute(
                "INSERT OR REPLACE INTO trip_facts (trip, content, events, reckoned_as, document)"
                " VALUES (?, ?, ?, ?, ?)",
                (trip.id, trip.content, trip.events, reckoned_as, document),
            )

        await self._store.write(write)

    async def trip_facts(self, *trips: str) -> Mapping[str, bytes]:
        """The documents kept of those trips, by trip."""
        marks = ", ".join("?" * len(trips))
        return dict(
            await self._store.read(f"SELECT trip, document FROM trip_facts WHERE trip IN ({marks})", trips)
        )

    async def notes_reckoned_as(self) -> str:
        """How the facts of all notes were last reckoned."""
        rows = await self._store.read("SELECT value FROM house WHERE name = ?", (_NOTES_RECKONED_AS,))
        return next((row[0] for row in rows), "")

    async def keep_note_facts(self, reckoned_as: str, notes: int, found: NoteFacts) -> bool:
        """Replaces all that came from notes."""

        def write(connection: sqlite3.Connection) -> bool:
            [(here,)] = connection.execute("SELECT COUNT(*) FROM notes")
            if here != notes:
                return False
            forget_note_facts(connection)
            for note, (prices, stock) in found.items():
                replace_source(connection, f"note:{note}", prices, stock)
            connection.execute(
                "INSERT INTO house (name, value) VALUES (?, ?)", (_NOTES_RECKONED_AS, reckoned_as)
            )
            return True

        return await self._store.write(write)

    async def replace(self, source: str, prices: Sequence[PriceRow], stock: Sequence[StockRow]) -> None:
        """Replaces all that came from a source."""
        await self._store.write(lambda connection: replace_source(connection, source, prices, stock))

    async def add_prices(self, source: str, prices: Sequence[PriceRow]) -> int:
        """Adds to a source; how many were new."""

        def write(connection: sqlite3.Connection) -> int:
            before = connection.execute("SELECT COUNT(*) FROM prices_seen").fetchone()[0]
            _insert_prices(connection, source, prices)
            return int(connection.execute("SELECT COUNT(*) FROM prices_seen").fetchone()[0] - before)

        return await self._store.write(write)

    async def prices_of(self, *products: str, since: str = "") -> Sequence[PriceRow]:
        """The history of those products, by day, then store."""
        marks = ", ".join("?" * len(products))
        rows = await self._store.read(
            "SELECT product, store, day, cents, each_cents, how FROM prices_seen"
            f" WHERE product IN ({marks}) AND day >= ? ORDER BY day, store, product, how",
            (*products, since),
        )
        return [_price(row) for row in rows]

    async def price_heads(
        self, products: Sequence[str], since: str, until: str = "9999-12-31"
    ) -> Sequence[PriceHead]:
        """What a list tells of each of those products that has a price until that day."""
        if not products:
            return []
        marks = ", ".join("?" * len(products))
        # SQLite takes the other columns from the row that has the maximum: the last day's cheapest.
        rows = await self._store.read(
            "SELECT product, SUM(day >= ?1), MIN(CASE WHEN day >= ?1 THEN each_cents END), MIN(each_cents),"
            " MAX(day || printf('%08d', 99999999 - each_cents)), day, each_cents, store"
            f" FROM prices_seen WHERE day <= ?2 AND product IN ({marks}) GROUP BY product",
            (since, until, *products),
        )
        return [
            PriceHead(
                product=row[0],
                prices=row[1],
                lowest_cents=row[3] if row[2] is None else row[2],
                last_day=row[5],
                last_cents=row[6],
                last_store=row[7],
            )
            for row in rows
        ]

    async def add_stock(self, source: str, stock: Sequence[StockRow]) -> None:
        """Adds to a source's moves."""

        def write(connection: sqlite3.Connection) -> None:
            [(last,)] = connection.execute(
                "SELECT COALESCE(MAX(place), -1) FROM stock_moves WHERE source = ?", (source,)
            )
            _insert_stock(connection, source, stock, last + 1)

        await self._store.write(write)

    async def recent_stock(self, since: str) -> Sequence[StockRow]:
        """Of every product the moves from its last count on or before ``since``, or all."""
        rows = await self._store.read(
            "WITH counted AS (SELECT product, MAX(day) AS day FROM stock_moves"
            " WHERE how = 'counted' AND day <= ? GROUP BY product),"
            " known AS (SELECT DISTINCT product FROM stock_moves)"
            " SELECT moves.product, moves.day, moves.units, moves.how"
            " FROM known LEFT JOIN counted ON counted.product = known.product CROSS JOIN stock_moves AS moves"
            " ON moves.product = known.product AND moves.day >= COALESCE(counted.day, '')"
            f" ORDER BY moves.day, {_ON_ONE_DAY}",
            (since,),
        )
        return [_move(row) for row in rows]

    async def stock_of(self, *products: str) -> Sequence[StockRow]:
        """The moves of those products, by day."""
        marks = ", ".join("?" * len(products))
        rows = await self._store.read(
            f"SELECT product, day, units, how FROM stock_moves WHERE product IN ({marks})"
            f" ORDER BY day, {_ON_ONE_DAY}",
            products,
        )
        return [_move(row) for row in rows]

    async def all_stock(self) -> Sequence[StockRow]:
        """Every move, product by product, by day."""
        rows = await self._store.read(
            f"SELECT product, day, units, how FROM stock_moves ORDER BY product, day, {_ON_ONE_DAY}"
        )
        return [_move(row) for row in rows]


def forget_note_facts(connection: sqlite3.Connection) -> None:
    """Throws away what came from notes, inside the caller's transaction: it is reckoned again."""
    connection.execute("DELETE FROM prices_seen WHERE source LIKE 'note:%'")
    connection.execute("DELETE FROM stock_moves WHERE source LIKE 'note:%'")
    connection.execute("DELETE FROM house WHERE name = ?", (_NOTES_RECKONED_AS,))


def replace_source(
    connection: sqlite3.Connection, source: str, prices: Sequence[PriceRow], stock: Sequence[StockRow]
) -> None:
    """Replaces all that came from a source, inside the caller's transaction."""
    connection.execute("DELETE FROM prices_seen WHERE source = ?", (source,))
    connection.execute("DELETE FROM stock_moves WHERE source = ?", (source,))
    _insert_prices(connection, source, prices)
    _insert_stock(connection, source, stock, 0)


def _insert_stock(
    connection: sqlite3.Connection, source: str, stock: Sequence[StockRow], first_place: int
) -> None:
    connection.executemany(
        "INSERT INTO stock_moves (source, place, product, day, units, how) VALUES (?, ?, ?, ?, ?, ?)",
        (
            (source, place, row.product, row.day, row.units, row.how)
            for place, row in enumerate(stock, first_place)
        ),
    )


def _insert_prices(connection: sqlite3.Connection, source: str, prices: Sequence[PriceRow]) -> None:
    connection.executemany(
        "INSERT OR REPLACE INTO prices_seen (product, store, day, source, cents, each_cents, how)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        ((row.product, row.store, row.day, source, row.cents, row.each_cents, row.how) for row in prices),
    )


def _price(row: Sequence[Any]) -> PriceRow:
    # Written out: a page reads ten thousand of these, and msgspec's conversion takes ten times as long.
    return PriceRow(product=row[0], store=row[1], day=row[2], cents=row[3], each_cents=row[4], how=row[5])


def _move(row: Sequence[Any]) -> StockRow:
    return StockRow(product=row[0], day=row[1], units=row[2], how=row[3])
