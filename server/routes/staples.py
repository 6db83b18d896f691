"""``/desk/larder/staples``: one staple with every number explained, and the form that says what it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from http import HTTPStatus
from typing import Any

import msgspec
from litestar import Response, Router, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Template

from ..access import household
from ..engine.measure import UNITS
from ..engine.money import SYMBOLS, show
from ..errors import status_of
from ..home.household import Staple
from ..home.larder import amount, packs, state_of
from ..home.naming import id_from
from ..home.price_book import from_money, in_money
from ..homes import Home, Snapshot
from ..intake.bad_input import BadInput, Finding
from ..ledger import Ledger
from ..store.facts import Facts
from .fields import Fields, Typed
from .household_page import (
    LARGEST_FORM,
    Asked,
    Shown,
    Today,
    device_of,
    fields_of,
    fits,
    go_to,
    no_such,
    product_meant,
    units_by_kind,
)

LIST = "/desk/larder"
LABELS = {
    "name": "Name",
    "words": "Products that will do",
    "per": "Used and compared by the",
    "stock_up": "Stock-up price",
    "weekly_use": "Weekly use",
    "keep": "Always keep",
    "room": "Room for",
    "note": "Note",
    "revision": "The record",
}
LAST_MOVES = 12


@get("/new")
async def new_staple(request: Asked, home: NamedDependency[Home]) -> Template:
    """A blank form; ``?product=ID`` begins it with a product."""
    snapshot = await home.snapshot()
    product = snapshot.products.get(request.query_params.get("product", ""))
    values: dict[str, list[str]] = {"keep": ["0"], "per": ["piece"]}
    if product is not None:
        values |= {"products": [product.id], "name": [product.description], "per": [product.size.unit]}
    return _form_page(snapshot, Fields.of(values).typed, None)


@post("/new", status_code=HTTPStatus.OK, request_max_body_size=LARGEST_FORM)
async def add_staple(request: Asked, home: NamedDependency[Home]) -> Response[Any]:
    """Keeps a new staple, or shows the form again."""
    return await _sent(request, home, None)


@get("/{id:str}")
async def staple_page(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    facts: NamedDependency[Facts],
    today: Today,
    id: FromPath[str],
) -> Template:
    """A staple as it stands: what is at home, what the week needs and why, and its last moves."""
    await ledger.refresh()
    snapshot, day = await home.snapshot(), today()
    staple = _there(snapshot, id)
    moves = await facts.stock_of(*staple.products)
    state = state_of(staple, snapshot.products, moves, snapshot.settings.weeks_between_trips, day)
    return Template(
        "larder/staple.html",
        context={
            "staple": staple,
            "state": state,
            "moves": list(reversed(moves))[:LAST_MOVES],
            "products": snapshot.products,
            "amount": amount,
            "packs": packs,
            "fraction": Fraction,
            "shown": Shown(snapshot),
        },
    )


@get("/{id:str}/change")
async def staple_form(home: NamedDependency[Home], id: FromPath[str]) -> Template:
    """The staple on its form."""
    snapshot = await home.snapshot()
    staple = _there(snapshot, id)
    typed = Fields.of(_filled(staple, snapshot)).typed
    return _form_page(snapshot, typed, id, revision=snapshot.revisions["staple", id])


@post("/{id:str}/change", status_code=HTTPStatus.OK, request_max_body_size=LARGEST_FORM)
async def change_staple(request: Asked, home: NamedDependency[Home], id: FromPath[str]) -> Response[Any]:
    """Keeps the change, or shows the form again."""
    return await _sent(request, home, id)


@post("/{id:str}/remove", status_code=HTTPStatus.OK)
async def remove_staple(request: Asked, home: NamedDependency[Home], id: FromPath[str]) -> Response[Any]:
    """Takes the staple out, unless a trip in the making names it; its products and stock stay."""
    snapshot = await home.snapshot()
    staple = _there(snapshot, id)
    try:
        await home.remove("staple", id, device=device_of(request))
    except BadInput as error:
        typed = Fields.of(_filled(staple, snapshot)).typed
        return _form_page(snapshot, typed, id, revision=snapshot.revisions["staple", id], error=error)
    return go_to(LIST)


staples_router = Router(
    "/desk/larder/staples",
    route_handlers=[new_staple, add_staple, staple_page, staple_form, change_staple, remove_staple],
    guards=[household],
    include_in_schema=False,
)


async def _sent(request: Asked, home: Home, id: str | None) -> Response[Any]:
    snapshot = await home.snapshot()
    fields = await fields_of(request, snapshot)
    revision = fields.whole("revision", high=10**9) or 0
    if id is not None:
        _there(snapshot, id)
    finding = fields.text("do") == "find"
    products = _products(fields, snapshot, needed="" if finding else "name at least one product")
    if finding and not fields.findings:
        values = {name: list(fields.typed.all(name)) for name in fields.typed}
        return _form_page(
            snapshot,
            Fields.of({**values, "products": products, "words": []}).typed,
            id,
            revision=revision,
            at="words",
        )
    staple = _read(fields, products, id, snapshot) if not finding else None
    try:
        fields.finish()
        assert staple is not None
        await home.save(
            [staple],
            words=f"{'New' if id is None else 'Changed'} staple: {staple.name}",
            device=device_of(request),
            revisions={("staple", staple.id): revision},
        )
    except BadInput as error:
        return _form_page(snapshot, fields.typed, id, revision=revision, error=error)
    return go_to(f"{LIST}/staples/{staple.id}")


def _products(fields: Fields, snapshot: Snapshot, *, needed: str) -> list[str]:
    """The products that stay ticked by their places, then the one that was typed or chosen."""
    ticked = [id for id in dict.fromkeys(fields.lines("products")) if id in snapshot.products]
    places = {id: fields.whole(f"place-{id}", low=1, high=999) or 999 for id in ticked}
    ordered = sorted(ticked, key=lambda id: places[id])
    ordered += [id for id in fields.lines("chosen") if id in snapshot.products]
    if not fields.lines("chosen") and (added := product_meant(fields, "words", snapshot.products)):
        ordered.append(added)
    if needed and not ordered and not fields.findings:
        fields.wrong("words", needed, "nothing")
    return list(dict.fromkeys(ordered))


def _read(fields: Fields, products: Sequence[str], id: str | None, snapshot: Snapshot) -> Staple | None:
    name = fields.text("name", needed="write what the household calls it")
    per = fields.choice("per", tuple(UNITS), "piece")
    stock_up, weekly = _stock_up(fields, snapshot), fields.decimal("weekly_use")
    keep, room, note = fields.decimal("keep") or "0", fields.decimal("room"), fields.text("note")
    if fields.findings:
        return None
    return Staple(
        id=id or id_from(name, snapshot.staples, "staple"),
        name=name,
        products=tuple(products),
        per=per,
        stock_up_cents=stock_up,
        weekly_use=weekly,
        keep=keep,
        room=room,
        note=note,
    )


def _stock_up(fields: Fields, snapshot: Snapshot) -> str | None:
    """Her stock-up price: typed in money, kept in cents, with all the digits that she wants."""
    settings = snapshot.settings
    text = fields.text("stock_up").removeprefix(SYMBOLS.get(settings.currency, settings.currency)).strip()
    cents = from_money(text, settings.exponent) if text else None
    if text and cents is None:
        example = show(25, settings.currency, settings.exponent)
        fields.wrong("stock_up", f"an amount for one unit of measure, as in {example}")
    return cents


def _filled(staple: Staple, snapshot: Snapshot) -> Mapping[str, Sequence[str]]:
    """The form of a staple as one would have typed it."""
    texts = {
        "name": staple.name,
        "per": staple.per,
        "stock_up": staple.stock_up_cents and in_money(staple.stock_up_cents, snapshot.settings.exponent),
        "weekly_use": staple.weekly_use,
        "keep": staple.keep,
        "room": staple.room,
        "note": staple.note,
    }
    return {**{name: [text] for name, text in texts.items() if text}, "products": staple.products}


def _form_page(
    snapshot: Snapshot,
    typed: Typed,
    id: str | None,
    *,
    revision: int = 0,
    error: BadInput | None = None,
    at: str = "",
) -> Template:
    """``at``: the field that she goes on from."""
    findings = _of_form(error)
    chosen = [snapshot.products[id] for id in typed.all("products") if id in snapshot.products]
    return Template(
        "larder/staple_form.html",
        context={
            "id": id,
            "revision": revision,
            "typed": typed,
            "chosen": chosen,
            "fits": fits(typed["words"], snapshot.products),
            "units": units_by_kind(),
            "findings": findings,
            "labels": LABELS,
            "at": at,
        },
        status_code=int(status_of(error)) if error else int(HTTPStatus.OK),
    )


def _of_form(error: BadInput | None) -> Sequence[Finding]:
    """Findings of the record, by the fields that it was read from."""
    if error is None:
        return ()
    of_path = {"stock_up_cents": "stock_up", "id": "name"}
    found: list[Finding] = []
    for each in error.findings:
        field = "words" if each.field.startswith("products") else of_path.get(each.field, each.field)
        found.append(msgspec.structs.replace(each, field=field))
    return found


def _there(snapshot: Snapshot, id: str) -> Staple:
    staple = snapshot.staples.get(id)
    if staple is None:
        raise no_such("staple", id, LIST)
    return staple
