"""The event log in SQL: what is appended, known, added by others. All inside the caller's transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from typing import Any

import msgspec

from . import projections
from .interface import PAGE_OF_EVENTS, ArrivingEvent, Exchange, StoredEvent

COLUMNS = "sequence, id, device, counter, at, trip, kind, payload, received"


def append(
    connection: sqlite3.Connection,
    device: str,
    trip: str | None,
    cursor: int,
    events: Sequence[ArrivingEvent],
    now: str,
) -> Exchange:
    """Appends what is new, and answers with what others added; appends nothing if an id conflicts."""
    known = known_events(connection, [event.id for event in events])
    trips_here = _trips_here(connection, {event.trip for event in events})
    fresh: dict[str, ArrivingEvent] = {}
    acknowledged: list[str] = []
    unknown_trips: list[str] = []
    conflicts: list[str] = []
    for event in events:
        before = known.get(event.id) or fresh.get(event.id)
        if before is not None:
            (acknowledged if same(before, event) else conflicts).append(event.id)
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
    insert(connection, fresh.values(), now)
    return msgspec.structs.replace(
        heard(connection, device, trip, cursor),
        acknowledged=tuple(dict.fromkeys(acknowledged)),
        unknown_trips=tuple(unknown_trips),
    )


def heard(connection: sqlite3.Connection, device: str, trip: str | None, cursor: int) -> Exchange:
    """An answer to who only asks: what others added."""
    others, reached, more = _others(connection, device, trip, cursor)
    return Exchange(
        acknowledged=(),
        unknown_trips=(),
        conflicts=(),
        others=others,
        cursor=reached,
        more=more,
        trip_version=_trip_version(connection, trip),
    )


def insert(connection: sqlite3.Connection, fresh: Iterable[ArrivingEvent | StoredEvent], now: str) -> None:
    """Appends events, received ``now`` or when they were elsewhere, and reckons their trips again."""
    rows = [
        (e.id, e.device, e.counter, e.at, e.trip, e.kind, e.payload, getattr(e, "received", now))
        for e in fresh
    ]
    connection.executemany(
        "INSERT INTO events (id, device, counter, at, trip, kind, payload, received)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        rows,
    )
    for trip in sorted({row[4] for row in rows}):
        projections.reckon(connection, trip)


def stored_event(row: Sequence[Any]) -> StoredEvent:
    return msgspec.convert(dict(zip(StoredEvent.__struct_fields__, row, strict=True)), StoredEvent)


def _others(
    connection: sqlite3.Connection, device: str, trip: str | None, cursor: int
) -> tuple[tuple[StoredEvent, ...], int, bool]:
    """What other devices added (to ``trip``) after ``cursor``, the cursor after it, and if there is more.

    With more to come the cursor stands at the last one given; else at the end of the log, so
    that the device's own events are not searched again.
    """
    [(end,)] = connection.execute("SELECT COALESCE(MAX(sequence), 0) FROM events")
    after = cursor if cursor <= end else 0
    of_trip, trips = (" AND trip = ?", (trip,)) if trip is not None else ("", ())
    rows = connection.execute(
        f"SELECT {COLUMNS} FROM events WHERE sequence > ? AND sequence <= ? AND device <> ?{of_trip}"
        " ORDER BY sequence LIMIT ?",
        (after, end, device, *trips, PAGE_OF_EVENTS + 1),
    )
    events = tuple(stored_event(row) for row in rows)
    page = events[:PAGE_OF_EVENTS]
    more = len(events) > len(page)
    return page, page[-1].sequence if more else end, more


def known_events(connection: sqlite3.Connection, ids: list[str]) -> dict[str, StoredEvent]:
    rows = connection.execute(
        f"SELECT {COLUMNS} FROM events WHERE id IN (SELECT value FROM json_each(?))",
        (msgspec.json.encode(ids).decode(),),
    )
    events = (stored_event(row) for row in rows)
    return {event.id: event for event in events}


def _trips_here(connection: sqlite3.Connection, trips: set[str]) -> set[str]:
    rows = connection.execute(
        "SELECT id FROM trips WHERE id IN (SELECT value FROM json_each(?))",
        (msgspec.json.encode(sorted(trips)).decode(),),
    )
    return {row[0] for row in rows}


def _trip_version(connection: sqlite3.Connection, trip: str | None) -> int | None:
    if trip is None:
        return None
    rows = connection.execute("SELECT version FROM trips WHERE id = ?", (trip,))
    return next((row[0] for row in rows), None)


def same(before: StoredEvent | ArrivingEvent, now: StoredEvent | ArrivingEvent) -> bool:
    """Whether two events of one id say the same; spacing and the order of keys say nothing."""
    told_before = (before.device, before.counter, before.at, before.trip, before.kind)
    if told_before != (now.device, now.counter, now.at, now.trip, now.kind):
        return False
    if before.payload == now.payload:
        return True
    try:
        return msgspec.json.decode(before.payload) == msgspec.json.decode(now.payload)
    except RecursionError:
        return False  # brackets too deep to be compared: only the very same text is the same
