"""Events both ways: ``POST /sync``, the one address that a phone needs after it has its trip.

    {"protocol": 1, "device": "phone-...", "trip": "week-12", "cursor": 41, "log": "9f...",
     "events": [Event, ...]}
 -> {"protocol": 1, "acknowledged": ["..."], "refused": [{"id", "field", "value", "mend"}],
     "cursor": 44, "log": "9f...", "events": [Event of others, ...], "more": false,
     "trip_version": 3, "server_time": "2026-12-05T12:00:00+00:00", "clock_note": ""}

``trip``: whose events of others are wanted (left out: of every trip). ``cursor``: as the last
answer gave it, null or 0 at first. ``log``: likewise; another one in the answer says that the data
were put back from a backup, and the phone sends all its events again. The batch is taken in one
transaction and may be repeated, cut or sent twice at once: an id that is known is acknowledged
again and stored once. An event whose
``what`` this version cannot read is kept to the letter all the same. Refused is only an event
of a trip that is not here; it stays in the phone's outbox. ``more``: ask again with the new cursor.
``device``, the name that it sends under, belongs to the key that first sent so (``store/senders.py``): under
another's the batch is refused whole, with 409.
A batch that breaks the protocol is refused whole, by the error of ``errors.py``. The whole of it,
for whoever writes another client, is in DEVELOPERS.md, "Sync".
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from http import HTTPStatus
from typing import Annotated, Any, TypeVar

import msgspec
from litestar import Request, Router, post
from litestar.di import NamedDependency
from msgspec import Meta

from ..access import household, limit_sync
from ..engine.offers import Id
from ..errors import NotTaken, bad_input, not_taken
from ..intake.bad_input import BadInput, Finding, shorten
from ..intake.decoding import finding_of
from ..security import LARGEST_BATCH, no_endless_number
from ..store.interface import ArrivingEvent, Exchange, NameTaken, Store, StoredEvent
from .interface import takes

PROTOCOL = 1
EVENTS_PER_BATCH = 500
AHEAD, BEHIND = timedelta(days=1), timedelta(days=366)

EventId = Annotated[str, Meta(min_length=1, max_length=64)]
DeviceId = Annotated[str, Meta(min_length=1, max_length=64)]
Counter = Annotated[int, Meta(ge=0, le=2**53 - 1)]


class Envelope(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An event whose ``what`` is left as it is; ``engine/papers.py`` has the kinds of today."""

    id: EventId
    device: DeviceId
    counter: Counter
    at: Annotated[str, Meta(max_length=40)]
    trip: Id
    what: msgspec.Raw


