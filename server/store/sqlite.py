"""The store in one SQLite file, for a household or a planner with her readers.

Durable: write-ahead log with ``synchronous=FULL``, so what is acknowledged survives a power cut.
One door for writes: a whole change is one function of the one writing connection, run after
``BEGIN IMMEDIATE``, committed when it returns and rolled back when it raises. Reading goes
through a connection that was opened read-only and cannot do anything else.
"""

from __future__ import annotations

import asyncio
import hashlib
import sqlite3
from collections.abc import Awaitable, Callable, Generator, Iterable, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

import aiosqlite
import msgspec

from . import projections
from .integrity import MEND_DAMAGE, available, find_damage
from .interface import (
    PAGE_OF_EVENTS,
    ArrivingEvent,
    EventsDiffer,
    Exchange,
    StoredEvent,
    StoredTrip,
    StoreUnusable,
    TakenIn,
    TripProgress,
    VersionTaken,
)
from .migrations import migrate

FILE_NAME = "counterfoil.sqlite3"
# How long a change waits for another program to let go of the file. Longer, and the phones that queue
# behind it would give up before they are told to come back.
BUSY_TIMEOUT_MS = 2_000

T = TypeVar("T")

_EVENT_COLUMNS = "sequence, id, device, counter, at, trip, kind, payload, received"


