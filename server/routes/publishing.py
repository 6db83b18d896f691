"""``/desk/trips/ID/publish`` and ``/desk/published``: pages of a trip for readers, made at the Desk.

Nothing leaves this server by itself: the planner downloads the folder and puts it at a host of her choice.
"""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

import msgspec
from litestar import Request, Response, Router, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Redirect, Template
from litestar.status_codes import HTTP_303_SEE_OTHER

from ..access import household
from ..after.publishing.choices import PublishChoices
from ..engine.offers import Trip
from ..engine.papers import Plan
from ..errors import not_taken, status_of
from ..intake.bad_input import BadInput, Finding
from ..plans import PlanShelf, trip_of
from ..press import Press
from ..security import KILOBYTE
from ..store.interface import Store
from .fields import Fields, Typed
from .names import Names
from .trips import stored_trip

_REFRESH_SECONDS = "2"
_LABELS = {
    "trip": "The page of this trip",
    "title": "Title of this trip's page",
    "author": "Published by",
    "address": "Address of the site's folder",
    "site_title": "Title of the site",
    "introduction": "Introduction",
    "wants": "Deals to tell",
}


class DealBox(msgspec.Struct, frozen=True, kw_only=True):
    """One want on the form: its id, its name at home, what the plan buys for it."""

    want: str
    name: str
    bought: str


@get("/trips/{trip_id:str}/publish")
async def publish_form(
    store: NamedDependency[Store],
    plan_shelf: NamedDependency[PlanShelf],
    press: NamedDependency[Press],
    trip_id: FromPath[str],
) -> Template:
    """What to tell, and under whose name; all that is the household's own is off."""
    stored = await stored_trip(store, trip_id)
    trip, plan = trip_of(stored), await plan_shelf.plan_of(stored)
    site = await press.site()
    told = {deal.want for deal in plan.deals}
    blank = Fields.of(
        {
            "address": [site.address if site else ""],
            "author": [site.author if site else ""],
            "site_title": [site.title if site else ""],
            "wants": [want.id for want in trip.wants if want.id in told],
            "stock_up": ["yes"],
        }
    )
    return _form(trip, plan, blank.typed)


@post(
    "/trips/{trip_id:str}/publish",
    request_max_body_size=256 * KILOBYTE,  # a thousand wants, each a box
    status_code=HTTPStatus.OK,
)
async def publish_trip(
    request: Request[Any, Any, Any],
    store: NamedDependency[Store],
    plan_shelf: NamedDependency[PlanShelf],
    press: NamedDependency[Press],
    trip_id: FromPath[str],
) -> Response[Any]:
    """Begins to make the pages, or shows the form again with every finding and all that was typed."""
    stored = await stored_trip(store, trip_id)
    trip, plan = trip_of(stored), await plan_shelf.plan_of(stored)
    fields = Fields(await request.form())
    choices = PublishChoices(
        address=fields.typed["address"],
        author=fields.typed["author"],
        title=fields.typed["title"],
        site_title=fields.typed["site_title"],
        introduction=fields.typed["introduction"],
        wants=fields.lines("wants"),
        counts=fields.flag("counts"),
        stock_up=fields.flag("stock_up"),
        notes=fields.flag("notes"),
        where=fields.flag("where"),
        register_coupons=fields.flag("register_coupons"),
    )
    try:
        await press.start(trip, plan, choices)
    except BadInput as error:
        return _form(trip, plan, fields.typed, error.findings, status_of(error))
    return Redirect("/desk/published", status_code=HTTP_303_SEE_OTHER)


@get("/published")
async def published(press: NamedDependency[Press]) -> Template:
    """What is published, how far a page is that is being made, and the folder to download."""
    site, last = await press.site(), press.last
    return Template(
        "published_desk.html",
        context={"site": site, "last": last},
        # Without any script: the page asks again by itself until the new one is made.
        headers={"Refresh": _REFRESH_SECONDS} if last is not None and last.running else {},
    )


@get("/published/site.zip", opt={"packed_here": True})
async def download(press: NamedDependency[Press]) -> Response[bytes]:
    """The whole folder as one zip file."""
    if await press.site() is None:
        raise not_taken(
            "folder", "", "Nothing is published yet. A trip's page has the form.", status=HTTPStatus.NOT_FOUND
        )
    return Response(
        await press.archive(),
        media_type="application/zip",
        headers={"Content-Disposition": 'attachment; filename="counterfoil-site.zip"'},
    )


@post("/published/{slug:str}/withdraw", status_code=HTTPStatus.OK)
async def withdraw_trip(press: NamedDependency[Press], slug: FromPath[str]) -> Redirect:
    """Takes a trip off the site's folder."""
    await press.withdraw(slug)
    return Redirect("/desk/published", status_code=HTTP_303_SEE_OTHER)


publishing_router = Router(
    "/desk",
    route_handlers=[publish_form, publish_trip, published, download, withdraw_trip],
    guards=[household],
    include_in_schema=False,
)


def _form(
    trip: Trip,
    plan: Plan,
    typed: Typed,
    findings: tuple[Finding, ...] = (),
    status: HTTPStatus = HTTPStatus.OK,
) -> Template:
    names = Names(trip)
    boxes = [
        DealBox(
            want=want.id,
            name=names.want(want.id),
            bought=", ".join(
                f"{deal.units} × {names.product(deal.product)} at {names.store(deal.store)}"
                for deal in plan.deals
                if deal.want == want.id
            )
            or "not bought by the plan",
        )
        for want in trip.wants
    ]
    return Template(
        "published_form.html",
        context={
            "trip": trip,
            "boxes": boxes,
            "typed": typed,
            "ticked": set(typed.all("wants")),
            "findings": findings,
            "labels": _LABELS,
        },
        status_code=int(status),
    )
