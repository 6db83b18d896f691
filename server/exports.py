"""Everything a household has, in open formats: ``export.json`` to read in again, CSV files to look at.

``export.json`` (``counterfoil-export-1``) holds trips as they were brought in and events as the
phones sent them, to the letter. Keys do not leave the house: devices are listed, and pair anew
elsewhere. ``household.jsonl`` has what the household keeps beside its trips (``household_export.py``).
``trips.csv`` and ``events.csv`` are for spreadsheets and are not read in; the tables of records and prices
can be brought in one by one (``counterfoil import-table``).
"""

from __future__ import annotations

import hashlib
import sqlite3
from pathlib import Path
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from .engine.offers import Id
from .household_export import HOUSEHOLD, household_file, write_household, write_tables
from .intake.bad_input import BadInput, Finding, shorten
from .intake.decoding import finding_of
from .intake.documents import read_trip
from .intake.tables.delimited import write_table
from .routes.trips import encode_trip
from .store.interface import Device, EventsDiffer, Keyring, StoredEvent, StoredTrip, TakenIn
from .store.joining import LinesTakenIn, take_in_lines
from .store.kept_trips import take_in
from .store.sqlite import SqliteStore

EXPORT = "export.json"
FORMAT = "counterfoil-export-1"

Text = Annotated[str, Meta(max_length=200)]


