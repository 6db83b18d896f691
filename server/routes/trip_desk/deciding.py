"""Her decisions on a trip in the making, each a batch of the records, so each can be taken back."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

import msgspec
from litestar import Request, Response, post
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Redirect
from litestar.status_codes import HTTP_303_SEE_OTHER

from ...errors import bad_input, not_taken
from ...home.draft_changes import Change, Pin, decided, say_decision
from ...homes import Home
from ..fields import Fields
from .at_hand import DRAFTS, Called
from .choosing import Spot

_read_change = msgspec.json.Decoder(Change).decode
_read_spot = msgspec.json.Decoder(Spot).decode


@post("/drafts/{draft_id:str}/decide", status_code=HTTPStatus.OK)
async def decide(
    request: Request[Any, Any, Any], home: NamedDependency[Home], draft_id: FromPath[str]
) -> Response[Any]:
    """Takes a decision and plans anew. The form sends it whole (``change``), or as a ``spot`` with the
    ``units`` to pin there."""
    snapshot = await home.snapshot()
    draft = snapshot.drafts.get(draft_id)
    if draft is None:
        raise not_taken(
            "draft", draft_id, "There is no such trip in the making.", status=HTTPStatus.NOT_FOUND
        )
    fields = Fields(await request.form())
    change = _change(fields)
    fields.finish()
    changed = decided(draft, change)
    batch = await home.save(
        (changed,),
        words=say_decision(change, Called(snapshot)),
        device=str(request.user.id),
        revisions={("trip_draft", draft_id): snapshot.revisions["trip_draft", draft_id]},
    )
    return Redirect(f"{DRAFTS}/{draft_id}/plan?kept={batch}", status_code=HTTP_303_SEE_OTHER)


@post("/drafts/{draft_id:str}/take-back", status_code=HTTPStatus.OK)
async def take_back(
    request: Request[Any, Any, Any], home: NamedDependency[Home], draft_id: FromPath[str]
) -> Response[Any]:
    """Undoes a decision, or brings a trip back that was put away."""
    fields = Fields(await request.form())
    batch = fields.whole("batch", needed="name the change to take back", high=10**9)
    fields.finish()
    assert batch is not None
    await home.take_back(batch, device=str(request.user.id))
    return Redirect(f"{DRAFTS}/{draft_id}/plan", status_code=HTTP_303_SEE_OTHER)


def _change(fields: Fields) -> Change:
    spot, change = fields.typed["spot"], fields.typed["change"]
    try:
        if spot:
            units = fields.whole("units", needed="say how many", low=1)
            at = _read_spot(spot)
            return Pin(store=at.store, product=at.product, units=units or 1)
        return _read_change(change)
    except (msgspec.DecodeError, RecursionError):
        raise bad_input("change", spot or change, "Choose something from the list first.") from None
