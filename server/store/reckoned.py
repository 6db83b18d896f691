"""Prices, stock and documents that were reckoned from trips: to compare and to throw away."""

from __future__ import annotations

import sqlite3

_OF_TRIPS = "source LIKE 'trip:%'"


def reckoned_facts(connection: sqlite3.Connection) -> list[tuple[object, ...]]:
    """Every row, in an order that two equal states share."""
    return [
        *connection.execute(
            f"SELECT * FROM prices_seen WHERE {_OF_TRIPS} ORDER BY source, product, store, day, how"
        ),
        *connection.execute(f"SELECT * FROM stock_moves WHERE {_OF_TRIPS} ORDER BY source, place"),
        *connection.execute("SELECT * FROM trip_facts ORDER BY trip"),
    ]


def forget_reckoned_facts(connection: sqlite3.Connection) -> None:
    """Throws them away: every trip is stale from then on."""
    for statement in (
        f"DELETE FROM prices_seen WHERE {_OF_TRIPS}",
        f"DELETE FROM stock_moves WHERE {_OF_TRIPS}",
        "DELETE FROM trip_facts",
    ):
        connection.execute(statement)
