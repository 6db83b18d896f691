"""Trips in and trip packages out, for phones and other programs.

A trip package is what a phone carries into the store: the trip, the plan as it was when she left
home, and ``package_version``, which changes whenever the trip does.
"""

from __future__ import annotations

import json
from http import HTTPStatus
from typing import Any

import msgspec
from litestar import MediaType, Request, Response, Router, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath

from ..access import household
from ..engine.offers import Trip
from ..engine.papers import Plan
from ..errors import not_taken
from ..intake.documents import read_trip
from ..intake.schemas import DOCUMENTS, schema_of
from ..plans import PlanShelf, trip_of
from ..security import LARGEST_TRIP, no_endless_number
from ..store.interface import Store, StoredTrip, VersionTaken
from .interface import takes

# Sorted keys and no default fields: equal trips are equal bytes, and so have one content hash.
encode_trip = msgspec.json.Encoder(order="deterministic").encode


class TripHead(msgspec.Struct, frozen=True, kw_only=True):
    """A trip in the list."""

    id: str
    title: str
    day: str
    version: int
    package_version: str


class TripList(msgspec.Struct, frozen=True, kw_only=True):
    """The trips that can be carried, newest day first."""

    trips: tuple[TripHead, ...]


class TripPackage(msgspec.Struct, frozen=True, kw_only=True):
    """What a phone carries."""

    trip: Trip
    plan: Plan
    package_version: str


class TripSaved(msgspec.Struct, frozen=True, kw_only=True):
    """The answer to a trip brought in. ``changed``: False if just this content was here already."""

    id: str
    version: int
    changed: bool


@get("/")
async def list_trips(store: NamedDependency[Store]) -> TripList:
    """All trips."""
    heads = (
        TripHead(
            id=trip.id,
            title=trip.title,
            day=trip.day,
            version=trip.version,
            package_version=package_version(trip.content),
        )
        for trip in await store.trips()
    )
    return TripList(trips=tuple(heads))


@get("/{trip_id:str}")
async def trip_package(
    request: Request[Any, Any, Any],
    store: NamedDependency[Store],
    plan_shelf: NamedDependency[PlanShelf],
    trip_id: FromPath[str],
) -> Response[bytes | None]:
    """One trip to carry; 304 to a phone that has it as it is."""
    stored = await stored_trip(store, trip_id)
    version = package_version(stored.content)
    caching = {"ETag": f'W/"{version}"', "Cache-Control": "no-cache"}
    if f'"{version}"' in request.headers.get("if-none-match", ""):
        return Response(None, status_code=HTTPStatus.NOT_MODIFIED, headers=caching)
    package = TripPackage(
        trip=trip_of(stored), plan=await plan_shelf.plan_of(stored), package_version=version
    )
    return Response(msgspec.json.encode(package), media_type=MediaType.JSON, headers=caching)


@post("/", request_max_body_size=LARGEST_TRIP, operation_class=takes("Trip"))
async def bring_trip_in(request: Request[Any, Any, Any], store: NamedDependency[Store]) -> TripSaved:
    """Takes a trip document (``GET /api/schema/trip``); a higher version replaces the one before."""
    return await save_trip(store, await request.body())


@get("/api/schema/{name:str}")
async def schema(name: FromPath[str]) -> Response[bytes]:
    """The JSON Schema of a document."""
    if name not in DOCUMENTS:
        raise not_taken(
            "name", name, f"There are schemas of {', '.join(DOCUMENTS)}.", status=HTTPStatus.NOT_FOUND
        )
    return Response(json.dumps(schema_of(name), indent=2).encode(), media_type="application/schema+json")


trips_router = Router(
    "/api/trips",
    route_handlers=[list_trips, trip_package, bring_trip_in],
    guards=[household],
    opt={"exclude_from_csrf": True},
)


def package_version(content: str) -> str:
    """The version of a trip's package: the start of its content's hash."""
    return content[:16]


async def stored_trip(store: Store, trip_id: str) -> StoredTrip:
    """The trip of that id; raises the 404 that names it."""
    stored = await store.trip(trip_id)
    if stored is None:
        raise not_taken(
            "trip",
            trip_id,
            "There is no such trip here. The trips are listed at /desk.",
            status=HTTPStatus.NOT_FOUND,
        )
    return stored


async def save_trip(store: Store, body: bytes) -> TripSaved:
    """Reads, checks and keeps a trip; raises ``BadInput`` with every finding, and keeps nothing then."""
    no_endless_number(body)
    trip = read_trip(body)
    try:
        changed = await store.save_trip(
            trip_id=trip.id,
            version=trip.version,
            title=trip.title,
            day=trip.day,
            document=encode_trip(trip),
        )
    except VersionTaken as taken:
        raise not_taken(
            "version",
            trip.version,
            f"Version {taken.kept_version} of this trip is kept, with other content. "
            f"Give yours a version above {taken.kept_version}, or another id.",
            status=HTTPStatus.CONFLICT,
        ) from taken
    return TripSaved(id=trip.id, version=trip.version, changed=changed)
