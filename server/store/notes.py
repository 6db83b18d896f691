"""What the household writes down itself, and photos of its receipts: appended, never edited, never removed.

A note is bytes of JSON under an id that whoever writes it has made, so that a form sent twice is kept once.
What a note says of prices and stock is written in the same transaction (``facts.py``, source ``note:ID``).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Protocol, runtime_checkable

import msgspec

from .facts import PriceRow, StockRow, replace_source
from .sqlite import SqliteStore

MOST_PHOTO_BYTES = 2_000_000_000  # of all photos together; some 2,000 receipts


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


class Photo(msgspec.Struct, frozen=True, kw_only=True):
    """A kept photo: ``id`` is the SHA-256 of ``jpeg`` (hex)."""

    id: str
    jpeg: bytes
    width: int
    height: int


class NoteTaken(Exception):
    """The id is taken by a note that says something else."""


class NoRoomForPhotos(Exception):
    """All photos together would be more than ``MOST_PHOTO_BYTES``."""


@runtime_checkable
class Notes(Protocol):
    """Notes and photos, for whoever writes another store. Each method is whole or does nothing."""

    async def notes(self) -> Sequence[StoredNote]:
        """Every note, in order of arrival."""
        ...

    async def add(self, note: WrittenNote, *, device: str, photo: Photo | None = None) -> bool:
        """Keeps a note, with its photo; False if just this one was kept already.

        Raises ``NoteTaken``, ``NoRoomForPhotos``.
        """
        ...

    async def photo(self, photo_id: str) -> Photo | None:
        """One photo, or None."""
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
                _keep_photo(connection, photo, self._store.clock())
            connection.execute(
                "INSERT INTO notes (id, day, kind, document, device, written_at) VALUES (?, ?, ?, ?, ?, ?)",
                (note.id, note.day, note.kind, note.document, device, self._store.clock()),
            )
            if note.source:
                replace_source(connection, f"note:{note.source}", note.prices, note.stock)
            return True

        return await self._store.write(write)

    async def photo(self, photo_id: str) -> Photo | None:
        """One photo, or None."""
        rows = await self._store.read(
            "SELECT id, jpeg, width, height FROM receipt_photos WHERE id = ?", (photo_id,)
        )
        return next((Photo(id=row[0], jpeg=row[1], width=row[2], height=row[3]) for row in rows), None)


def _keep_photo(connection: sqlite3.Connection, photo: Photo, now: str) -> None:
    if connection.execute("SELECT 1 FROM receipt_photos WHERE id = ?", (photo.id,)).fetchone():
        return
    [(held,)] = connection.execute("SELECT COALESCE(SUM(LENGTH(jpeg)), 0) FROM receipt_photos")
    if held + len(photo.jpeg) > MOST_PHOTO_BYTES:
        raise NoRoomForPhotos
    connection.execute(
        "INSERT INTO receipt_photos (id, jpeg, width, height, kept_at) VALUES (?, ?, ?, ?, ?)",
        (photo.id, photo.jpeg, photo.width, photo.height, now),
    )
