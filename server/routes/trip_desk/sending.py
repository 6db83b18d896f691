"""Sending a trip to the phone: it is kept as a trip to carry, in a version above the one that is there."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from litestar import Request, Response, post
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Redirect
from litestar.status_codes import HTTP_303_SEE_OTHER

from ...home.sent_changes import is_same
from ...homes import Home
from ...ledger import Ledger
from ...plans import content_of, trip_of
from ...store.interface import Store
from ..fields import Fields
from ..trips import encode_trip, save_trip
from .at_hand import at_hand
from .planning import changed_meanwhile


@post("/drafts/{draft_id:str}/send", status_code=HTTPStatus.OK)
async def send(
    request: Request[Any, Any, Any],
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    store: NamedDependency[Store],
    draft_id: FromPath[str],
) -> Response[Any]:
    """Keeps the trip that she saw. What phones carry already is not sent again."""
    of = Fields(await request.form()).text("of")
    at = await at_hand(home, ledger, draft_id)
    trip = at.build().trip
    if of != content_of(trip):
        raise changed_meanwhile(of)
    stored = await store.trip(trip.id)
    sent = None if stored is None else trip_of(stored)
    if sent is None or not is_same(trip, sent):
        version = 1 if sent is None else sent.version + 1
        await save_trip(store, encode_trip(at.build(version=version).trip))
    return Redirect(f"/desk/trips/{trip.id}?sent=1", status_code=HTTP_303_SEE_OTHER)
