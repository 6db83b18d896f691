"""The key of the calendar feed: who knows it may read what is due, without a cookie, and nothing else.

A calendar program asks for an address and sends no cookie, so the address itself is the secret: 256
random bits, told once, kept as SHA-256 (as in ``keyring.py``). There is one at a time; a new one ends the
old one.
"""

from __future__ import annotations

import hashlib
import secrets
import sqlite3
from hmac import compare_digest

from .sqlite import SqliteStore

KEY_BYTES = 32
_NAME = "calendar-feed"  # in the table ``house``


class CalendarKey:
    """The feed's key in the store's file."""

    def __init__(self, store: SqliteStore) -> None:
        self._store = store

    async def make(self) -> str:
        """A new key; the one before opens nothing any more."""
        key = secrets.token_urlsafe(KEY_BYTES)

        def write(connection: sqlite3.Connection) -> None:
            connection.execute(
                "INSERT OR REPLACE INTO house (name, value) VALUES (?, ?)", (_NAME, _hash(key))
            )

        await self._store.write(write)
        return key

    async def revoke(self) -> None:
        """From now on no address opens the feed."""

        def write(connection: sqlite3.Connection) -> None:
            connection.execute("DELETE FROM house WHERE name = ?", (_NAME,))

        await self._store.write(write)

    async def is_made(self) -> bool:
        """Whether there is a feed."""
        return bool(await self._kept())

    async def opens(self, key: str) -> bool:
        """Whether this is the key."""
        kept = await self._kept()
        return bool(kept) and compare_digest(kept, _hash(key))

    async def _kept(self) -> str:
        rows = await self._store.read("SELECT value FROM house WHERE name = ?", (_NAME,))
        return rows[0][0] if rows else ""


def _hash(key: str) -> str:
    return hashlib.sha256(key.encode(errors="replace")).hexdigest()
