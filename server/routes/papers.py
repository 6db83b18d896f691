"""``/desk/binder/...``: slips, gift cards and rain checks that are typed in, changed and taken out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from http import HTTPStatus
from typing import Any

import msgspec
from litestar import Response, Router, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Template

from ..access import household
from ..engine.offers import GiftCard, RainCheck, Slip
from ..errors import status_of
from ..home.naming import id_from
from ..homes import Home, Snapshot
from ..intake.bad_input import BadInput, Finding
from .binder import LIST
from .fields import Fields, Typed
from .household_page import (
    Asked,
    Shown,
    device_of,
    fields_of,
    fits,
    go_to,
    no_such,
    product_meant,
    stores_of,
)

Paper = Slip | GiftCard | RainCheck
LABELS = {
    "store": "Store",
    "cents": "Amount",
    "until": "Last day",
    "product": "Product",
    "units": "Packs",
    "revision": "The paper",
}


class PaperKind(msgspec.Struct, frozen=True, kw_only=True):
    """One kind of paper: its part of the address, its kind of record, its name, how its form is read."""

    slug: str
    kind: str
    one: str
    read: Callable[[Fields, Snapshot, str], Paper]


def _store(fields: Fields, snapshot: Snapshot) -> str:
    return fields.known("store", snapshot.stores, what="store", needed="choose the store that takes it") or ""


def _slip(fields: Fields, snapshot: Snapshot, id: str) -> Slip:
    cents = fields.cents("cents", needed="write what it is worth", least=1)
    return Slip(id=id, store=_store(fields, snapshot), cents=cents or 1, until=fields.day("until"))


def _gift_card(fields: Fields, snapshot: Snapshot, id: str) -> GiftCard:
    cents = fields.cents("cents", needed="write what is left on it")
    return GiftCard(id=id, store=_store(fields, snapshot), cents=cents or 0)


def _rain_check(fields: Fields, snapshot: Snapshot, id: str) -> RainCheck:
    chosen = fields.text("chosen")
    if chosen not in snapshot.products:
        chosen = (
            product_meant(fields, "product", snapshot.products, needed="write which product it is for") or ""
        )
    return RainCheck(
        id=id,
        store=_store(fields, snapshot),
        product=chosen,
        cents=fields.cents("cents", needed="write the price that it gives") or 0,
        units=fields.whole("units", needed="write how many it is for", low=1) or 1,
        until=fields.day("until"),
    )


KINDS: Mapping[str, PaperKind] = {
    kind.slug: kind
    for kind in (
        PaperKind(slug="slips", kind="slip", one="slip", read=_slip),
        PaperKind(slug="gift-cards", kind="gift_card", one="gift card", read=_gift_card),
        PaperKind(slug="rain-checks", kind="rain_check", one="rain check", read=_rain_check),
    )
}


@get("/{slug:str}/new")
async def new_paper(home: NamedDependency[Home], slug: FromPath[str]) -> Template:
    """A blank form."""
    return _page(await home.snapshot(), _kind(slug), Fields.of({"units": ["1"]}).typed, None)


@post("/{slug:str}/new", status_code=HTTPStatus.OK)
async def add_paper(request: Asked, home: NamedDependency[Home], slug: FromPath[str]) -> Response[Any]:
    """Keeps a new paper, or shows the form again."""
    return await _sent(request, home, _kind(slug), None)


@get("/{slug:str}/{id:str}")
async def paper_form(home: NamedDependency[Home], slug: FromPath[str], id: FromPath[str]) -> Template:
    """A paper that was typed in, on its form."""
    kind, snapshot = _kind(slug), await home.snapshot()
    paper = _there(snapshot, kind, id)
    return _page(snapshot, kind, _filled(paper, snapshot), id, snapshot.revisions[kind.kind, id])


@post("/{slug:str}/{id:str}", status_code=HTTPStatus.OK)
async def change_paper(
    request: Asked, home: NamedDependency[Home], slug: FromPath[str], id: FromPath[str]
) -> Response[Any]:
    """Keeps the change, or takes the paper out (``do=remove``)."""
    kind = _kind(slug)
    _there(await home.snapshot(), kind, id)
    if (await request.form()).get("do") == "remove":
        await home.remove(kind.kind, id, device=device_of(request))
        return go_to(LIST)
    return await _sent(request, home, kind, id)


papers_router = Router(
    LIST,
    route_handlers=[new_paper, add_paper, paper_form, change_paper],
    guards=[household],
    include_in_schema=False,
)


async def _sent(request: Asked, home: Home, kind: PaperKind, id: str | None) -> Response[Any]:
    snapshot = await home.snapshot()
    fields = await fields_of(request, snapshot)
    revision = fields.whole("revision", high=10**9) or 0
    new_id = id_from(f"{kind.one} {fields.text('store')}"[:60], snapshot.records[kind.kind], kind.slug)
    paper = kind.read(fields, snapshot, id or new_id)
    try:
        fields.finish()
        verb = "New" if id is None else "Changed"
        await home.save(
            [paper],
            words=f"{verb} {kind.one}: {Shown(snapshot).store(paper.store)}",
            device=device_of(request),
            revisions={(kind.kind, paper.id): revision},
        )
    except BadInput as error:
        return _page(snapshot, kind, fields.typed, id, revision, error.findings, int(status_of(error)))
    return go_to(LIST)


def _filled(paper: Paper, snapshot: Snapshot) -> Typed:
    shown = Shown(snapshot)
    values = {"store": [paper.store], "cents": [shown.written(paper.cents)]}
    if not isinstance(paper, GiftCard):
        values["until"] = [paper.until or ""]
    if isinstance(paper, RainCheck):
        values |= {"chosen": [paper.product], "product": [shown.product(paper.product)]}
        values["units"] = [str(paper.units)]
    return Fields.of(values).typed


def _page(
    snapshot: Snapshot,
    kind: PaperKind,
    typed: Typed,
    id: str | None,
    revision: int = 0,
    findings: tuple[Finding, ...] = (),
    status: int = HTTPStatus.OK,
) -> Template:
    return Template(
        "binder/paper.html",
        context={
            "kind": kind,
            "id": id,
            "revision": revision,
            "typed": typed,
            "stores": [(store.id, store.name) for store in stores_of(snapshot)],
            "fits": fits(typed["product"], snapshot.products),
            "findings": findings,
            "labels": LABELS,
        },
        status_code=int(status),
    )


def _kind(slug: str) -> PaperKind:
    if slug not in KINDS:
        raise no_such("kind of paper", slug, LIST)
    return KINDS[slug]


def _there(snapshot: Snapshot, kind: PaperKind, id: str) -> Paper:
    paper = snapshot.records[kind.kind].get(id)
    if paper is None:
        raise no_such(kind.one, id, LIST)
    return paper
