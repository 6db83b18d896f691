"""The household's records (stores, products, tags, coupons, ...) and every version that they ever had.

A change comes as a batch: one form, one import, one undo. A batch is written whole or not at all, and can
be taken back as long as nobody has changed the same records since. Nothing is ever deleted: a record
that is removed is a version without a document. Documents are bytes of JSON; what the store must
know of them to find them (title, words, days) comes along with each.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Protocol, runtime_checkable

import msgspec

from . import imported
from .batches import COLUMNS, RecordChange, as_before, differs, expect, write_batch
from .facts import PriceRow, StockRow
from .sqlite import SqliteStore

MOST_WORDS = 8  # of a search; further ones are left out


class StoredRecord(msgspec.Struct, frozen=True, kw_only=True):
    """A record as it stands. ``words``: what a search looks through, in small letters. ``starts`` and
    ``ends``: ISO days, "" where it has none."""

    kind: str
    id: str
    revision: int
    title: str
    words: str
    starts: str
    ends: str
    document: bytes


class RecordVersion(msgspec.Struct, frozen=True, kw_only=True):
    """A version of a record by the batch that made it; ``document`` None: it was removed."""

    kind: str
    id: str
    revision: int
    batch: int
    document: bytes | None


class Batch(msgspec.Struct, frozen=True, kw_only=True):
    """One change that belongs together. ``takes_back``: the batch that it undid, if it is an undo;
    ``taken_back``: whether it was itself undone."""

    number: int
    at: str
    device: str
    words: str
    records: int
    takes_back: int | None
    taken_back: bool


class RecordPage(msgspec.Struct, frozen=True, kw_only=True):
    """A page of a list, and how many there are in all."""

    records: tuple[StoredRecord, ...]
    total: int


@runtime_checkable
class Records(Protocol):
    """The records, for whoever writes another store. Each method is whole or does nothing."""

    async def record(self, kind: str, id: str) -> StoredRecord | None:
        """One record, or None."""
        ...

    async def records(
        self,
        kind: str,
        *,
        search: str = "",
        by_end: bool = False,
        ends_from: str = "",
        limit: int = 50,
        offset: int = 0,
    ) -> RecordPage:
        """A page of the records of a kind: by title, or with ``by_end`` the soonest to end first.

        ``search``: every word of it must occur. ``ends_from``: leaves out what ended before that day.
        """
        ...

    async def all_records(self, *kinds: str) -> Sequence[StoredRecord]:
        """Every record of those kinds, kind by kind, by id."""
        ...

    async def versions(self, kind: str, id: str) -> Sequence[tuple[int, str, str, bytes | None]]:
        """Every version of a record, newest first: revision, when, its batch's words, document."""
        ...

    async def change(
        self,
        changes: Sequence[RecordChange],
        *,
        words: str,
        device: str,
        prices: Sequence[PriceRow] = (),
        stock: Sequence[StockRow] = (),
    ) -> int:
        """Writes a batch; its number (0 where nothing differs from what is kept).

        ``prices`` and ``stock`` of an import belong to the batch: they are written and taken back with it.
        Raises ``RecordChanged`` if a record is not in the revision that its change expects.
        """
        ...

    async def take_back(self, number: int, *, device: str) -> int:
        """Puts the records of a batch back as they were before it, as a batch of its own; its number.

        Raises ``RecordChanged`` where one was changed since, ``KeyError`` if there is no such batch.
        """
        ...

    async def batches(self, limit: int = 20) -> Sequence[Batch]:
        """The last batches, the newest first."""
        ...

    async def last_batch(self) -> int:
        """The number of the last batch, 0 before the first."""
        ...

    async def changed_since(self, batch: int) -> Sequence[RecordVersion]:
        """Every version of later batches, in their order."""
        ...

    async def begun_by(self, batch: int) -> Sequence[tuple[str, str]]:
        """Kind and id of what is there only since that batch, and would leave with it."""
        ...


