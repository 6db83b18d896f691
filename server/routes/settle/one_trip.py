"""``/desk/trips/ID/settle``: one trip's receipts against its plan, its claims, photos and notes."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

import msgspec
from litestar import MediaType, Response, get, post
from litestar.concurrency import sync_to_thread
from litestar.datastructures import UploadFile
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Template

from ...after.claims import Claim
from ...after.differences import Compared, TripCompared, compared
from ...after.notes import Note, ReceiptKept, Remark, TimeSpent
from ...after.purchases import Bought, Purchase
from ...after.receipt_photo import receipt_photo
from ...after.spending import Spending, spent
from ...errors import bad_input, not_taken
from ...homes import Home
from ...intake.bad_input import BadInput
from ...intake.pictures import LARGEST_PICTURE
from ...ledger import Ledger
from ...notebook import Notebook, photo_of
from ...plans import PlanShelf
from ...store.interface import Store
from ..fields import Fields
from ..household_page import Asked, Today, device_of, go_to, no_such
from ..trips import stored_trip
from .page import Called, Facts, Sent, facts_of, note_id, shared, turned_down
from .saying import say

MULTIPART = 10_000  # bytes that a form adds around its file


class Beside(msgspec.Struct, frozen=True, kw_only=True):
    """A transaction beside its plan: ``purchase`` None where it was not made; ``photos`` of its receipt."""

    compared: Compared
    purchase: Purchase | None
    photos: tuple[Note, ...]


@get("/trips/{trip_id:str}/settle")
async def trip_settle_page(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    store: NamedDependency[Store],
    plan_shelf: NamedDependency[PlanShelf],
    today: Today,
    trip_id: FromPath[str],
) -> Template:
    """The trip after it was made."""
    return await trip_page(store, plan_shelf, await facts_of(home, ledger, today()), trip_id)


@post(
    "/trips/{trip_id:str}/photos",
    status_code=HTTPStatus.OK,
    request_max_body_size=LARGEST_PICTURE + MULTIPART,
)
async def keep_photo(
    request: Asked,
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    notebook: NamedDependency[Notebook],
    store: NamedDependency[Store],
    plan_shelf: NamedDependency[PlanShelf],
    today: Today,
    trip_id: FromPath[str],
) -> Response[Any]:
    """Keeps a receipt's photo without what the phone wrote into it. Fields: ``photo``, ``done``,
    ``words``."""
    facts = await facts_of(home, ledger, today())
    form = await request.form()
    fields = Fields(form)
    upload: object = form.get("photo")
    try:
        body = await upload.read() if isinstance(upload, UploadFile) else b""
        if not body:
            raise bad_input("photo", "", "choose a photo of the receipt first")
        photo = photo_of(await sync_to_thread(receipt_photo, body))
        what = ReceiptKept(
            trip=trip_id, photo=photo.id, done=fields.text("done", longest=64), words=fields.text("words")
        )
        fields.finish()
        if facts.books.trip(trip_id) is None:
            raise no_such("trip", trip_id, "/desk/settle")
        note = Note(id=note_id(fields), day=facts.today, what=what)
        await notebook.write(
            note,
            facts.books,
            today=facts.today,
            currency=facts.money[0],
            device=device_of(request),
            photo=photo,
        )
    except BadInput as error:
        sent = turned_down("photo", fields.typed, error)
        return await trip_page(store, plan_shelf, facts, trip_id, sent)
    return go_to(f"/desk/trips/{trip_id}/settle#photos")


@get("/settle/photos/{photo_id:str}", media_type=MediaType.TEXT)
async def show_photo(notebook: NamedDependency[Notebook], photo_id: FromPath[str]) -> Response[bytes]:
    """A kept photo."""
    photo = await notebook.kept.photo(photo_id.removesuffix(".jpg"))
    if photo is None:
        raise not_taken("photo", photo_id, "There is no such photo.", status=HTTPStatus.NOT_FOUND)
    return Response(photo.jpeg, media_type="image/jpeg")


async def trip_page(
    store: Store, plan_shelf: PlanShelf, facts: Facts, trip_id: str, sent: Sent | None = None
) -> Template:
    """The page of a trip; with what was ``sent`` and turned down."""
    stored = await stored_trip(store, trip_id)
    found = facts.books.trip(trip_id)
    plan = await plan_shelf.plan_of(stored)
    beside = compared(facts.books, trip_id, plan)
    if found is None or beside is None:
        raise no_such("trip", trip_id, "/desk/settle")
    notes = _notes_of(facts, trip_id)
    called = Called(facts)
    return Template(
        "settle/trip.html",
        context={
            **shared(facts, sent),
            "trip": found.trip,
            "plan": plan,
            "beside": beside,
            "transactions": _beside(beside, found, notes),
            "unread": found.unread,
            "spending": _spending(facts, trip_id),
            "claims": facts.claims.of_trip(trip_id),
            "open_bonuses": [each for each in facts.claims.open_bonuses if each.trip == trip_id],
            "worth": _worth(found, facts.claims.of_trip(trip_id)),
            "photos": [note for note in notes if isinstance(note.what, ReceiptKept)],
            "minutes": sum(note.what.minutes for note in notes if isinstance(note.what, TimeSpent)),
            "remarks": [note for note in notes if isinstance(note.what, Remark)],
            "notes": [(note, say(called, note)) for note in reversed(notes)],
        },
        status_code=int(HTTPStatus.BAD_REQUEST if sent else HTTPStatus.OK),
    )


def _notes_of(facts: Facts, trip: str) -> list[Note]:
    return [note for note in facts.books.notes if getattr(note.what, "trip", "") == trip]


def _beside(beside: TripCompared, found: Bought, notes: list[Note]) -> list[Beside]:
    by_event = {purchase.event: purchase for purchase in found.purchases}
    return [
        Beside(
            compared=each,
            purchase=by_event.get(each.event),
            photos=tuple(
                note
                for note in notes
                if isinstance(note.what, ReceiptKept) and each.event and note.what.done == each.event
            ),
        )
        for each in beside.transactions
    ]


def _spending(facts: Facts, trip: str) -> Spending:
    return next((each.spending for each in spent(facts.books) if each.trip == trip), Spending())


def _worth(found: Bought, claims: tuple[Claim, ...]) -> int:
    """Rebates at what they have come to, by the trip's own worth of a rebate."""
    rate = found.trip.settings.worth.rebate_bp
    return sum(claim.worth_cents(rate) for claim in claims)
