"""``/desk/binder``: coupons in hand with their copies, and the papers of the wallet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from http import HTTPStatus
from typing import Any
from urllib.parse import parse_qsl, urlencode

from litestar import Response, Router, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath, FromQuery
from litestar.response import Template

from ..access import household
from ..engine.offers import Coupon
from ..home.binder import counted, loaded
from ..home.binder_pages import PARTS, parts_of
from ..home.kinds import Record
from ..homes import Home
from ..ledger import Ledger
from ..store.calendar_key import CalendarKey
from .household_page import Asked, Shown, Today, device_of, fields_of, go_to, no_such

LIST = "/desk/binder"
ACTIONS = ("more", "fewer", "count", "thrown", "load", "unload")


@get("/")
async def binder_page(
    request: Asked,
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    calendar_key: NamedDependency[CalendarKey],
    today: Today,
    search: FromQuery[str] = "",
    form: FromQuery[str] = "",
    page: FromQuery[int] = 1,
) -> Template:
    """Coupons and papers: all, those that words find (``search``), or one form's (``form``) by page."""
    await ledger.refresh()
    snapshot, day = await home.snapshot(), today()
    held = await ledger.balances(day)
    binder, shown = await ledger.binder(snapshot, day), Shown(snapshot)
    only = form if form in PARTS else ""
    parts = parts_of(binder, _lines(shown), search=search[:400], only=only, page=page)
    return Template(
        "binder/binder.html",
        context={
            "binder": binder,
            "parts": parts,
            "only": only,
            "search": search,
            "back": urlencode([("form", only), ("page", page if only else 1), ("search", search)]),
            "slips": held.slips_in_hand(),
            "cards": [card for card in held.cards if card.cents],
            "rain_checks": held.rain_checks_in_hand(),
            "typed": {
                "slip": snapshot.slips,
                "gift_card": snapshot.gift_cards,
                "rain_check": snapshot.rain_checks,
            },
            "shown": shown,
            "today": day,
            "is_owner": request.user.role == "owner",
            "has_feed": await calendar_key.is_made(),
        },
    )


@post("/coupons/{id:str}", status_code=HTTPStatus.OK)
async def change_coupon(
    request: Asked,
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    today: Today,
    id: FromPath[str],
) -> Response[Any]:
    """One of ``ACTIONS`` in the field ``do``: a copy more or fewer, ``copies`` counted, all thrown away, a
    digital one loaded or not. ``back``: the page of the binder that it was sent from."""
    await ledger.refresh()
    snapshot = await home.snapshot()
    coupon = snapshot.coupons.get(id)
    if coupon is None:
        raise no_such("coupon", id, LIST)
    fields = await fields_of(request, snapshot)
    action = fields.choice("do", ACTIONS)
    copies = fields.whole("copies", needed="write how many there are") if action == "count" else 0
    fields.finish()
    mark = snapshot.coupon_marks.get(id)
    held = await ledger.coupon(snapshot, coupon, today())
    records: Sequence[Record]
    match action:
        case "load" | "unload":
            records, words = [loaded(held, mark, action == "load")], f"{action.capitalize()}ed"
        case _:
            after = {"more": held.left + 1, "fewer": held.left - 1, "count": copies or 0, "thrown": 0}[action]
            now = datetime.now(UTC).isoformat(timespec="microseconds")
            records = counted(held, mark, after, now)
            words = "Thrown away" if action == "thrown" else "Counted"
    await home.save(records, words=f"{words}: {coupon.description or id}", device=device_of(request))
    return go_to(f"{LIST}{_asked_before(fields.text('back'))}#coupon-{id}")


def _lines(shown: Shown) -> Callable[[Coupon], str]:
    """What is said of a coupon on its page, for a search."""

    def line(coupon: Coupon) -> str:
        stores = " ".join(shown.store(store) for store in coupon.stores)
        return f"{coupon.description} {coupon.id} {stores} {coupon.where}"

    return line


def _asked_before(back: str) -> str:
    """What the page was asked for, as a query; "" for all of it."""
    asked = dict(parse_qsl(back))
    kept: list[tuple[str, str]] = []
    if asked.get("form") in PARTS:
        kept = [(name, asked[name]) for name in ("form", "page") if name in asked]
    if "search" in asked:
        kept.append(("search", asked["search"]))
    return f"?{urlencode(kept)}" if kept else ""


binder_router = Router(
    LIST, route_handlers=[binder_page, change_coupon], guards=[household], include_in_schema=False
)
