"""A copy of what published pages are made of, so that a backup holds them: the folder itself can be lost.

The folder is the truth as long as it is there; this is only what it is made again of. Rows are documents of a
site by slug, "" for the list of its trips, as bytes that are not looked into.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Protocol, runtime_checkable

from .sqlite import SqliteStore


@runtime_checkable
class Published(Protocol):
    """The copy, for whoever writes another store."""

    async def keep(self, site: str, documents: Mapping[str, bytes]) -> None:
        """Keeps these documents of a site, and no others of it."""
        ...

    async def documents(self) -> dict[str, bytes]:
        """Those of the site that was kept last; {} where none is."""
        ...


class SqlitePublished:
    """``Published`` in the store's file."""

    def __init__(self, store: SqliteStore) -> None:
        self._store = store

    async def keep(self, site: str, documents: Mapping[str, bytes]) -> None:
        """Writes only what differs: at each start all of it is offered again."""
        if await self._store.look(lambda connection: _of_site(connection, site)) == documents:
            return
        at = self._store.clock()

        def keep(connection: sqlite3.Connection) -> None:
            kept = _of_site(connection, site)
            for slug in kept.keys() - documents.keys():
                connection.execute("DELETE FROM published WHERE site = ? AND slug = ?", (site, slug))
            connection.executemany(
                "INSERT OR REPLACE INTO published (site, slug, document, kept_at) VALUES (?, ?, ?, ?)",
                [
                    (site, slug, document, at)
                    for slug, document in documents.items()
                    if kept.get(slug) != document
                ],
            )

        await self._store.write(keep)

    async def documents(self) -> dict[str, bytes]:
        """The documents by slug."""

        def find(connection: sqlite3.Connection) -> dict[str, bytes]:
            last = connection.execute(
                "SELECT site FROM published WHERE slug = '' ORDER BY kept_at DESC, site LIMIT 1"
            ).fetchone()
            return {} if last is None else _of_site(connection, last[0])

        return await self._store.look(find)


def _of_site(connection: sqlite3.Connection, site: str) -> dict[str, bytes]:
    return dict(
        connection.execute("SELECT slug, document FROM published WHERE site = ? ORDER BY slug", (site,))
    )
