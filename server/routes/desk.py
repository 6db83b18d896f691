"""The Desk: pages for home, made on the server, that work and print without any script."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from litestar import Request, Response, Router, get, post
from litestar.datastructures import UploadFile
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Redirect, Template
from litestar.status_codes import HTTP_303_SEE_OTHER

from ..access import household
from ..errors import bad_input, status_of
from ..intake.bad_input import BadInput, Finding
from ..plans import PlanShelf, trip_of
from ..security import LARGEST_TRIP
from ..store.interface import Store
from .came_home import came_home
from .names import Names
from .plan_page import transaction_pages
from .trips import save_trip, stored_trip


@get("/")
async def trip_list(store: NamedDependency[Store]) -> Template:
    """All trips, and the form that brings one in."""
    return await _list_page(store)


@post("/trips", request_max_body_size=LARGEST_TRIP, status_code=HTTPStatus.OK)
async def upload_trip(request: Request[Any, Any, Any], store: NamedDependency[Store]) -> Response[Any]:
    """Takes a trip file; shows the trip, or the list again with every finding."""
    try:
        upload: object = (await request.form()).get("trip")
        body = await upload.read() if isinstance(upload, UploadFile) else b""
        if not body:
            raise bad_input("trip", "", "Choose a trip file (JSON) first.")
        saved = await save_trip(store, body)
    except BadInput as error:
        return await _list_page(store, findings=error.findings, status=status_of(error))
    return Redirect(f"/desk/trips/{saved.id}", status_code=HTTP_303_SEE_OTHER)


@get("/trips/{trip_id:str}")
async def trip_page(
    request: Request[Any, Any, Any],
    store: NamedDependency[Store],
    plan_shelf: NamedDependency[PlanShelf],
    trip_id: FromPath[str],
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
            "home": came_home(trip, await store.events_of(trip_id)),
        },
    )


desk_router = Router("/desk", route_handlers=[trip_list, upload_trip, trip_page], guards=[household])


async def _list_page(
    store: Store, findings: tuple[Finding, ...] = (), status: HTTPStatus = HTTPStatus.OK
) -> Template:
    return Template(
        "desk.html", context={"trips": await store.trips(), "findings": findings}, status_code=int(status)
    )
