"""Prices, stock and documents that were reckoned from trips and notes: to compare and to throw away."""

from __future__ import annotations

import sqlite3

from .sqlite_facts import forget_note_facts

_RECKONED = "(source LIKE 'trip:%' OR source LIKE 'note:%')"


def reckoned_facts(connection: sqlite3.Connection) -> list[tuple[object, ...]]:
    """Every row, in an order that two equal states share."""
    return [
        *connection.execute(
            f"SELECT * FROM prices_seen WHERE {_RECKONED} ORDER BY source, product, store, day, how"
        ),
        *connection.execute(f"SELECT * FROM stock_moves WHERE {_RECKONED} ORDER BY source, place"),
        *connection.execute("SELECT * FROM trip_facts ORDER BY trip"),
    ]


def forget_reckoned_facts(connection: sqlite3.Connection) -> None:
    """Throws them away: every trip is stale from then on, and every note."""
    for statement in (
        "DELETE FROM prices_seen WHERE source LIKE 'trip:%'",
        "DELETE FROM stock_moves WHERE source LIKE 'trip:%'",
        "DELETE FROM trip_facts",
        "DELETE FROM plans",
    ):
        connection.execute(statement)
    forget_note_facts(connection)
