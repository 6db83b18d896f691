"""The plan of a trip in the making: what is being worked on while it is, then the plan with all beside it.

Planning goes on in the server whether anybody looks or not. The page answers at once: with the plan where
it is there, else with what is being done; it is asked again by its link, by the browser after some seconds
(``Refresh``), or by script, which looks more often.
"""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

import msgspec
from litestar import MediaType, Response, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath, FromQuery
from litestar.response import Redirect, Template
from litestar.status_codes import HTTP_303_SEE_OTHER

from ...errors import not_taken
from ...home.sent_changes import is_same, papers_changed
from ...home.trip_building import BuiltTrip
from ...homes import Home
from ...ledger import Ledger
from ...plans import Planning, PlanShelf, content_of, trip_of
from ...store.interface import Store
from ..names import Names
from ..plan_page import aisle_pages, transaction_pages
from .at_hand import DRAFTS, AtHand, Called, at_hand
from .choosing import things_to_forbid, things_to_pin
from .comparing import AGAINST_PHONES, compare_trip
from .plan_view import cards, deal_rows, decisions, is_ranked, moved_words
from .taking_back import taken_back_strip

PATIENCE_SECONDS = 0.4  # a plan that takes no longer is shown at once
REFRESH_SECONDS = 8


class PlanState(msgspec.Struct, frozen=True, kw_only=True):
    """What a page that waits asks for. ``words``: the step, ready to show."""

    step: str
    seconds: int
    words: str


@get("/drafts/{draft_id:str}/plan")
async def plan_page(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    store: NamedDependency[Store],
    plan_shelf: NamedDependency[PlanShelf],
    draft_id: FromPath[str],
    kept: FromQuery[int] = 0,
) -> Response[Any]:
    """The plan, or what is being worked on."""
    at = await at_hand(home, ledger, draft_id)
    if not any(store_id in at.snapshot.stores for store_id in at.draft.stores):
        return Redirect(f"{DRAFTS}/{draft_id}", status_code=HTTP_303_SEE_OTHER)
    built = at.build()
    planning = await plan_shelf.planning(built.trip, PATIENCE_SECONDS)
    if planning.found is None:
        return Template(
            "trips/working.html",
            context={"draft": at.draft, "planning": planning, "words": _step(planning), "trip": built.trip},
            headers={"Refresh": str(REFRESH_SECONDS)},
        )
    context = await _plan_context(store, plan_shelf, at, built, planning)
    context["strip"] = await taken_back_strip(home, kept)
    return Template("trips/plan.html", context=context)


@get("/drafts/{draft_id:str}/plan/state", media_type=MediaType.JSON)
async def plan_state(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    plan_shelf: NamedDependency[PlanShelf],
    draft_id: FromPath[str],
) -> PlanState:
    """How far it is."""
    planning = await plan_shelf.planning((await at_hand(home, ledger, draft_id)).build().trip)
    return PlanState(step=planning.step, seconds=planning.seconds, words=_step(planning))


@get("/drafts/{draft_id:str}/plan/arriving")
async def plan_arriving(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    store: NamedDependency[Store],
    plan_shelf: NamedDependency[PlanShelf],
    draft_id: FromPath[str],
    of: FromQuery[str] = "",
) -> Template:
    """What has arrived beside the plan so far: the parts that the page still waits for."""
    at = await at_hand(home, ledger, draft_id)
    built = at.build()
    planning = await plan_shelf.planning(built.trip, PATIENCE_SECONDS)
    if planning.found is None or (of and of != content_of(built.trip)):
        raise changed_meanwhile(of)
    context = await _plan_context(store, plan_shelf, at, built, planning)
    return Template("trips/arriving.html", context=context)


@post("/drafts/{draft_id:str}/plan/stop", status_code=HTTPStatus.OK)
async def stop_planning(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    plan_shelf: NamedDependency[PlanShelf],
    draft_id: FromPath[str],
) -> Response[Any]:
    """Gives the plan up for now and goes back to the form; nothing of the trip is lost."""
    plan_shelf.stop((await at_hand(home, ledger, draft_id)).build().trip)
    return Redirect(f"{DRAFTS}/{draft_id}", status_code=HTTP_303_SEE_OTHER)


def changed_meanwhile(of: str) -> Exception:
    """The answer to a page that shows an older state of the trip."""
    return not_taken(
        "of",
        of[:16],
        "The trip or its records were changed meanwhile: open the plan anew.",
        status=HTTPStatus.CONFLICT,
    )


async def _plan_context(
    store: Store, shelf: PlanShelf, at: AtHand, built: BuiltTrip, planning: Planning
) -> dict[str, Any]:
    trip, plan = built.trip, planning.found
    assert plan is not None
    names, called = Names(trip), Called(at.snapshot)
    stored = await store.trip(trip.id)
    sent = None if stored is None else trip_of(stored)
    same = sent is not None and is_same(trip, sent)
    heard = next((each.events for each in await store.trips() if each.id == trip.id), 0)
    comparison, scenarios = compare_trip(shelf, at, trip, plan, None if same else sent)
    rows = deal_rows(at.draft, trip, plan, names, comparison)
    against = comparison.answers.get(AGAINST_PHONES)
    return {
        "draft": at.draft,
        "trip": trip,
        "content": content_of(trip),
        "notes": built.notes,
        "plan": plan,
        "proving": planning.step == "proving",
        "improved": planning.improved,
        "names": names,
        "pages": transaction_pages(trip, plan),
        "aisles": aisle_pages(trip, plan),
        "deals": rows,
        "ranked": is_ranked(rows),
        "cards": cards(scenarios, comparison, called),
        "answered": len(comparison.answers) + len(comparison.failed),
        "asked": len(comparison.names),
        "decisions": decisions(at.draft, called),
        "to_pin": things_to_pin(trip, names),
        "to_forbid": things_to_forbid(trip, names),
        "sent": sent,
        "same": same,
        "heard": heard,
        "against": against,
        "against_moved": () if against is None else moved_words(against.moved, called),
        "papers": papers_changed(sent, trip) if sent is not None else (),
        "arriving": f"{DRAFTS}/{trip.id}/plan/arriving?of={content_of(trip)}",
    }


def _step(planning: Planning) -> str:
    """What is being done, in words."""
    if planning.step == "looking":
        return "Working out what to buy, where, with which coupons."
    return "The plan is there."
