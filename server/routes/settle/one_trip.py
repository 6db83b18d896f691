"""``/desk/trips/ID/settle``: one trip's receipts against its plan, its claims, photos and notes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from http import HTTPStatus

import msgspec
from litestar import get
from litestar.di import NamedDependency
from litestar.params import FromPath, FromQuery
from litestar.response import Template

from ...after.claims import Claim
from ...after.differences import Compared, TripCompared, compared
from ...after.notes import Note, ReceiptKept, Remark, TimeSpent
from ...after.purchases import Bought, Purchase
from ...after.spending import Spending, spent
from ...homes import Home
from ...ledger import Ledger
from ...plans import PlanShelf
from ...store.interface import Store
from ...store.photos import Photos
from ..household_page import Today, no_such
from ..trips import stored_trip
from .page import Called, Facts, Sent, facts_of, shared
from .saying import say


class ShownPhoto(msgspec.Struct, frozen=True, kw_only=True):
    """A photo by the ``note`` that it was kept with; ``erased``: on which day, "" if it is there."""

    note: Note
    photo: str
    done: str
    words: str
    erased: str


class Beside(msgspec.Struct, frozen=True, kw_only=True):
    """A transaction beside its plan: ``purchase`` None where it was not made; ``photos`` of its receipt."""

    compared: Compared
    purchase: Purchase | None
    photos: tuple[ShownPhoto, ...]


@get("/trips/{trip_id:str}/settle")
async def trip_settle_page(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    store: NamedDependency[Store],
    plan_shelf: NamedDependency[PlanShelf],
    photos: NamedDependency[Photos],
    today: Today,
    trip_id: FromPath[str],
    erased: FromQuery[str] = "",
) -> Template:
    """The trip after it was made. ``erased``: a photo was, just now."""
    facts = await facts_of(home, ledger, today())
    return await trip_page(store, plan_shelf, photos, facts, trip_id, erased=bool(erased))


async def trip_page(
    store: Store,
    plan_shelf: PlanShelf,
    photos: Photos,
    facts: Facts,
    trip_id: str,
    sent: Sent | None = None,
    *,
    erased: bool = False,
) -> Template:
    """The page of a trip; with what was ``sent`` and turned down."""
    stored = await stored_trip(store, trip_id)
    found = facts.books.trip(trip_id)
    plan = await plan_shelf.plan_of(stored)
    beside = compared(facts.books, trip_id, plan)
    if found is None or beside is None:
        raise no_such("trip", trip_id, "/desk/settle")
    notes = _notes_of(facts.books.notes, trip_id)
    shown = _photos(notes, gone := await photos.erased())
    holding = {each.photo for each in shown}
    every = _photos(_notes_of(facts.books.rows, trip_id), gone)
    called = Called(facts)
    return Template(
        "settle/trip.html",
        context={
            **shared(facts, sent),
            "trip": found.trip,
            "plan": plan,
            "beside": beside,
            "transactions": _beside(beside, found, shown),
            "unread": found.unread,
            "spending": _spending(facts, trip_id),
            "claims": facts.claims.of_trip(trip_id),
            "open_bonuses": [each for each in facts.claims.open_bonuses if each.trip == trip_id],
            "worth": _worth(found, facts.claims.of_trip(trip_id)),
            "photos": shown,
            "taken_back": [each for each in every if not each.erased and each.photo not in holding],
            "erased": erased,
            "minutes": sum(note.what.minutes for note in notes if isinstance(note.what, TimeSpent)),
            "remarks": [note for note in notes if isinstance(note.what, Remark)],
            "notes": [(note, say(called, note)) for note in reversed(notes)],
        },
        status_code=int(HTTPStatus.BAD_REQUEST if sent else HTTPStatus.OK),
    )


def _notes_of(notes: Sequence[Note], trip: str) -> list[Note]:
    return [note for note in notes if getattr(note.what, "trip", "") == trip]


def _photos(notes: Sequence[Note], erased: Mapping[str, str]) -> list[ShownPhoto]:
    return [
        ShownPhoto(
            note=note,
            photo=note.what.photo,
            done=note.what.done,
            words=note.what.words,
            erased=erased.get(note.what.photo, "")[:10],
        )
        for note in notes
        if isinstance(note.what, ReceiptKept)
    ]


def _beside(beside: TripCompared, found: Bought, photos: Sequence[ShownPhoto]) -> list[Beside]:
    by_event = {purchase.event: purchase for purchase in found.purchases}
    return [
        Beside(
            compared=each,
            purchase=by_event.get(each.event),
            photos=tuple(photo for photo in photos if each.event and photo.done == each.event),
        )
        for each in beside.transactions
    ]


def _spending(facts: Facts, trip: str) -> Spending:
    return next((each.spending for each in spent(facts.books) if each.trip == trip), Spending())


def _worth(found: Bought, claims: tuple[Claim, ...]) -> int:
    """Rebates at what they have come to, by the trip's own worth of a rebate."""
    rate = found.trip.settings.worth.rebate_bp
    return sum(claim.worth_cents(rate) for claim in claims)
