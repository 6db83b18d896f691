"""``/desk/offers``: everything on offer by kind, what was changed last, and products to choose from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from http import HTTPStatus
from typing import Any

import msgspec
from litestar import Response, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath, FromQuery
from litestar.response import Redirect, Template
from litestar.status_codes import HTTP_303_SEE_OTHER

from ...errors import status_of
from ...home.finding import MOST_SHOWN, find
from ...home.kinds import KINDS, Kind, decode
from ...homes import Home
from ...intake.bad_input import BadInput, Finding
from ...intake.day_words import day_in_words
from ...store.records import Batch
from ...store.shared_texts import SharedTexts
from .forms import FORMS
from .page import OFFER_KINDS, Asked, Today, device_of, saying

A_PAGE = 50  # records
A_GLANCE = 6  # records of each kind where all kinds are shown
LAST_CHANGES = 8
LISTED = (*OFFER_KINDS, "product", "store")


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """A record in the list: ``says`` is its sentence, ``days`` when it holds."""

    id: str
    title: str
    says: str
    days: str
    ended: bool


class Section(msgspec.Struct, frozen=True, kw_only=True):
    """The records of a kind that are shown, and how many there are."""

    kind: Kind
    rows: Sequence[Row]
    total: int


@get("/")
async def offer_list(
    home: NamedDependency[Home],
    shared_texts: NamedDependency[SharedTexts],
    today: Today,
    search: FromQuery[str] = "",
    kind: FromQuery[str] = "",
    order: FromQuery[str] = "end",
    ended: FromQuery[str] = "",
    page: FromQuery[str] = "1",
    kept: FromQuery[str] = "",
) -> Template:
    """The list: of all kinds the first few, of one kind page by page."""
    return await _list(
        home,
        shared_texts,
        today(),
        search=search,
        kind=kind if kind in LISTED else "",
        order=order,
        ended=bool(ended),
        page=int(page) if page.isascii() and page.isdigit() and len(page) < 6 else 1,
        kept=kept if kept.isascii() and kept.isdigit() and len(kept) < 6 else "",
    )


@get("/products")
async def products_found(
    home: NamedDependency[Home], search: FromQuery[str] = "", name: FromQuery[str] = "products"
) -> Template:
    """Products that fit some words, as the part of a form that offers them to be ticked."""
    fits = find(search[:400], (await home.snapshot()).products)
    return Template(
        "offers/found.html",
        context={"name": name[:80], "found": fits[:MOST_SHOWN], "total": len(fits), "words": search},
    )


@post("/changes/{number:int}/take-back", status_code=HTTPStatus.OK)
async def take_back(
    request: Asked,
    home: NamedDependency[Home],
    shared_texts: NamedDependency[SharedTexts],
    today: Today,
    number: FromPath[int],
) -> Response[Any]:
    """Undoes a change, unless somebody went on from it."""
    try:
        await home.take_back(number, device=device_of(request))
    except BadInput as error:
        return await _list(home, shared_texts, today(), findings=error.findings, status=status_of(error))
    return Redirect("/desk/offers?kept=0#changes", status_code=HTTP_303_SEE_OTHER)


async def _list(
    home: Home,
    shared_texts: SharedTexts,
    today: str,
    *,
    search: str = "",
    kind: str = "",
    order: str = "end",
    ended: bool = False,
    page: int = 1,
    kept: str = "",
    findings: Sequence[Finding] = (),
    status: HTTPStatus = HTTPStatus.OK,
) -> Template:
    snapshot, names = await home.snapshot(), saying(await home.snapshot())
    ends_from = "" if ended else today
    sections: list[Section] = []
    pages = 1
    for each in (kind,) if kind else LISTED:
        limit = A_PAGE if kind else A_GLANCE
        asked: Mapping[str, Any] = {
            "search": search,
            "by_end": order != "name",
            "ends_from": ends_from,
            "limit": limit,
        }
        found = await home.kept.records(each, **asked)
        if kind:
            pages = max(1, -(-found.total // A_PAGE))
            page = min(max(page, 1), pages)
            if page > 1:
                found = await home.kept.records(each, **asked, offset=(page - 1) * A_PAGE)
        rows = [
            Row(
                id=stored.id,
                title=stored.title,
                says=names.of(decode(each, stored.document)),
                days=_days(stored.starts, stored.ends, today),
                ended=bool(stored.ends) and stored.ends < today,
            )
            for stored in found.records
        ]
        sections.append(Section(kind=KINDS[each], rows=rows, total=found.total))
    return Template(
        "offers/list.html",
        context={
            "kinds": [KINDS[name] for name in LISTED],
            "formed": FORMS,
            "kind": KINDS.get(kind),
            "sections": sections,
            "total": sum(section.total for section in sections),
            "search": search,
            "order": order,
            "ended": ended,
            "page": page,
            "pages": pages,
            "kept": kept,
            "anything": any(snapshot.records[name] for name in LISTED),
            "shared": len(await shared_texts.waiting()),
            "batches": await _last(home),
            "findings": findings,
        },
        status_code=int(status),
    )


async def _last(home: Home) -> Sequence[Batch]:
    return await home.kept.batches(LAST_CHANGES)


def _days(starts: str, ends: str, today: str) -> str:
    first, last = (day_in_words(day, today) if day else "" for day in (starts, ends))
    if first and last:
        return f"{first} to {last}"
    return f"until {last}" if last else f"from {first}" if first else ""
