"""The store in one SQLite file, for a household or a planner with her readers.

Durable: write-ahead log with ``synchronous=FULL``, so what is acknowledged survives a power cut.
One door for writes (``door.py``): a whole change is one function of the one writing connection,
committed when it returns and undone when it raises. Reading goes through connections that were
opened read-only and cannot do anything else: pages ask single queries by aiosqlite; a sync, which
asks several at once and comes in crowds, asks them in one trip to a door's thread (through aiosqlite
each query is a trip of its own, and the bench's crowd waited ten times as long). ``event_log.py``
has the events' own SQL.
"""

from __future__ import annotations

import asyncio
import hashlib
import logging
import sqlite3
from collections.abc import Callable, Generator, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

import aiosqlite
import msgspec

from . import event_log, projections, senders
from .door import Door, Work
from .integrity import MEND_DAMAGE, available, find_damage
from .interface import (
    THIS_MACHINE,
    ArrivingEvent,
    Device,
    Exchange,
    StoredEvent,
    StoredTrip,
    StoreUnusable,
    TakenIn,
    TripProgress,
    VersionTaken,
)
from .kept_trips import KEEP_TRIP, stored_trip, take_in
from .migrations import migrate

log = logging.getLogger("counterfoil")

FILE_NAME = "counterfoil.sqlite3"
# How long a change waits for another program to let go of the file. Longer, and the phones that queue
# behind it would give up before they are told to come back.
BUSY_TIMEOUT_MS = 2_000

T = TypeVar("T")


class SqliteStore:
    """``Store`` (see ``interface.py``) in ``folder``; ``now`` tells the time and can be another in tests."""

    def __init__(self, folder: Path, *, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self.path = folder / FILE_NAME
        self._now = now
        self._writer = Door(self._connect_to_write, writes=True)
        self._reader = Door(self._connect_to_read, writes=False)
        self._pages: aiosqlite.Connection | None = None
        self._prepared = False
        self._log = ""  # as read; it becomes another only while the server is stopped

    def prepare(self) -> str:
        """Makes the folder and file if need be, checks and migrates them; the secret that signs forms.

        ``open`` does so too unless it was just done; a command calls it first, to fail before anyone is
        told to come in.
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
                self._prepared = True
                return secret

    async def open(self) -> None:
        """Prepares the file and connects to it."""
        # To look through years of prices takes seconds: once is enough.
        if not self._prepared:
            await asyncio.to_thread(self.prepare)
        self._prepared = False
        with self._usable():
            await self._writer.open()
            await self._reader.open()
            self._pages = await aiosqlite.connect(self._read_only(), uri=True, isolation_level=None)
            await self._pages.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")

    async def close(self) -> None:
        """Closes all connections; the last one to go folds the log into the file."""
        pages, self._pages = self._pages, None
        if pages is not None:
            await pages.close()
        await self._reader.close()
        await self._writer.close()

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
        return next((stored_trip(row) for row in rows), None)

    async def save_trip(self, *, trip_id: str, version: int, title: str, day: str, document: bytes) -> bool:
        """Keeps a new trip or a higher version; False if just this content was kept already."""
        content = hashlib.sha256(document).hexdigest()

        def save(connection: sqlite3.Connection) -> bool:
            kept = list(connection.execute("SELECT version, content FROM trips WHERE id = ?", (trip_id,)))
            if kept and kept[0][1] == content:
                return False
            if kept and version <= kept[0][0]:
                raise VersionTaken(kept[0][0])
            connection.execute(KEEP_TRIP, (trip_id, version, title, day, content, document, self.clock()))
            return True

        return await self.write(save)

    async def exchange(
        self,
        device: str,
        trip: str | None,
        cursor: int,
        events: Sequence[ArrivingEvent],
        sender: Device = THIS_MACHINE,
    ) -> Exchange:
        """Appends what is new in one transaction, and answers with what others added."""
        if not events:
            return await self.look(lambda connection: event_log.heard(connection, device, trip, cursor))

        def take(connection: sqlite3.Connection) -> Exchange:
            now = self.clock()
            senders.claim(connection, device, sender, now)
            return event_log.append(connection, device, trip, cursor, events, now)

        return await self.write(take)

    async def events_of(self, trip_id: str) -> Sequence[StoredEvent]:
        """All events of a trip, in order of arrival."""
        rows = await self.read(
            f"SELECT {event_log.COLUMNS} FROM events WHERE trip = ? ORDER BY sequence", (trip_id,)
        )
        return [event_log.stored_event(row) for row in rows]

    async def take_in(self, trips: Sequence[StoredTrip], events: Sequence[StoredEvent]) -> TakenIn:
        """Adds what another store exported, in one transaction."""
        return await self.write(lambda connection: take_in(connection, trips, events, self.clock()))

    async def rebuild(self) -> int:
        """Reckons the projections again from the events; how many trips."""
        return await self.write(projections.rebuild)

    async def log(self) -> str:
        """Which log this is."""
        if self._log == "":
            [(self._log,)] = await self.read("SELECT value FROM house WHERE name = 'log'")
        return self._log

    async def write(self, change: Work[T]) -> T:
        """The one door for writes: ``change`` is done wholly and durably, or not at all."""
        with available(self.path):
            return await self._writer.do(change)

    async def look(self, work: Work[T]) -> T:
        """The answer of ``work``, by the connection that can only read."""
        with available(self.path):
            return await self._reader.do(work)

    async def read(self, query: str, values: Sequence[object] = ()) -> list[Any]:
        """The rows of one query."""
        if self._pages is None:
            raise StoreUnusable(f"{self.path} is not open.")
        with available(self.path):
            return list(await self._pages.execute_fetchall(query, values))

    async def empty_log(self) -> None:
        """Folds the write-ahead log into the file and cuts it to nothing, so that what was overwritten there
        is nowhere else. While somebody reads an older moment it cannot; then the last to close does it."""
        with available(self.path):
            await asyncio.to_thread(self._empty_log)

    def _empty_log(self) -> None:
        with closing(self._connect_to_write()) as connection:
            [(busy, *_)] = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        if busy:
            log.warning("the log of %s is in use and is emptied when the server stops", self.path)

    def _connect_to_write(self) -> sqlite3.Connection:
        connection = sqlite3.connect(self.path, isolation_level=None)
        for pragma in _pragmas():
            connection.execute(pragma)
        return connection

    def _connect_to_read(self) -> sqlite3.Connection:
        connection = sqlite3.connect(self._read_only(), uri=True, isolation_level=None)
        connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
        return connection

    def _read_only(self) -> str:
        """The file's address, to be opened for reading alone."""
        return f"{self.path.absolute().as_uri()}?mode=ro"

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


def _pragmas() -> tuple[str, ...]:
    return (
        "PRAGMA synchronous = FULL",
        "PRAGMA foreign_keys = ON",
        "PRAGMA secure_delete = ON",  # a photo that is erased is overwritten with zeros
        f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}",
    )


_PROGRESS_FIELDS = TripProgress.__struct_fields__
