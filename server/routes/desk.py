"""The Desk: pages for home, made on the server, that work and print without any script."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from http import HTTPStatus
from typing import Any

import msgspec
from litestar import Request, Response, Router, get, post
from litestar.datastructures import UploadFile
from litestar.di import NamedDependency
from litestar.params import FromPath, FromQuery
from litestar.response import Redirect, Template
from litestar.status_codes import HTTP_303_SEE_OTHER

from ..access import household
from ..errors import bad_input, status_of
from ..homes import Home, Snapshot
from ..intake.bad_input import BadInput, Finding
from ..plans import PlanShelf, trip_of
from ..security import LARGEST_TRIP
from ..store.interface import Store
from .came_home import came_home
from .fields import Fields
from .names import Names
from .plan_page import aisle_pages, transaction_pages
from .trip_desk.taking_back import taken_back_strip
from .trips import save_trip, stored_trip


class Step(msgspec.Struct, frozen=True, kw_only=True):
    """Something to do first. ``have``: what is there of it already, in words."""

    words: str
    why: str
    address: str
    done: bool
    have: str


class DraftRow(msgspec.Struct, frozen=True, kw_only=True):
    """A trip in the making. ``version``: that phones carry, 0 for none."""

    id: str
    title: str
    day: str
    where: str
    version: int
    is_past: bool


@get("/")
async def start_page(
    store: NamedDependency[Store],
    home: NamedDependency[Home],
    today: NamedDependency[Callable[[], str]],
    kept: FromQuery[int] = 0,
) -> Template:
    """This week: trips in the making, trips out, and on the first day what to do first."""
    return await _start_page(store, home, today(), kept=kept)


@post("/trips", request_max_body_size=LARGEST_TRIP, status_code=HTTPStatus.OK)
async def upload_trip(
    request: Request[Any, Any, Any],
    store: NamedDependency[Store],
    home: NamedDependency[Home],
    today: NamedDependency[Callable[[], str]],
) -> Response[Any]:
    """Takes a trip file; shows the trip, or the list again with every finding."""
    try:
        upload: object = (await request.form()).get("trip")
        body = await upload.read() if isinstance(upload, UploadFile) else b""
        if not body:
            raise bad_input("trip", "", "Choose a trip file (JSON) first.")
        saved = await save_trip(store, body)
    except BadInput as error:
        return await _start_page(store, home, today(), findings=error.findings, status=status_of(error))
    return Redirect(f"/desk/trips/{saved.id}", status_code=HTTP_303_SEE_OTHER)


@post("/take-back", status_code=HTTPStatus.OK)
async def take_back(request: Request[Any, Any, Any], home: NamedDependency[Home]) -> Response[Any]:
    """Undoes what the start page says was just kept."""
    fields = Fields(await request.form())
    batch = fields.whole("batch", needed="name the change to take back", high=10**9)
    fields.finish()
    assert batch is not None
    await home.take_back(batch, device=str(request.user.id))
    return Redirect("/desk", status_code=HTTP_303_SEE_OTHER)


@get("/trips/{trip_id:str}")
async def trip_page(
    request: Request[Any, Any, Any],
    store: NamedDependency[Store],
    home: NamedDependency[Home],
    plan_shelf: NamedDependency[PlanShelf],
    today: NamedDependency[Callable[[], str]],
    trip_id: FromPath[str],
    sent: FromQuery[int] = 0,
) -> Template:
    """The plan, ready to print, and what came home."""
    stored = await stored_trip(store, trip_id)
    trip = trip_of(stored)
    plan = await plan_shelf.plan_of(stored)
    return Template(
        "trip.html",
        context={
            "trip": trip,
            "names": Names(trip),
            "plan": plan,
            "pages": transaction_pages(trip, plan),
            "aisles": aisle_pages(trip, plan),
            "sent": bool(sent),
            "in_the_making": trip_id in (await home.snapshot()).drafts,
            "home": came_home(trip, await store.events_of(trip_id), today()),
        },
    )


desk_router = Router(
    "/desk", route_handlers=[start_page, upload_trip, take_back, trip_page], guards=[household]
)


async def _start_page(
    store: Store,
    home: Home,
    today: str,
    *,
    kept: int = 0,
    findings: tuple[Finding, ...] = (),
    status: HTTPStatus = HTTPStatus.OK,
) -> Template:
    snapshot = await home.snapshot()
    trips = await store.trips()
    steps = _first_steps(snapshot, bool(trips))
    return Template(
        "desk.html",
        context={
            "strip": await taken_back_strip(home, kept),
            "empty": not snapshot.stores and not snapshot.products,
            "first": () if all(step.done for step in steps) else steps,
            "drafts": _draft_rows(snapshot, {trip.id: trip.version for trip in trips}, today),
            "trips": trips,
            "findings": findings,
        },
        status_code=int(status),
    )


def _draft_rows(snapshot: Snapshot, versions: Mapping[str, int], today: str) -> list[DraftRow]:
    """Trips to come by day, then those of the past, the latest first."""
    rows = [
        DraftRow(
            id=draft.id,
            title=draft.title,
            day=draft.day,
            where=", ".join(snapshot.stores[store].name for store in draft.stores if store in snapshot.stores)
            or "no store yet",
            version=versions.get(draft.id, 0),
            is_past=draft.day < today,
        )
        for draft in snapshot.drafts.values()
    ]
    to_come = sorted((row for row in rows if not row.is_past), key=lambda row: row.day)
    return to_come + sorted((row for row in rows if row.is_past), key=lambda row: row.day, reverse=True)


def _first_steps(snapshot: Snapshot, has_trips: bool) -> list[Step]:
    def step(words: str, why: str, address: str, count: int, what: str) -> Step:
        have = f"{count} {what}{'' if count == 1 else 's'}"
        return Step(words=words, why=why, address=address, done=count > 0, have=have)

    offers = len(snapshot.coupons) + len(snapshot.rewards) + len(snapshot.percent_offers)
    return [
        step(
            "Write down the stores you go to",
            "With the rules of the house: how many coupons on an item, whether they are doubled.",
            "/desk/offers/store/new",
            len(snapshot.stores),
            "store",
        ),
        step(
            "Take in the week's tags and goods",
            "Typed, pasted from a list, by bar code, or from a file.",
            "/desk/offers",
            len(snapshot.prices),
            "tag",
        ),
        step(
            "Take in coupons and offers",
            "Each is kept until it ends, and laid beside every trip that it may help.",
            "/desk/offers",
            offers,
            "offer",
        ),
        step(
            "Say what you always have at home",
            "A staple is several products that will do, and the price at which you stock up.",
            "/desk/larder",
            len(snapshot.staples),
            "staple",
        ),
        step(
            "Plan the first trip",
            "Pick stores and a day; the plan is proven to the cent and goes to your phone.",
            "/desk/trips/new",
            len(snapshot.drafts) or int(has_trips),
            "trip",
        ),
    ]