class SqliteRecords:
    """``Records`` in the store's file."""

    def __init__(self, store: SqliteStore) -> None:
        self._store = store

    async def record(self, kind: str, id: str) -> StoredRecord | None:
        """One record, or None."""
        rows = await self._store.read(f"SELECT {COLUMNS} FROM records WHERE kind = ? AND id = ?", (kind, id))
        return next((_stored(row) for row in rows), None)

    async def records(
        self,
        kind: str,
        *,
        search: str = "",
        by_end: bool = False,
        ends_from: str = "",
        limit: int = 50,
        offset: int = 0,
    ) -> RecordPage:
        """A page of the records of a kind."""
        where, values = ["kind = ?"], [kind]
        for word in search.lower().split()[:MOST_WORDS]:
            where.append("instr(words, ?) > 0")
            values.append(word)
        if ends_from:
            where.append("(ends = '' OR ends >= ?)")
            values.append(ends_from)
        wanted = " AND ".join(where)
        # What never ends comes after everything that does.
        order = "ends = '', ends, id" if by_end else "title COLLATE NOCASE, id"
        [(total,)] = await self._store.read(f"SELECT COUNT(*) FROM records WHERE {wanted}", values)
        rows = await self._store.read(
            f"SELECT {COLUMNS} FROM records WHERE {wanted} ORDER BY {order} LIMIT ? OFFSET ?",
            (*values, limit, offset),
        )
        return RecordPage(records=tuple(_stored(row) for row in rows), total=total)

    async def all_records(self, *kinds: str) -> Sequence[StoredRecord]:
        """Every record of those kinds."""
        marks = ", ".join("?" * len(kinds))
        rows = await self._store.read(
            f"SELECT {COLUMNS} FROM records WHERE kind IN ({marks}) ORDER BY kind, id", kinds
        )
        return [_stored(row) for row in rows]

    async def versions(self, kind: str, id: str) -> Sequence[tuple[int, str, str, bytes | None]]:
        """Every version of a record, the newest first."""
        rows = await self._store.read(
            "SELECT revision, at, batches.words, document FROM record_versions"
            " JOIN batches ON number = batch WHERE kind = ? AND id = ? ORDER BY revision DESC",
            (kind, id),
        )
        return [(row[0], row[1], row[2], row[3]) for row in rows]

    async def change(
        self,
        changes: Sequence[RecordChange],
        *,
        words: str,
        device: str,
        prices: Sequence[PriceRow] = (),
        stock: Sequence[StockRow] = (),
    ) -> int:
        """Writes a batch; its number."""

        def write(connection: sqlite3.Connection) -> int:
            differing = [change for change in changes if differs(connection, change)]
            if not differing and not prices and not stock:
                return 0
            number = write_batch(connection, differing, self._store.clock(), device, words)
            imported.write(connection, number, prices, stock)
            return number

        return await self._store.write(write)

    async def take_back(self, number: int, *, device: str) -> int:
        """Undoes a batch by another."""

        def write(connection: sqlite3.Connection) -> int:
            found = list(connection.execute("SELECT words FROM batches WHERE number = ?", (number,)))
            if not found:
                raise KeyError(number)
            changes = list(as_before(connection, number))
            for change in changes:
                expect(connection, change)
            undo = write_batch(
                connection,
                changes,
                self._store.clock(),
                device,
                f"Taken back: {found[0][0]}",
                takes_back=number,
            )
            imported.take_back(connection, number, undo)
            return undo

        return await self._store.write(write)

    async def batches(self, limit: int = 20) -> Sequence[Batch]:
        """The last batches, the newest first."""
        rows = await self._store.read(
            "SELECT number, at, device, words,"
            " (SELECT COUNT(*) FROM record_versions WHERE batch = number), takes_back,"
            " EXISTS (SELECT 1 FROM batches AS later WHERE later.takes_back = batches.number)"
            " FROM batches ORDER BY number DESC LIMIT ?",
            (limit,),
        )
        return [
            Batch(
                number=row[0],
                at=row[1],
                device=row[2],
                words=row[3],
                records=row[4],
                takes_back=row[5],
                taken_back=bool(row[6]),
            )
            for row in rows
        ]

    async def last_batch(self) -> int:
        """The number of the last batch."""
        [(number,)] = await self._store.read("SELECT COALESCE(MAX(number), 0) FROM batches")
        return int(number)

    async def changed_since(self, batch: int) -> Sequence[RecordVersion]:
        """Every version of later batches."""
        rows = await self._store.read(
            "SELECT kind, id, revision, batch, document FROM record_versions WHERE batch > ?"
            " ORDER BY batch, kind, id",
            (batch,),
        )
        return [
            RecordVersion(kind=row[0], id=row[1], revision=row[2], batch=row[3], document=row[4])
            for row in rows
        ]

    async def begun_by(self, batch: int) -> Sequence[tuple[str, str]]:
        """Kind and id of what is there only since that batch."""
        rows = await self._store.read(
            "SELECT now.kind, now.id FROM record_versions AS now LEFT JOIN record_versions AS before"
            " ON before.kind = now.kind AND before.id = now.id AND before.revision = now.revision - 1"
            " WHERE now.batch = ? AND now.document IS NOT NULL AND before.document IS NULL",
            (batch,),
        )
        return [(row[0], row[1]) for row in rows]


def _stored(row: Sequence[object]) -> StoredRecord:
    return msgspec.convert(dict(zip(StoredRecord.__struct_fields__, row, strict=True)), StoredRecord)
