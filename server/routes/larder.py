"""``/desk/larder``: what is at home, what the week needs, counting, using up."""

from __future__ import annotations

from collections.abc import Sequence
from http import HTTPStatus
from typing import Any

import msgspec
from litestar import Response, Router, get, post
from litestar.di import NamedDependency
from litestar.params import FromQuery
from litestar.response import Template

from ..access import household
from ..engine.offers import Product
from ..errors import status_of
from ..home.larder import StapleState, amount, packs
from ..homes import Home, Snapshot
from ..intake.bad_input import BadInput
from ..ledger import Ledger
from ..store.facts import Facts, StockRow
from .fields import Fields
from .household_page import (
    LARGEST_FORM,
    Asked,
    Today,
    fields_of,
    go_to,
)

TYPED = "typed"  # the source of what is typed in here


class CountRow(msgspec.Struct, frozen=True, kw_only=True):
    """A product to count, with the packs that are noted of it."""

    product: Product
    noted: int


class CountGroup(msgspec.Struct, frozen=True, kw_only=True):
    """A staple's products to count."""

    name: str
    rows: Sequence[CountRow]


@get("/")
async def larder_page(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    today: Today,
    done: FromQuery[str] = "",
    counted: FromQuery[int] = 0,
) -> Template:
    """Every staple, the one that runs out first in front. ``done``: the product that was just used up;
    ``counted``: how many were just counted."""
    await ledger.refresh()
    snapshot, day = await home.snapshot(), today()
    states = sorted(await ledger.larder(snapshot, day), key=_first_to_run_out)
    return Template(
        "larder/larder.html",
        context={
            "states": states,
            "weeks": snapshot.settings.weeks_between_trips,
            "amount": amount,
            "packs": packs,
            "in_use": {state.staple.id: product_in_use(state) for state in states},
            "products": snapshot.products,
            "done": snapshot.products.get(done),
            "counted": counted,
        },
    )


@post("/used", status_code=HTTPStatus.OK)
async def used_one(
    request: Asked, home: NamedDependency[Home], facts: NamedDependency[Facts], today: Today
) -> Response[Any]:
    """Notes packs as used up today. Fields: ``product``, ``units`` (1), ``undo`` (takes them back)."""
    snapshot = await home.snapshot()
    fields = await fields_of(request, snapshot)
    product = fields.known(
        "product", snapshot.products, what="product", needed="name the product that was used"
    )
    units = fields.whole("units", low=1, high=10_000) or 1
    fields.finish()
    assert product is not None
    undo = fields.flag("undo")
    row = StockRow(product=product, day=today(), units=units if undo else -units, how="used")
    await facts.add_stock(TYPED, [row])
    return go_to("/desk/larder" if undo else f"/desk/larder?done={product}")


@get("/count")
async def count_form(
    home: NamedDependency[Home], ledger: NamedDependency[Ledger], today: Today, search: FromQuery[str] = ""
) -> Template:
    """A field for each product of the staples; with ``search``, of those whose names have all the words."""
    await ledger.refresh()
    snapshot = await home.snapshot()
    typed = Fields.of({"day": [today()]}).typed
    return _count_page(snapshot, await ledger.larder(snapshot, today()), typed, search)


@post("/count", status_code=HTTPStatus.OK, request_max_body_size=LARGEST_FORM)
async def take_count(
    request: Asked,
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    facts: NamedDependency[Facts],
    today: Today,
) -> Response[Any]:
    """Keeps every count that was typed (``count-PRODUCT``); what was left blank was not counted."""
    snapshot = await home.snapshot()
    fields = await fields_of(request, snapshot)
    day = fields.day("day") or today()
    if day > today():
        fields.wrong("day", "a day that has come: what is there tomorrow nobody has counted")
    rows: list[StockRow] = []
    for name in fields.typed:
        product = name.removeprefix("count-")
        if product == name or product not in snapshot.products:
            continue
        units = fields.whole(name)
        if units is not None:
            rows.append(StockRow(product=product, day=day, units=units, how="counted"))
    if not rows and not fields.findings:
        fields.wrong("day", "count at least one product: write how many packs of it are there", "no count")
    try:
        fields.finish()
    except BadInput as error:
        states = await ledger.larder(snapshot, today())
        return _count_page(snapshot, states, fields.typed, fields.text("search"), error)
    await facts.add_stock(TYPED, rows)
    return go_to(f"/desk/larder?counted={len(rows)}")


larder_router = Router(
    "/desk/larder",
    route_handlers=[larder_page, used_one, count_form, take_count],
    guards=[household],
    include_in_schema=False,
)


def product_in_use(state: StapleState) -> str | None:
    """The product that "used one" means: of those at home, the one that she likes best."""
    return next((id for id in state.staple.products if state.level.packs.get(id)), None)


def _first_to_run_out(state: StapleState) -> tuple[bool, str, str]:
    return (not state.need, state.runs_out or "9999-12-31", state.staple.name.lower())


def _count_page(
    snapshot: Snapshot,
    states: Sequence[StapleState],
    typed: Any,
    search: str = "",
    error: BadInput | None = None,
) -> Template:
    words = search.lower().split()
    groups: list[CountGroup] = []
    for state in states:
        known = [snapshot.products[id] for id in state.staple.products if id in snapshot.products]
        rows = [
            CountRow(product=product, noted=state.level.packs.get(product.id, 0))
            for product in known
            if all(word in f"{state.staple.name} {product.description}".lower() for word in words)
        ]
        if rows:
            groups.append(CountGroup(name=state.staple.name, rows=rows))
    findings = error.findings if error else ()
    return Template(
        "larder/count.html",
        context={
            "groups": groups,
            "typed": typed,
            "search": search,
            "findings": findings,
            "labels": {f"count-{id}": product.description for id, product in snapshot.products.items()}
            if findings
            else {},
        },
        status_code=int(status_of(error)) if error else int(HTTPStatus.OK),
    )
