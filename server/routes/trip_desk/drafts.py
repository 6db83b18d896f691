"""A trip in the making: its form, filled anew, changed, put away."""

from __future__ import annotations

from collections.abc import Callable, Container, Sequence
from datetime import date, timedelta
from http import HTTPStatus
from typing import Any

import msgspec
from litestar import Request, Response, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath, FromQuery
from litestar.response import Redirect, Template
from litestar.status_codes import HTTP_303_SEE_OTHER

from ...errors import status_of
from ...home.household import TripDraft
from ...home.naming import id_from
from ...homes import Home, NotSound
from ...intake.bad_input import BadInput, Finding
from ...intake.day_words import day_in_words
from ...ledger import Ledger
from ...store.interface import Store
from ..fields import Fields, Typed
from .at_hand import DRAFTS, AtHand, around, at_hand
from .draft_form import need_rows, read_draft, store_rows, typed_of

Asked = Request[Any, Any, Any]
Today = NamedDependency[Callable[[], str]]
SATURDAY = 5  # as ``date.weekday``
LARGEST_FORM = 1_000_000  # bytes; a thousand staples stay below it


@get("/trips/new")
async def new_draft(home: NamedDependency[Home], ledger: NamedDependency[Ledger], today: Today) -> Template:
    """The form of a new trip: the coming Saturday, the stores of the last one."""
    return _form(await _blank(home, ledger, today()))


@post("/drafts", status_code=HTTPStatus.OK, request_max_body_size=LARGEST_FORM)
async def add_draft(
    request: Asked,
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    store: NamedDependency[Store],
    today: Today,
) -> Response[Any]:
    """Keeps a new trip in the making."""
    at = await _blank(home, ledger, today())
    taken = {*at.snapshot.drafts, *(trip.id for trip in await store.trips())}
    return await _kept(request, home, at, taken)


@get("/drafts/{draft_id:str}")
async def draft_page(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    draft_id: FromPath[str],
    kept: FromQuery[int] = 0,
) -> Template:
    """The form of a trip in the making."""
    return _form(await at_hand(home, ledger, draft_id), kept=bool(kept))


@post("/drafts/{draft_id:str}", status_code=HTTPStatus.OK, request_max_body_size=LARGEST_FORM)
async def change_draft(
    request: Asked,
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    draft_id: FromPath[str],
) -> Response[Any]:
    """Keeps the changes, or shows the form again with every finding."""
    return await _kept(request, home, await at_hand(home, ledger, draft_id), ())


@post("/drafts/{draft_id:str}/remove", status_code=HTTPStatus.OK)
async def remove_draft(request: Asked, home: NamedDependency[Home], draft_id: FromPath[str]) -> Response[Any]:
    """Puts a trip in the making away; what phones carry stays. The start page offers to take it back."""
    batch = await home.remove("trip_draft", draft_id, device=str(request.user.id))
    return Redirect(f"/desk?kept={batch}" if batch else "/desk", status_code=HTTP_303_SEE_OTHER)


async def _kept(request: Asked, home: Home, at: AtHand, taken: Container[str]) -> Response[Any]:
    settings = at.snapshot.settings
    fields = Fields(await request.form(), currency=settings.currency, exponent=settings.exponent)
    draft = read_draft(fields, at)
    is_new = not at.revision
    if is_new:
        draft = _named(draft, taken)
    try:
        fields.finish()
        await home.save(
            (draft,),
            words=f"{'New trip' if is_new else 'Trip'}: {draft.title}",
            device=str(request.user.id),
            revisions={("trip_draft", draft.id): fields.whole("revision", high=10**9) or 0},
        )
    except NotSound as error:
        findings = tuple(
            Finding(field=_field(misfit.field), value=misfit.value, mend=misfit.mend)
            for misfit in error.misfits
        )
        return _form(at, fields.typed, findings, status_of(error))
    except BadInput as error:
        return _form(at, fields.typed, error.findings, status_of(error))
    then = f"{DRAFTS}/{draft.id}/plan" if fields.text("then") == "plan" else f"{DRAFTS}/{draft.id}?kept=1"
    return Redirect(then, status_code=HTTP_303_SEE_OTHER)


def _field(path: str) -> str:
    """The form's field for a field of the record."""
    return path.partition("[")[0].partition(".")[0]


def _named(draft: TripDraft, taken: Container[str]) -> TripDraft:
    return msgspec.structs.replace(draft, id=id_from(draft.title, taken, "trip"))


async def _blank(home: Home, ledger: Ledger, today: str) -> AtHand:
    """A new trip: on the coming Saturday, to the stores of the latest trip in the making."""
    snapshot = await home.snapshot()
    first = date.fromisoformat(today)
    day = (first + timedelta(days=(SATURDAY - first.weekday()) % 7)).isoformat()
    last = max(snapshot.drafts.values(), key=lambda draft: draft.day, default=None)
    stores = tuple(snapshot.stores)[:1] if last is None else last.stores
    draft = TripDraft(id="new", title=f"Shopping on {day_in_words(day, today)}", day=day, stores=stores)
    return await around(ledger, snapshot, draft)


def _form(
    at: AtHand,
    typed: Typed | None = None,
    findings: Sequence[Finding] = (),
    status: HTTPStatus = HTTPStatus.OK,
    *,
    kept: bool = False,
) -> Template:
    return Template(
        "trips/draft.html",
        context={
            "draft": at.draft,
            "revision": at.revision,
            "typed": typed_of(at) if typed is None else typed,
            "stores": store_rows(at, typed),
            "needs": need_rows(at, typed),
            "findings": findings,
            "labels": _labels(at),
            "kept": kept,
        },
        status_code=int(status),
    )


def _labels(at: AtHand) -> dict[str, str]:
    """What the fields are called where a finding names them."""
    return {
        "title": "Name",
        "day": "Day",
        "stores": "Stores",
        "cash": "Most cash",
        "drive": "What going to one more store costs you",
        "queue": "What one more transaction costs you",
        **{f"stop.{store.id}": f"Stop at {store.name}" for store in at.snapshot.stores.values()},
        **{f"need.{state.staple.id}": f"{state.staple.name}, needed" for state in at.larder},
        **{f"welcome.{state.staple.id}": f"{state.staple.name}, up to" for state in at.larder},
    }
