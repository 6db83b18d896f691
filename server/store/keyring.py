"""Who may come in, kept in the household's database.

A key is 256 random bits and is told to its device once; a pairing code is ten letters that a
person can type and lives for minutes. Both are found by their SHA-256, so that the file alone
opens nothing and the time that a search takes says nothing about a key.
"""

from __future__ import annotations

import hashlib
import secrets
import sqlite3
from collections.abc import Callable, Sequence
from time import time

import msgspec

from . import senders
from .interface import Device, Role
from .sqlite import SqliteStore

# Without 0/O and 1/I/L: 31 letters, so ten of them are 49 bits, against minutes and a rate limit.
CODE_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
CODE_LENGTH = 10
KEY_BYTES = 32
LONGEST_NAME = 60  # characters of a device's name

_COLUMNS = "id, role, name, paired_at, last_seen, revoked_at"


class SqliteKeyring:
    """``Keyring`` (see ``interface.py``) in the store's file; ``seconds_now`` can be another in tests."""

    def __init__(self, store: SqliteStore, *, seconds_now: Callable[[], float] = time) -> None:
        self._store = store
        self._seconds_now = seconds_now

    async def make_code(self, role: Role, seconds: int) -> str:
        """A new code; dead ones are swept out on the way."""
        code = "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))
        now = int(self._seconds_now())

        def make(connection: sqlite3.Connection) -> None:
            connection.execute("DELETE FROM pairing_codes WHERE ends_at <= ?", (now,))
            connection.execute(
                "INSERT INTO pairing_codes (code_hash, role, ends_at) VALUES (?, ?, ?)",
                (_hash(code), role, now + seconds),
            )

        await self._store.write(make)
        return code

    async def redeem(self, code: str, name: str, *, instead_of: str = "") -> tuple[str, Device] | None:
        """A key for the code, which dies by it, in one transaction: two at once get one key."""
        key = secrets.token_urlsafe(KEY_BYTES)
        device_id = secrets.token_hex(4)
        now = int(self._seconds_now())

        def redeem(connection: sqlite3.Connection) -> Device | None:
            found = list(
                connection.execute(
                    "DELETE FROM pairing_codes WHERE code_hash = ? RETURNING role, ends_at",
                    (_hash(plain_code(code)),),
                )
            )
            if not found or found[0][1] <= now:
                return None
            clock = self._store.clock()
            device = Device(
                id=device_id, role=found[0][0], name=name, paired_at=clock, last_seen=clock, revoked_at=""
            )
            connection.execute(
                f"INSERT INTO devices (key_hash, {_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?)",
                (_hash(key), *msgspec.structs.astuple(device)),
            )
            if instead_of:
                senders.pass_on(connection, instead_of, device_id, clock)
            return device

        device = await self._store.write(redeem)
        return None if device is None else (key, device)

    async def device_of(self, key: str) -> Device | None:
        """Whose key it is."""
        wanted = _hash(key)
        rows = await self._store.read(
            f"SELECT key_hash, {_COLUMNS} FROM devices WHERE key_hash = ?", (wanted,)
        )
        for key_hash, *fields in rows:
            if secrets.compare_digest(key_hash, wanted):
                return _device(fields)
        return None

    async def seen(self, device: Device) -> bool:
        """Notes the hour; writes nothing when it is noted already."""
        hour = self._store.clock()[:13]
        if device.last_seen[:13] == hour:
            return False

        def note(connection: sqlite3.Connection) -> None:
            connection.execute(
                "UPDATE devices SET last_seen = ? WHERE id = ?", (self._store.clock(), device.id)
            )

        await self._store.write(note)
        return True

    async def devices(self) -> Sequence[Device]:
        """All devices, the newest first."""
        # Two may be paired in one second.
        rows = await self._store.read(f"SELECT {_COLUMNS} FROM devices ORDER BY paired_at DESC, rowid DESC")
        return [_device(row) for row in rows]

    async def revoke(self, device_id: str) -> bool:
        """Revokes; the row stays, to be seen."""

        def revoke(connection: sqlite3.Connection) -> bool:
            done = connection.execute(
                "UPDATE devices SET revoked_at = ? WHERE id = ? AND revoked_at = ''",
                (self._store.clock(), device_id),
            )
            return done.rowcount == 1

        return await self._store.write(revoke)

    async def has_owner(self) -> bool:
        """Whether anybody can pair and revoke."""
        return bool(
            await self._store.read("SELECT 1 FROM devices WHERE role = 'owner' AND revoked_at = '' LIMIT 1")
        )


def plain_code(typed: str) -> str:
    """A code as it was made, however it was typed: small letters, hyphens, spaces."""
    return "".join(letter for letter in typed.upper() if letter in CODE_LETTERS)


def readable_code(code: str) -> str:
    """A code for people: two halves."""
    return f"{code[: CODE_LENGTH // 2]}-{code[CODE_LENGTH // 2 :]}"


def _hash(secret: str) -> bytes:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).digest()


def _device(fields: Sequence[object]) -> Device:
    return msgspec.convert(dict(zip(Device.__struct_fields__, fields, strict=True)), Device)
