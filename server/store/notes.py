"""What the household writes down itself: appended, never edited, never removed.

A note is bytes of JSON under an id that whoever writes it has made, so that a form sent twice is kept once.
What a note says of prices and stock is written in the same transaction (``facts.py``, source ``note:ID``).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Protocol, runtime_checkable

import msgspec

from .facts import PriceRow, StockRow
from .photos import Photo, keep_photo
from .sqlite import SqliteStore
from .sqlite_facts import replace_source


class WrittenNote(msgspec.Struct, frozen=True, kw_only=True):
    """A note to keep: ``document`` is its JSON; ``source`` the note whose facts ``prices`` and ``stock`` are
    ("" where it says nothing of either)."""

    id: str
    day: str
    kind: str
    document: bytes
    source: str = ""
    prices: tuple[PriceRow, ...] = ()
    stock: tuple[StockRow, ...] = ()


class StoredNote(msgspec.Struct, frozen=True, kw_only=True):
    """A note as kept; ``sequence`` is the order of arrival."""

    sequence: int
    id: str
    document: bytes
    device: str
    written_at: str


class NoteTaken(Exception):
    """The id is taken by a note that says something else."""


@runtime_checkable
class Notes(Protocol):
    """The notes, for whoever writes another store. Each method is whole or does nothing."""

    async def notes(self) -> Sequence[StoredNote]:
        """Every note, in order of arrival."""
        ...

    async def add(self, note: WrittenNote, *, device: str, photo: Photo | None = None) -> bool:
        """Keeps a note, with its photo (``photos.py``); False if just this one was kept already.

        Raises ``NoteTaken``, ``NoRoomForPhotos``.
        """
        ...


class SqliteNotes:
    """``Notes`` in the store's file."""

    def __init__(self, store: SqliteStore) -> None:
        self._store = store

    async def notes(self) -> Sequence[StoredNote]:
        """Every note, in order of arrival."""
        rows = await self._store.read(
            "SELECT sequence, id, document, device, written_at FROM notes ORDER BY sequence"
        )
        return [
            StoredNote(sequence=row[0], id=row[1], document=row[2], device=row[3], written_at=row[4])
            for row in rows
        ]

    async def add(self, note: WrittenNote, *, device: str, photo: Photo | None = None) -> bool:
        """Keeps a note, with its photo."""

        def write(connection: sqlite3.Connection) -> bool:
            kept = connection.execute("SELECT document FROM notes WHERE id = ?", (note.id,)).fetchone()
            if kept is not None:
                if kept[0] != note.document:
                    raise NoteTaken(note.id)
                return False
            if photo is not None:
                keep_photo(connection, photo, self._store.clock())
            connection.execute(
                "INSERT INTO notes (id, day, kind, document, device, written_at) VALUES (?, ?, ?, ?, ?, ?)",
                (note.id, note.day, note.kind, note.document, device, self._store.clock()),
            )
            if note.source:
                replace_source(connection, f"note:{note.source}", note.prices, note.stock)
            return True

        return await self._store.write(write)