class Batch(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a phone sends."""

    device: DeviceId
    events: tuple[Envelope, ...] = ()
    trip: Id | None = None
    cursor: Counter | None = None
    log: Annotated[str, Meta(max_length=64)] | None = None
    protocol: int = PROTOCOL


class Refused(msgspec.Struct, frozen=True, kw_only=True):
    """An event that was not stored, and why."""

    id: str
    field: str
    value: str
    mend: str


class SyncAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What a phone gets back.

    ``trip_version``: the trip's as kept here (None: no such trip). ``clock_note``: "" unless the
    phone's clock is far off; then what to tell its owner.
    """

    acknowledged: tuple[str, ...]
    refused: tuple[Refused, ...]
    cursor: int
    events: tuple[Envelope, ...]
    more: bool
    trip_version: int | None
    log: str
    server_time: str
    clock_note: str
    protocol: int = PROTOCOL


class _Kind(msgspec.Struct):
    kind: Annotated[str, Meta(min_length=1, max_length=64)]


class _Protocol(msgspec.Struct):
    protocol: int = PROTOCOL


Part = TypeVar("Part", Batch, _Protocol, _Kind)


@post("/", status_code=HTTPStatus.OK, request_max_body_size=LARGEST_BATCH, operation_class=takes("Batch"))
async def sync(request: Request[Any, Any, Any], store: NamedDependency[Store]) -> SyncAnswer:
    """Takes a phone's events in and gives it those of others."""
    batch = read_batch(await request.body())
    events = [_arriving(index, event, batch.device) for index, event in enumerate(batch.events)]
    log = await store.log()
    # Another log's numbers say nothing here.
    cursor = batch.cursor or 0 if batch.log in (None, log) else 0
    try:
        exchange = await store.exchange(batch.device, batch.trip, cursor, events, request.user)
    except NameTaken as error:
        raise _name_taken(batch.device, error.holder) from None
    if exchange.conflicts:
        raise _conflict(events, exchange)
    now = datetime.now(UTC)
    return SyncAnswer(
        acknowledged=exchange.acknowledged,
        refused=_refused(events, exchange),
        cursor=exchange.cursor,
        events=tuple(_envelope(event) for event in exchange.others),
        more=exchange.more,
        trip_version=exchange.trip_version,
        log=log,
        server_time=now.isoformat(timespec="seconds"),
        clock_note=_clock_note(events, now),
    )


sync_router = Router(
    "/sync",
    route_handlers=[sync],
    guards=[household],
    middleware=[limit_sync().middleware],
    # The phone's page is a program without forms; SameSite and same_origin keep other sites out.
    opt={"exclude_from_csrf": True},
)


def read_batch(body: bytes) -> Batch:
    """The batch in ``body``; raises ``BadInput`` naming the field that breaks the protocol."""
    no_endless_number(body)
    try:
        body.decode()  # a raw part is not looked at by the decoder
    except UnicodeDecodeError as error:
        raise bad_input("", f"byte {error.start}", "Send the JSON in UTF-8.") from None
    protocol = _read(body, _Protocol).protocol
    if protocol != PROTOCOL:
        raise bad_input(
            "protocol",
            protocol,
            f"This server speaks protocol {PROTOCOL}. Bring the app (or the server) up to date; "
            "what is unsent stays on the phone.",
        )
    batch = _read(body, Batch)
    if len(batch.events) > EVENTS_PER_BATCH:
        raise bad_input(
            "events", len(batch.events), f"Send at most {EVENTS_PER_BATCH} events at a time, oldest first."
        )
    return batch


def _read(body: bytes, wanted: type[Part], within: str = "") -> Part:
    try:
        return msgspec.json.decode(body, type=wanted)
    except (msgspec.DecodeError, RecursionError) as error:
        finding = finding_of(error, body, wanted)
        field = ".".join(part for part in (within, finding.field) if part)
        raise BadInput(msgspec.structs.replace(finding, field=field)) from None


def _arriving(index: int, event: Envelope, device: str) -> ArrivingEvent:
    where = f"events[{index}]"
    if event.device != device:
        raise bad_input(f"{where}.device", event.device, "A device sends its own events only.")
    kind = _read(bytes(event.what), _Kind, f"{where}.what").kind
    for name, text in (("id", event.id), ("device", event.device), ("at", event.at), ("what.kind", kind)):
        if not _is_text(text):
            raise bad_input(f"{where}.{name}", text, "Send text that can be written as UTF-8.")
    return ArrivingEvent(
        id=event.id,
        device=event.device,
        counter=event.counter,
        at=event.at,
        trip=event.trip,
        kind=kind,
        payload=bytes(event.what).decode(),
    )


def _clock_note(events: Sequence[ArrivingEvent], now: datetime) -> str:
    """What to say of a clock that is days ahead or a year behind; what was noted is taken all the same.

    Less than a year behind may be an honest event that waited for a network.
    """
    for event in reversed(events):
        try:
            moment = datetime.fromisoformat(event.at)
        except ValueError:
            continue
        if moment.utcoffset() is None:
            moment = moment.replace(tzinfo=UTC)
        if moment > now + AHEAD or moment < now - BEHIND:
            return (
                f"The phone's clock said {moment.date()}, and here it is {now.date()}. Everything was taken "
                "in; set the phone's clock, or it may misjudge an offer's dates."
            )
        return ""
    return ""


def _is_text(text: str) -> bool:
    """Whether the database can keep it: no half of a surrogate pair, no NUL."""
    try:
        return b"\0" not in text.encode()
    except UnicodeEncodeError:
        return False


def _envelope(event: StoredEvent) -> Envelope:
    return Envelope(
        id=event.id,
        device=event.device,
        counter=event.counter,
        at=event.at,
        trip=event.trip,
        what=msgspec.Raw(event.payload),
    )


def _refused(events: list[ArrivingEvent], exchange: Exchange) -> tuple[Refused, ...]:
    foreign = set(exchange.unknown_trips)
    return tuple(
        Refused(
            id=event.id,
            field=f"events[{index}].trip",
            value=event.trip,
            mend="There is no such trip here. Bring the trip in at the Desk; the event stays on the phone.",
        )
        for index, event in enumerate(events)
        if event.id in foreign
    )


def _name_taken(device: str, holder: str) -> NotTaken:
    whose = f"the device called “{holder}”" if holder else "the browser at the server's own machine"
    then = (
        "revoke its older key at the Desk, under Devices"
        if holder
        else "pair it by an owner's code of the Desk"
    )
    return not_taken(
        "device",
        device,
        f"This device sends under the name of {whose}. If it is the same, paired again, {then}: what waits "
        "here is sent then. Nothing of it is lost.",
        status=HTTPStatus.CONFLICT,
    )


def _conflict(events: list[ArrivingEvent], exchange: Exchange) -> NotTaken:
    taken = set(exchange.conflicts)
    findings = [
        Finding(
            field=f"events[{index}].id",
            value=shorten(event.id),
            mend="Another event with this id and other content is kept. Nothing of this batch was stored; "
            "save the unsent events to a file and start the phone's app afresh.",
        )
        for index, event in enumerate(events)
        if event.id in taken
    ]
    return NotTaken(*findings, status=HTTPStatus.CONFLICT)
