"""Trips in SQL: kept, read, taken in from another store. All inside the caller's transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Any

import msgspec

from . import event_log
from .interface import EventsDiffer, StoredEvent, StoredTrip, TakenIn

KEEP_TRIP = (
    "INSERT INTO trips (id, version, title, day, content, document, saved_at)"
    " VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO UPDATE SET version = excluded.version,"
    " title = excluded.title, day = excluded.day, content = excluded.content,"
    " document = excluded.document, saved_at = excluded.saved_at"
)


def stored_trip(row: Sequence[Any]) -> StoredTrip:
    return msgspec.convert(dict(zip(StoredTrip.__struct_fields__, row, strict=True)), StoredTrip)


def take_in(
    connection: sqlite3.Connection, trips: Sequence[StoredTrip], events: Sequence[StoredEvent], now: str
) -> TakenIn:
    """Adds what another store exported and is not here. Raises ``EventsDiffer``."""
    new_trips = [_take_trip(connection, trip) for trip in trips]
    known = event_log.known_events(connection, [event.id for event in events])
    differing = [e.id for e in events if e.id in known and not event_log.same(known[e.id], e)]
    if differing:
        raise EventsDiffer(differing)
    fresh = {event.id: event for event in events if event.id not in known}
    event_log.insert(connection, fresh.values(), now)
    return TakenIn(
        trips=sum(new_trips),
        events=len(fresh),
        trips_known=len(trips) - sum(new_trips),
        events_known=len(events) - len(fresh),
    )


def _take_trip(connection: sqlite3.Connection, trip: StoredTrip) -> bool:
    """Keeps a trip of an export if it is new or of a higher version; whether it did."""
    kept = list(connection.execute("SELECT version FROM trips WHERE id = ?", (trip.id,)))
    if kept and kept[0][0] >= trip.version:
        return False
    connection.execute(KEEP_TRIP, msgspec.structs.astuple(trip))
    return True
