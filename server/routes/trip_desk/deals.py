"""One product at a store: its deal in the plan, the other ways with it, and what its tag may cost."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from litestar import Response, get
from litestar.di import NamedDependency
from litestar.params import FromPath, FromQuery
from litestar.response import Redirect, Template
from litestar.status_codes import HTTP_303_SEE_OTHER

from ...engine.situation import counter_at, is_sold
from ...errors import not_taken
from ...home.draft_changes import Forbid
from ...home.household import Forbidden
from ...homes import Home
from ...ledger import Ledger
from ...plans import PlanShelf, content_of
from ..names import Names
from .at_hand import DRAFTS, AtHand, Called, at_hand
from .choosing import Spot
from .comparing import PRICES, compare_deal, compare_prices
from .plan_view import cards, deal_row, encode_change
from .planning import PATIENCE_SECONDS, changed_meanwhile


@get("/drafts/{draft_id:str}/deals/{store_id:str}/{product_id:str}")
async def deal_page(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    plan_shelf: NamedDependency[PlanShelf],
    draft_id: FromPath[str],
    store_id: FromPath[str],
    product_id: FromPath[str],
) -> Response[Any]:
    """A product at a store of the trip, bought there or not."""
    at = await at_hand(home, ledger, draft_id)
    context = await _context(at, plan_shelf, store_id, product_id)
    if context is None:
        return Redirect(f"{DRAFTS}/{draft_id}/plan", status_code=HTTP_303_SEE_OTHER)
    return Template("trips/deal.html", context=context)


@get("/drafts/{draft_id:str}/deals/{store_id:str}/{product_id:str}/arriving")
async def deal_arriving(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    plan_shelf: NamedDependency[PlanShelf],
    draft_id: FromPath[str],
    store_id: FromPath[str],
    product_id: FromPath[str],
    of: FromQuery[str] = "",
) -> Template:
    """What has arrived of it so far."""
    at = await at_hand(home, ledger, draft_id)
    context = await _context(at, plan_shelf, store_id, product_id)
    if context is None or (of and of != context["content"]):
        raise changed_meanwhile(of)
    return Template("trips/deal_arriving.html", context=context)


async def _context(at: AtHand, shelf: PlanShelf, store_id: str, product_id: str) -> dict[str, Any] | None:
    """None while the plan is not there."""
    trip = at.build().trip
    place = next((store for store in trip.stores if store.id == store_id), None)
    known = any(product.id == product_id for product in trip.products)
    if place is None or not known:
        raise not_taken(
            "product",
            f"{store_id}/{product_id}",
            "There is no such product at a store of this trip. The plan lists those that there are.",
            status=HTTPStatus.NOT_FOUND,
        )
    planning = await shelf.planning(trip, PATIENCE_SECONDS)
    plan = planning.found
    if plan is None:
        return None
    names, called = Names(trip), Called(at.snapshot)
    deal = next((each for each in plan.deals if (each.store, each.product) == (store_id, product_id)), None)
    here = Forbidden(what="product", id=product_id, store=store_id)
    anywhere = Forbidden(what="product", id=product_id)
    context: dict[str, Any] = {
        "draft": at.draft,
        "trip": trip,
        "content": content_of(trip),
        "names": names,
        "store_id": store_id,
        "product_id": product_id,
        "sold": is_sold(trip, counter_at(trip, place), product_id),
        "row": None,
        "cards": (),
        "spot": encode_change(Spot(store=store_id, product=product_id)).decode(),
        "not_here": encode_change(Forbid(thing=here)).decode(),
        "nowhere": encode_change(Forbid(thing=anywhere)).decode(),
        "arriving": f"{DRAFTS}/{at.draft.id}/deals/{store_id}/{product_id}/arriving?of={content_of(trip)}",
    }
    answered = asked = 0
    if deal is not None:
        comparison, scenarios = compare_deal(shelf, at, trip, plan, deal)
        context["row"] = deal_row(at.draft, trip, plan, names, comparison, deal)
        context["cards"] = cards(scenarios, comparison, called)
        answered, asked = len(comparison.answers) + len(comparison.failed), len(comparison.names)
    prices = compare_prices(shelf, at, trip, store_id, product_id)
    table = prices.answers.get(PRICES)
    return context | {
        "prices": table,
        "break_even": next((row.tag_cents for row in table or () if row.is_break_even), None),
        "prices_failed": PRICES in prices.failed,
        "answered": answered + int(prices.complete),
        "asked": asked + 1,
    }
