"""Photos of receipts: kept with a note, shown, and erased for good after a page has asked."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from litestar import MediaType, Response, get, post
from litestar.concurrency import sync_to_thread
from litestar.datastructures import UploadFile
from litestar.di import NamedDependency
from litestar.params import FromPath, FromQuery
from litestar.response import Template

from ...access import owner
from ...after.notes import Note, ReceiptKept
from ...after.receipt_photo import receipt_photo
from ...errors import NotTaken, bad_input, not_taken
from ...homes import Home
from ...intake.bad_input import BadInput
from ...intake.day_words import day_in_words
from ...intake.pictures import LARGEST_PICTURE
from ...ledger import Ledger
from ...notebook import Notebook, photo_of
from ...plans import PlanShelf
from ...store.interface import Store
from ...store.photos import Photos
from ..fields import Fields
from ..household_page import Asked, Today, device_of, go_to, no_such
from .one_trip import trip_page
from .page import Called, facts_of, note_id, turned_down

MULTIPART = 10_000  # bytes that a form adds around its file


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
    photos: NamedDependency[Photos],
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
        return await trip_page(store, plan_shelf, photos, facts, trip_id, sent)
    return go_to(f"/desk/trips/{trip_id}/settle#photos")


@get("/settle/photos/{photo_id:str}", media_type=MediaType.TEXT)
async def show_photo(
    photos: NamedDependency[Photos], today: Today, photo_id: FromPath[str]
) -> Response[bytes]:
    """A kept photo; 410 for one that was erased."""
    photo = await photos.photo(photo_id.removesuffix(".jpg"))
    if photo is None:
        raise await _gone(photos, photo_id.removesuffix(".jpg"), today())
    return Response(photo.jpeg, media_type="image/jpeg")


@get("/settle/photos/{photo_id:str}/erase", guards=[owner])
async def erasing_page(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    photos: NamedDependency[Photos],
    today: Today,
    photo_id: FromPath[str],
    trip: FromQuery[str] = "",
) -> Template:
    """Asks whether it is really to go, and says what that means. ``trip``: whose page she comes from."""
    facts = await facts_of(home, ledger, today())
    if await photos.photo(photo_id) is None:
        raise await _gone(photos, photo_id, today())
    about = [
        row.what
        for row in facts.books.rows
        if isinstance(row.what, ReceiptKept) and row.what.photo == photo_id
    ]
    called = Called(facts)
    return Template(
        "settle/erase.html",
        context={
            "photo": photo_id,
            "trip": trip if facts.books.trip(trip) is not None else "",
            "trips": list(dict.fromkeys(called.trip(what.trip) for what in about)),
            "words": list(dict.fromkeys(what.words for what in about if what.words)),
        },
    )


@post("/settle/photos/{photo_id:str}/erase", status_code=HTTPStatus.OK, guards=[owner])
async def erase_photo(
    request: Asked,
    ledger: NamedDependency[Ledger],
    photos: NamedDependency[Photos],
    today: Today,
    photo_id: FromPath[str],
) -> Response[Any]:
    """Erases it for good. Field ``trip``: whose page she comes from."""
    trip = Fields(await request.form()).text("trip", longest=80)
    if not await photos.erase(photo_id, device=device_of(request)):
        raise await _gone(photos, photo_id, today())
    known = (await ledger.books()).trip(trip) is not None
    return go_to(f"/desk/trips/{trip}/settle?erased=yes" if known else "/desk/settle")


async def _gone(photos: Photos, photo_id: str, today: str) -> NotTaken:
    erased = (await photos.erased()).get(photo_id, "")
    if not erased:
        return not_taken("photo", photo_id, "There is no such photo.", status=HTTPStatus.NOT_FOUND)
    mend = f"It was erased on {day_in_words(erased[:10], today)}, and cannot be brought back."
    return not_taken("photo", photo_id, mend, status=HTTPStatus.GONE)