class SqliteStore:
    """``Store`` (see ``interface.py``) in ``folder``; ``now`` tells the time and can be another in tests."""

    def __init__(self, folder: Path, *, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self.path = folder / FILE_NAME
        self._now = now
        self._writer: aiosqlite.Connection | None = None
        self._reader: aiosqlite.Connection | None = None
        self._door = asyncio.Lock()
        self._log = ""  # as read; it becomes another only while the server is stopped

    def prepare(self) -> str:
        """Makes the folder and file if need be, checks and migrates them; the secret that signs forms.

        ``open`` does so too; a command calls it first, to fail before anyone is told to come in.
        """
        with self._usable():
            self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            # What a household buys is nobody else's business; the log beside it gets the file's mode.
            self.path.touch(mode=0o600)
            with closing(sqlite3.connect(self.path, isolation_level=None)) as connection:
                for pragma in ("PRAGMA journal_mode = WAL", *_pragmas()):
                    connection.execute(pragma)
                damage = find_damage(connection)
                if damage is not None:
                    raise StoreUnusable(f"{self.path} is damaged: {damage}. {MEND_DAMAGE}")
                connection.execute("BEGIN IMMEDIATE")
                try:
                    migrate(connection, self.clock())
                except BaseException:
                    connection.execute("ROLLBACK")
                    raise
                connection.execute("COMMIT")
                [(secret,)] = connection.execute("SELECT value FROM house WHERE name = 'forms'")
                return secret

    async def open(self) -> None:
        """Prepares the file and connects to it."""
        await asyncio.to_thread(self.prepare)
        with self._usable():
            self._writer = await aiosqlite.connect(self.path, isolation_level=None)
            for pragma in _pragmas():
                await self._writer.execute(pragma)
            self._reader = await aiosqlite.connect(
                f"{self.path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None
            )
            await self._reader.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")

    async def close(self) -> None:
        """Closes both connections; the last one to go folds the log into the file."""
        reader, self._reader = self._reader, None
        writer, self._writer = self._writer, None
        for connection in (reader, writer):
            if connection is not None:
                await connection.close()

    async def trips(self) -> Sequence[TripProgress]:
        """All trips, newest day first, with what their events come to."""
        rows = await self.read(
            "SELECT id, version, title, day, content, COALESCE(events, 0), COALESCE(devices, 0),"
            " COALESCE(transactions_done, 0), COALESCE(last_heard, '')"
            " FROM trips LEFT JOIN trip_progress ON trip = id ORDER BY day DESC, id"
        )
        return [msgspec.convert(dict(zip(_PROGRESS_FIELDS, row, strict=True)), TripProgress) for row in rows]

    async def trip(self, trip_id: str) -> StoredTrip | None:
        """One trip, or None."""
        rows = await self.read(
            "SELECT id, version, title, day, content, document, saved_at FROM trips WHERE id = ?", (trip_id,)
        )
        return next((_stored_trip(row) for row in rows), None)

    async def save_trip(self, *, trip_id: str, version: int, title: str, day: str, document: bytes) -> bool:
        """Keeps a new trip or a higher version; False if just this content was kept already."""
        content = hashlib.sha256(document).hexdigest()

        async def save(connection: aiosqlite.Connection) -> bool:
            kept = list(
                await connection.execute_fetchall(
                    "SELECT version, content FROM trips WHERE id = ?", (trip_id,)
                )
            )
            if kept and kept[0][1] == content:
                return False
            if kept and version <= kept[0][0]:
                raise VersionTaken(kept[0][0])
            await connection.execute(
                _KEEP_TRIP, (trip_id, version, title, day, content, document, self.clock())
            )
            return True

        return await self.write(save)

    async def exchange(
        self, device: str, trip: str | None, cursor: int, events: Sequence[ArrivingEvent]
    ) -> Exchange:
        """Appends what is new in one transaction, and answers with what others added."""
        if not events:
            with available(self.path):
                others, reached, more = await _others(self._reading(), device, trip, cursor)
                version = await _trip_version(self._reading(), trip)
            return Exchange(
                acknowledged=(),
                unknown_trips=(),
                conflicts=(),
                others=others,
                cursor=reached,
                more=more,
                trip_version=version,
            )

        async def append(connection: aiosqlite.Connection) -> Exchange:
            known = await _known_events(connection, [event.id for event in events])
            trips_here = await _trips_here(connection, {event.trip for event in events})
            fresh: dict[str, ArrivingEvent] = {}
            acknowledged: list[str] = []
            unknown_trips: list[str] = []
            conflicts: list[str] = []
            for event in events:
                before = known.get(event.id) or fresh.get(event.id)
                if before is not None:
                    (acknowledged if _same(before, event) else conflicts).append(event.id)
                elif event.trip not in trips_here:
                    unknown_trips.append(event.id)
                else:
                    fresh[event.id] = event
                    acknowledged.append(event.id)
            if conflicts:
                return Exchange(
                    acknowledged=(),
                    unknown_trips=(),
                    conflicts=tuple(conflicts),
                    others=(),
                    cursor=cursor,
                    more=False,
                )
            await _insert(connection, fresh.values(), self.clock())
            others, reached, more = await _others(connection, device, trip, cursor)
            return Exchange(
                acknowledged=tuple(dict.fromkeys(acknowledged)),
                unknown_trips=tuple(unknown_trips),
                conflicts=(),
                others=others,
                cursor=reached,
                more=more,
                trip_version=await _trip_version(connection, trip),
            )

        return await self.write(append)

    async def events_of(self, trip_id: str) -> Sequence[StoredEvent]:
        """All events of a trip, in order of arrival."""
        rows = await self.read(
            f"SELECT {_EVENT_COLUMNS} FROM events WHERE trip = ? ORDER BY sequence", (trip_id,)
        )
        return [_stored_event(row) for row in rows]

    async def take_in(self, trips: Sequence[StoredTrip], events: Sequence[StoredEvent]) -> TakenIn:
        """Adds what another store exported, in one transaction."""

        async def take(connection: aiosqlite.Connection) -> TakenIn:
            new_trips = [await _take_trip(connection, trip) for trip in trips]
            known = await _known_events(connection, [event.id for event in events])
            differing = [e.id for e in events if e.id in known and not _same(known[e.id], e)]
            if differing:
                raise EventsDiffer(differing)
            fresh = {event.id: event for event in events if event.id not in known}
            await _insert(connection, fresh.values(), self.clock())
            return TakenIn(
                trips=sum(new_trips),
                events=len(fresh),
                trips_known=len(trips) - sum(new_trips),
                events_known=len(events) - len(fresh),
            )

        return await self.write(take)

    async def rebuild(self) -> int:
        """Reckons the projections again from the events; how many trips."""
        return await self.write(projections.rebuild)

    async def log(self) -> str:
        """Which log this is."""
        if self._log == "":
            [(self._log,)] = await self.read("SELECT value FROM house WHERE name = 'log'")
        return self._log

    async def write(self, change: Callable[[aiosqlite.Connection], Awaitable[T]]) -> T:
        """The one door: ``change`` is done wholly or not at all, even if the asker has gone away."""

        async def through_the_door() -> T:
            async with self._door:
                with available(self.path):
                    return await self._in_transaction(change)

        return await asyncio.shield(asyncio.ensure_future(through_the_door()))

    async def _in_transaction(self, change: Callable[[aiosqlite.Connection], Awaitable[T]]) -> T:
        connection = self._writing()
        await connection.execute("BEGIN IMMEDIATE")
        try:
            result = await change(connection)
            await connection.commit()
        except BaseException:
            await connection.rollback()
            raise
        return result

    async def read(self, query: str, values: Sequence[object] = ()) -> list[sqlite3.Row]:
        """What a query gives, by the connection that can only read."""
        with available(self.path):
            return list(await self._reading().execute_fetchall(query, values))

    def _writing(self) -> aiosqlite.Connection:
        if self._writer is None:
            raise RuntimeError("the store is not open")
        return self._writer

    def _reading(self) -> aiosqlite.Connection:
        if self._reader is None:
            raise RuntimeError("the store is not open")
        return self._reader

    def clock(self) -> str:
        """The time, to the second, in UTC."""
        return self._now().astimezone(UTC).isoformat(timespec="seconds")

    @contextmanager
    def _usable(self) -> Generator[None]:
        try:
            yield
        except (sqlite3.Error, OSError) as error:
            raise StoreUnusable(
                f"{self.path} cannot be used: {error}. Check that the folder can be written to and is not "
                "full. If the file is damaged, put a backup in its place (counterfoil restore FILE)."
            ) from error


_KEEP_TRIP = (
    "INSERT INTO trips (id, version, title, day, content, document, saved_at)"
    " VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO UPDATE SET version = excluded.version,"
    " title = excluded.title, day = excluded.day, content = excluded.content,"
    " document = excluded.document, saved_at = excluded.saved_at"
)


def _pragmas() -> tuple[str, ...]:
    return (
        "PRAGMA synchronous = FULL",
        "PRAGMA foreign_keys = ON",
        f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}",
    )