class ExportedTrip(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A trip and when it was brought in."""

    saved_at: Text
    document: msgspec.Raw


class ExportedEvent(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An event as a phone sent it, and when it was received."""

    id: Annotated[str, Meta(min_length=1, max_length=64)]
    device: Annotated[str, Meta(min_length=1, max_length=64)]
    counter: Annotated[int, Meta(ge=0, le=2**53 - 1)]
    at: Text
    trip: Id
    received: Text
    what: msgspec.Raw


class Export(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The whole file. ``events`` stand in the order of their arrival."""

    format: Literal["counterfoil-export-1"]
    trips: tuple[ExportedTrip, ...]
    events: tuple[ExportedEvent, ...]
    devices: tuple[Device, ...] = ()


class Taken(msgspec.Struct, frozen=True, kw_only=True):
    """What an import added, and what was here."""

    trips: TakenIn
    household: LinesTakenIn


class _Kind(msgspec.Struct):
    kind: Annotated[str, Meta(min_length=1, max_length=64)]


async def export_all(store: SqliteStore, keyring: Keyring, folder: Path) -> Export:
    """Writes the files into ``folder``, made if need be; what was written."""
    heads = await store.trips()
    trips = [trip for head in heads if (trip := await store.trip(head.id)) is not None]
    events = [event for trip in trips for event in await store.events_of(trip.id)]
    events.sort(key=lambda event: event.sequence)
    whole = Export(
        format=FORMAT,
        trips=tuple(
            ExportedTrip(saved_at=trip.saved_at, document=msgspec.Raw(trip.document)) for trip in trips
        ),
        events=tuple(_exported(event) for event in events),
        devices=tuple(await keyring.devices()),
    )
    files = {
        EXPORT: msgspec.json.encode(whole),
        "trips.csv": write_table(
            ("trip", "title", "day", "version", "events", "transactions_done", "last_heard"),
            ((t.id, t.title, t.day, t.version, t.events, t.transactions_done, t.last_heard) for t in heads),
        ),
        "events.csv": write_table(
            ("received", "at", "device", "counter", "trip", "kind", "id", "what"),
            ((e.received, e.at, e.device, e.counter, e.trip, e.kind, e.id, e.payload) for e in events),
        ),
    }
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        for name, content in files.items():
            beside = folder / f"{name}.part"
            beside.write_bytes(content)
            beside.replace(folder / name)
        beside = folder / f"{HOUSEHOLD}.part"
        await write_household(store, beside)
        beside.replace(folder / HOUSEHOLD)
        await write_tables(store, folder)
    except OSError as error:
        raise BadInput(
            Finding(
                field="FOLDER",
                value=shorten(str(folder)),
                mend=f"it cannot be written to ({error.strerror}): name another",
            )
        ) from error
    return whole


async def import_all(store: SqliteStore, folder: Path) -> Taken:
    """Adds what the export in ``folder`` holds and is not here, in one transaction. ``BadInput``: nothing was
    added."""
    file = folder / EXPORT
    try:
        data = file.read_bytes()
    except OSError as error:
        mend = f"it cannot be read ({error.strerror}): name a folder that `counterfoil export` made"
        raise BadInput(Finding(field="FOLDER", value=shorten(str(folder)), mend=mend)) from error
    whole = _decode(data, str(file))
    trips = [_trip(index, trip, str(file)) for index, trip in enumerate(whole.trips)]
    here = {trip.id for trip in trips} | {head.id for head in await store.trips()}
    events = [_event(index, event, here, str(file)) for index, event in enumerate(whole.events)]
    household = household_file(folder)  # looked through before anything is written
    now = store.clock()

    def take(connection: sqlite3.Connection) -> Taken:
        return Taken(
            trips=take_in(connection, trips, events, now),
            household=take_in_lines(connection, household.lines() if household else (), now, "import"),
        )

    try:
        return await store.write(take)
    except EventsDiffer as differ:
        index = next(n for n, event in enumerate(events) if event.id == differ.ids[0])
        mend = "another event of this id is kept here: import into another data folder"
        raise BadInput(
            Finding(field=f"events[{index}].id", value=shorten(differ.ids[0]), mend=mend), file=str(file)
        ) from differ


def _decode(data: bytes, file: str) -> Export:
    try:
        data.decode()  # raw parts are not looked at by the decoder
        return msgspec.json.decode(data, type=Export)
    except UnicodeDecodeError as error:
        finding = Finding(field="", value=f"byte {error.start}", mend="save the file as UTF-8")
        raise BadInput(finding, file=file) from None
    except (msgspec.DecodeError, RecursionError) as error:
        raise BadInput(finding_of(error, data, Export), file=file) from None


def _trip(index: int, exported: ExportedTrip, file: str) -> StoredTrip:
    try:
        trip = read_trip(bytes(exported.document))
    except BadInput as error:
        within = (
            msgspec.structs.replace(each, field=f"trips[{index}].document.{each.field}".rstrip("."))
            for each in error.findings
        )
        raise BadInput(*within, file=file) from None
    document = encode_trip(trip)
    return StoredTrip(
        id=trip.id,
        version=trip.version,
        title=trip.title,
        day=trip.day,
        content=hashlib.sha256(document).hexdigest(),
        document=document,
        saved_at=exported.saved_at,
    )


def _event(index: int, exported: ExportedEvent, trips: set[str], file: str) -> StoredEvent:
    if exported.trip not in trips:
        finding = Finding(
            field=f"events[{index}].trip", value=exported.trip, mend="its trip is missing: add it to trips"
        )
        raise BadInput(finding, file=file)
    try:
        kind = msgspec.json.decode(exported.what, type=_Kind).kind
    except (msgspec.DecodeError, RecursionError) as error:
        finding = finding_of(error, bytes(exported.what), _Kind)
        field = f"events[{index}].what.{finding.field}".rstrip(".")
        raise BadInput(msgspec.structs.replace(finding, field=field), file=file) from None
    return StoredEvent(
        sequence=0,  # given anew
        id=exported.id,
        device=exported.device,
        counter=exported.counter,
        at=exported.at,
        trip=exported.trip,
        kind=kind,
        payload=bytes(exported.what).decode(),
        received=exported.received,
    )


def _exported(event: StoredEvent) -> ExportedEvent:
    return ExportedEvent(
        id=event.id,
        device=event.device,
        counter=event.counter,
        at=event.at,
        trip=event.trip,
        received=event.received,
        what=msgspec.Raw(event.payload),
    )
