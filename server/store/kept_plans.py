"""The proven plan of each trip, so that a server that starts again does not look for it anew.

A plan is what it was made of: the trip's content, and the planner. Where either is another, it is none.
"""

from __future__ import annotations

import sqlite3
import zlib
from typing import Protocol, runtime_checkable

from .sqlite import SqliteStore


@runtime_checkable
class KeptPlans(Protocol):
    """The plans, for whoever writes another store. They can always be made again."""

    async def plan(self, trip: str, content: str, planner: str) -> bytes | None:
        """The plan's JSON, if it is of that content and by that planner."""
        ...

    async def keep(self, trip: str, content: str, planner: str, document: bytes) -> None:
        """Keeps it in the place of the trip's last."""
        ...


class SqliteKeptPlans:
    """``KeptPlans`` in the store's file, packed: years of them are many."""

    def __init__(self, store: SqliteStore) -> None:
        self._store = store

    async def plan(self, trip: str, content: str, planner: str) -> bytes | None:
        """The plan's JSON."""
        rows = await self._store.read(
            "SELECT document FROM plans WHERE trip = ? AND content = ? AND planner = ?",
            (trip, content, planner),
        )
        return next((zlib.decompress(row[0]) for row in rows), None)

    async def keep(self, trip: str, content: str, planner: str, document: bytes) -> None:
        """Keeps it in the place of the trip's last."""
        packed = zlib.compress(document)

        def write(connection: sqlite3.Connection) -> None:
            connection.execute(
                "INSERT OR REPLACE INTO plans (trip, content, planner, document) VALUES (?, ?, ?, ?)",
                (trip, content, planner, packed),
            )

        await self._store.write(write)
