"""Fills an empty store with the demo household: its week to come, the trips that are over, what was noted.

What is over was heard in its own days: trips and reports come in as from another store's export.
"""

from __future__ import annotations

import asyncio
import hashlib
from collections.abc import Iterator, Sequence

import msgspec

from .demo_household import DemoHousehold, demo_household, move_in
from .demo_trips import Over, notes_at_home, trips_that_are_over
from .engine.offers import Trip
from .homes import Home
from .ledger import Ledger
from .notebook import Notebook
from .store.facts import Facts
from .store.interface import Store, StoredEvent, StoredTrip

_DEVICE = "demo"
# As trips that are brought in: equal trips are equal bytes.
_encode = msgspec.json.Encoder(order="deterministic").encode


async def fill_with_demo(
    store: Store, home: Home, facts: Facts, ledger: Ledger, notebook: Notebook, today: str
) -> None:
    """Keeps the demo's trips where there are none, and its records where there never were any."""
    trips_wanted = not await store.trips()
    records_wanted = not await home.kept.batches(1)
    if not trips_wanted and not records_wanted:
        return
    household = demo_household(today)
    if records_wanted:
        await move_in(home, facts, household, _DEVICE)
    if trips_wanted:
        # The planner takes its time, and the server's own tasks go on meanwhile.
        over = await asyncio.to_thread(trips_that_are_over, household.earlier, household.trip)
        await _keep_trips(store, household.trip, over)
        await _write_notes(ledger, notebook, household, over, today)


async def _keep_trips(store: Store, coming: Trip, over: Sequence[Over]) -> None:
    trips = [_stored(each.trip, _evening(each.trip)) for each in over]
    events = [event for each in over for event in _heard(each)]
    await store.take_in(trips, events)
    await store.save_trip(
        trip_id=coming.id,
        version=coming.version,
        title=coming.title,
        day=coming.day,
        document=_encode(coming),
    )


async def _write_notes(
    ledger: Ledger, notebook: Notebook, household: DemoHousehold, over: Sequence[Over], today: str
) -> None:
    kept = {row.id for row in await notebook.rows()}
    for note in notes_at_home(household.earlier, over):
        if note.id in kept:
            continue
        books = await ledger.books()
        currency = household.trip.currency
        await notebook.write(note, books, today=today, currency=currency, device=_DEVICE)


def _stored(trip: Trip, saved_at: str) -> StoredTrip:
    document = _encode(trip)
    return StoredTrip(
        id=trip.id,
        version=trip.version,
        title=trip.title,
        day=trip.day,
        content=hashlib.sha256(document).hexdigest(),
        document=document,
        saved_at=saved_at,
    )


def _heard(over: Over) -> Iterator[StoredEvent]:
    for place, event in enumerate(over.events, start=1):
        yield StoredEvent(
            sequence=place,
            id=event.id,
            device=event.device,
            counter=event.counter,
            at=event.at,
            trip=event.trip,
            kind=msgspec.to_builtins(event.what)["kind"],
            payload=msgspec.json.encode(event.what).decode(),
            received=_evening(over.trip),
        )


def _evening(trip: Trip) -> str:
    return f"{trip.day}T18:00:00+00:00"
