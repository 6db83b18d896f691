"""Texts that phones were handed by other programs ("share"), kept until somebody has read them.

A phone sends a text until it is told that it is kept; the same id twice is kept once, as it came first.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Protocol, runtime_checkable

import msgspec

from .sqlite import SqliteStore

_COLUMNS = "id, device, at, title, text, url, received, done_at"


class SharedText(msgspec.Struct, frozen=True, kw_only=True):
    """A text from elsewhere: ``at`` as its phone says, ``received`` and ``done_at`` ("" while it waits) as
    this server does, all in UTC."""

    id: str
    device: str
    at: str
    title: str
    text: str
    url: str
    received: str = ""
    done_at: str = ""


@runtime_checkable
class SharedTexts(Protocol):
    """The texts, for whoever writes another store."""

    async def keep(self, texts: Sequence[SharedText]) -> None:
        """Keeps those whose id is new; the others stay as they are."""
        ...

    async def waiting(self) -> Sequence[SharedText]:
        """Those that nobody has done with yet, the newest first."""
        ...

    async def text(self, id: str) -> SharedText | None:
        """One text, done with or not."""
        ...

    async def done(self, id: str) -> bool:
        """Marks a text as done with; False if there is none that waits."""
        ...


class SqliteSharedTexts:
    """``SharedTexts`` in the store's file."""

    def __init__(self, store: SqliteStore) -> None:
        self._store = store

    async def keep(self, texts: Sequence[SharedText]) -> None:
        """Keeps those whose id is new."""

        def write(connection: sqlite3.Connection) -> None:
            now = self._store.clock()
            connection.executemany(
                f"INSERT OR IGNORE INTO shared_texts ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, '')",
                ((text.id, text.device, text.at, text.title, text.text, text.url, now) for text in texts),
            )

        await self._store.write(write)

    async def waiting(self) -> Sequence[SharedText]:
        """Those that wait, the newest first."""
        rows = await self._store.read(
            f"SELECT {_COLUMNS} FROM shared_texts WHERE done_at = '' ORDER BY received DESC, at DESC, id"
        )
        return [_text(row) for row in rows]

    async def text(self, id: str) -> SharedText | None:
        """One text."""
        rows = await self._store.read(f"SELECT {_COLUMNS} FROM shared_texts WHERE id = ?", (id,))
        return next((_text(row) for row in rows), None)

    async def done(self, id: str) -> bool:
        """Marks a text as done with."""

        def write(connection: sqlite3.Connection) -> bool:
            changed = connection.execute(
                "UPDATE shared_texts SET done_at = ? WHERE id = ? AND done_at = ''", (self._store.clock(), id)
            )
            return changed.rowcount > 0

        return await self._store.write(write)


def _text(row: Sequence[object]) -> SharedText:
    return msgspec.convert(dict(zip(SharedText.__struct_fields__, row, strict=True)), SharedText)
