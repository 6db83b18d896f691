"""Photos of receipts: kept with a note, shown, and erased for good where they say too much.

Erasing leaves the id and the day, so that the note can tell it, and no byte of the picture: its pages are
overwritten with zeros (``secure_delete`` in ``sqlite.py``) and the write-ahead log is emptied. An erased
photo does not come back with an older backup or export; only she can keep the same picture anew.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Protocol, runtime_checkable

import msgspec

from .sqlite import SqliteStore

MOST_PHOTO_BYTES = 2_000_000_000  # of all photos together; some 2,000 receipts


class Photo(msgspec.Struct, frozen=True, kw_only=True):
    """A kept photo: ``id`` is the SHA-256 of ``jpeg`` (hex)."""

    id: str
    jpeg: bytes
    width: int
    height: int


class NoRoomForPhotos(Exception):
    """All photos together would be more than ``MOST_PHOTO_BYTES``."""


@runtime_checkable
class Photos(Protocol):
    """The photos, for whoever writes another store. They come in with their note (``notes.py``)."""

    async def photo(self, photo_id: str) -> Photo | None:
        """One photo, or None."""
        ...

    async def erase(self, photo_id: str, *, device: str) -> bool:
        """Takes the picture out for good; False if there is none."""
        ...

    async def erased(self) -> Mapping[str, str]:
        """When each erased photo was erased (ISO 8601, UTC), by its id."""
        ...


class SqlitePhotos:
    """``Photos`` in the store's file."""

    def __init__(self, store: SqliteStore) -> None:
        self._store = store

    async def photo(self, photo_id: str) -> Photo | None:
        """One photo, or None."""
        rows = await self._store.read(
            "SELECT id, jpeg, width, height FROM receipt_photos WHERE id = ?", (photo_id,)
        )
        return next((Photo(id=row[0], jpeg=row[1], width=row[2], height=row[3]) for row in rows), None)

    async def erase(self, photo_id: str, *, device: str) -> bool:
        """Takes the picture out for good."""
        at = self._store.clock()
        done = await self._store.write(lambda connection: erase_photo(connection, photo_id, at, device))
        if done:
            await self._store.empty_log()
        return done

    async def erased(self) -> Mapping[str, str]:
        """When each erased photo was erased."""
        return dict(await self._store.read("SELECT id, erased_at FROM photos_erased"))


def keep_photo(connection: sqlite3.Connection, photo: Photo, now: str) -> None:
    """Keeps a photo inside the caller's transaction. Raises ``NoRoomForPhotos``."""
    if connection.execute("SELECT 1 FROM receipt_photos WHERE id = ?", (photo.id,)).fetchone():
        return
    [(held,)] = connection.execute("SELECT COALESCE(SUM(LENGTH(jpeg)), 0) FROM receipt_photos")
    if held + len(photo.jpeg) > MOST_PHOTO_BYTES:
        raise NoRoomForPhotos
    connection.execute("DELETE FROM photos_erased WHERE id = ?", (photo.id,))
    connection.execute(
        "INSERT INTO receipt_photos (id, jpeg, width, height, kept_at) VALUES (?, ?, ?, ?, ?)",
        (photo.id, photo.jpeg, photo.width, photo.height, now),
    )


def erase_photo(connection: sqlite3.Connection, photo_id: str, at: str, device: str) -> bool:
    """Erases inside the caller's transaction, by a connection with ``secure_delete``; False if none is."""
    gone = connection.execute("DELETE FROM receipt_photos WHERE id = ?", (photo_id,)).rowcount == 1
    if gone:
        connection.execute(
            "INSERT OR REPLACE INTO photos_erased (id, erased_at, device) VALUES (?, ?, ?)",
            (photo_id, at, device),
        )
    return gone
