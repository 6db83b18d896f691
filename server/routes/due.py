"""``GET /api/due``: what ends or is due in the next weeks, for a phone that reminds by itself.

    {"today": "2026-11-26", "remind_days": 3,
     "dues": [{"id": "coupon.soap-50", "day": "2026-11-28", "kind": "coupon", "words": "Last day of ...",
               "act": "Plan a trip with it, or let it go.", "trip": ""}, ...]}

The same as the calendar's (``after/expiries.py``), soonest first, so that a phone and a calendar remind of
one thing on one day. It reaches ``SENT_WEEKS`` ahead: a phone may be without a network for long.
"""

from __future__ import annotations

import hashlib
from datetime import date, timedelta
from http import HTTPStatus
from typing import Any

import msgspec
from litestar import MediaType, Request, Response, Router, get
from litestar.di import NamedDependency
from litestar.openapi.datastructures import ResponseSpec

from ..access import household
from ..after.expiries import DueKind, due
from ..homes import Home
from ..ledger import Ledger
from .household_page import Today

SENT_WEEKS = 10  # beyond the longest time before an end that the settings let a reminder come


class DueThing(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that ends, or must be done, by the end of ``day``.

    ``id``: names it for good, whatever becomes of its day; ``act``: what to do about it; ``trip``: where it
    comes from ("" for none)."""

    id: str
    day: str
    kind: DueKind
    words: str
    act: str
    trip: str


class DueList(msgspec.Struct, frozen=True, kw_only=True):
    """``today``: the household's day; ``remind_days``: how long before an end it wants to be reminded."""

    today: str
    remind_days: int
    dues: tuple[DueThing, ...]


@get(
    "/",
    responses={
        HTTPStatus.OK: ResponseSpec(DueList, generate_examples=False),
        HTTPStatus.NOT_MODIFIED: ResponseSpec(None, description="As it was when that ETag was given."),
    },
)
async def due_list(
    request: Request[Any, Any, Any],
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    today: Today,
) -> Response[bytes | None]:
    """What ends or is due, soonest first; 304 to a phone that has it as it is."""
    day = today()
    until = (date.fromisoformat(day) + timedelta(weeks=SENT_WEEKS)).isoformat()
    body = msgspec.json.encode(
        DueList(
            today=day,
            remind_days=(await home.snapshot()).settings.remind_days,
            dues=tuple(
                DueThing(
                    id=each.source,
                    day=each.day,
                    kind=each.kind,
                    words=each.words,
                    act=each.act,
                    trip=each.trip,
                )
                for each in due(await ledger.books(), day, until)
            ),
        )
    )
    version = hashlib.sha256(body).hexdigest()[:16]
    caching = {"ETag": f'W/"{version}"', "Cache-Control": "no-cache"}
    if f'"{version}"' in request.headers.get("if-none-match", ""):
        return Response(None, status_code=HTTPStatus.NOT_MODIFIED, headers=caching)
    return Response(body, media_type=MediaType.JSON, headers=caching)


due_router = Router("/api/due", route_handlers=[due_list], guards=[household])