_PROGRESS_FIELDS = TripProgress.__struct_fields__


def _stored_trip(row: Sequence[Any]) -> StoredTrip:
    return msgspec.convert(dict(zip(StoredTrip.__struct_fields__, row, strict=True)), StoredTrip)


def _stored_event(row: Sequence[Any]) -> StoredEvent:
    return msgspec.convert(dict(zip(StoredEvent.__struct_fields__, row, strict=True)), StoredEvent)


async def _insert(
    connection: aiosqlite.Connection, fresh: Iterable[ArrivingEvent | StoredEvent], now: str
) -> None:
    """Appends events, received ``now`` or when they were elsewhere, and reckons their trips again."""
    rows = [
        (e.id, e.device, e.counter, e.at, e.trip, e.kind, e.payload, getattr(e, "received", now))
        for e in fresh
    ]
    await connection.executemany(
        "INSERT INTO events (id, device, counter, at, trip, kind, payload, received)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        rows,
    )
    for trip in sorted({row[4] for row in rows}):
        await projections.reckon(connection, trip)


async def _take_trip(connection: aiosqlite.Connection, trip: StoredTrip) -> bool:
    """Keeps a trip of an export if it is new or of a higher version; whether it did."""
    kept = list(await connection.execute_fetchall("SELECT version FROM trips WHERE id = ?", (trip.id,)))
    if kept and kept[0][0] >= trip.version:
        return False
    await connection.execute(_KEEP_TRIP, msgspec.structs.astuple(trip))
    return True


async def _others(
    connection: aiosqlite.Connection, device: str, trip: str | None, cursor: int
) -> tuple[tuple[StoredEvent, ...], int, bool]:
    """What other devices added (to ``trip``) after ``cursor``, the cursor after it, and if there is more.

    With more to come the cursor stands at the last one given; else at the end of the log, so
    that the device's own events are not searched again.
    """
    [(end,)] = await connection.execute_fetchall("SELECT COALESCE(MAX(sequence), 0) FROM events")
    after = cursor if cursor <= end else 0
    of_trip, trips = (" AND trip = ?", (trip,)) if trip is not None else ("", ())
    rows = await connection.execute_fetchall(
        f"SELECT {_EVENT_COLUMNS} FROM events WHERE sequence > ? AND sequence <= ? AND device <> ?{of_trip}"
        " ORDER BY sequence LIMIT ?",
        (after, end, device, *trips, PAGE_OF_EVENTS + 1),
    )
    events = tuple(_stored_event(row) for row in rows)
    page = events[:PAGE_OF_EVENTS]
    more = len(events) > len(page)
    return page, page[-1].sequence if more else end, more


async def _known_events(connection: aiosqlite.Connection, ids: list[str]) -> dict[str, StoredEvent]:
    rows = await connection.execute_fetchall(
        f"SELECT {_EVENT_COLUMNS} FROM events WHERE id IN (SELECT value FROM json_each(?))",
        (msgspec.json.encode(ids).decode(),),
    )
    events = (_stored_event(row) for row in rows)
    return {event.id: event for event in events}


async def _trips_here(connection: aiosqlite.Connection, trips: set[str]) -> set[str]:
    rows = await connection.execute_fetchall(
        "SELECT id FROM trips WHERE id IN (SELECT value FROM json_each(?))",
        (msgspec.json.encode(sorted(trips)).decode(),),
    )
    return {row[0] for row in rows}


async def _trip_version(connection: aiosqlite.Connection, trip: str | None) -> int | None:
    if trip is None:
        return None
    rows = await connection.execute_fetchall("SELECT version FROM trips WHERE id = ?", (trip,))
    return next((row[0] for row in rows), None)


def _same(before: StoredEvent | ArrivingEvent, now: StoredEvent | ArrivingEvent) -> bool:
    """Whether two events of one id say the same; spacing and the order of keys say nothing."""
    told_before = (before.device, before.counter, before.at, before.trip, before.kind)
    if told_before != (now.device, now.counter, now.at, now.trip, now.kind):
        return False
    return before.payload == now.payload or msgspec.json.decode(before.payload) == msgspec.json.decode(
        now.payload
    )
