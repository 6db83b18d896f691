"""``/desk/settle``: what is still to do after all trips."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from http import HTTPStatus

import msgspec
from litestar import get
from litestar.di import NamedDependency
from litestar.params import FromQuery
from litestar.response import Template

from ...after.due_days import due_days
from ...after.expiries import due
from ...after.refunds import refunds
from ...after.spending import Spent, spent
from ...homes import Home
from ...ledger import Ledger
from ..household_page import Today
from .page import Called, Facts, Sent, facts_of, newest_first, shared
from .saying import say

MOST_LINES = 40  # of what is due
TRIPS_ON_A_PAGE = 20


class TripRow(msgspec.Struct, frozen=True, kw_only=True):
    """A trip in the list. ``to_claim`` and ``to_ask``: how many claims and refunds wait."""

    id: str
    title: str
    day: str
    transactions: int
    paid_cents: int
    to_claim: int
    to_ask: int


@get("/settle")
async def settle_page(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    today: Today,
    page: FromQuery[int] = 1,
) -> Template:
    """Claims, money to ask back, papers that lapse, trips (``page``: older ones), what was written down."""
    return overview(await facts_of(home, ledger, today()), page=page)


def overview(facts: Facts, sent: Sent | None = None, page: int = 1) -> Template:
    """The page; with what was ``sent`` and turned down."""
    called = Called(facts)
    days, further = due_days(due(facts.books, facts.today), MOST_LINES)
    trips = [each for each in spent(facts.books) if each.trip][::-1]
    pages = max(-(-len(trips) // TRIPS_ON_A_PAGE), 1)
    page = min(max(page, 1), pages)
    waiting = [r for r in refunds(facts.books) if r.state in ("worth asking for", "asked")]
    return Template(
        "settle/overview.html",
        context={
            **shared(facts, sent),
            "claims": [claim for claim in facts.claims.claims if claim.to_claim or claim.claimed],
            "open_bonuses": facts.claims.open_bonuses,
            "unfollowed": facts.claims.findings,
            "refunds": waiting,
            "slips": facts.papers.slips_in_hand(),
            "cards": [card for card in facts.papers.cards if card.cents],
            "rain_checks": facts.papers.rain_checks_in_hand(),
            "due": days,
            "further": further,
            "days_until": lambda day: (date.fromisoformat(day) - date.fromisoformat(facts.today)).days,  # pyright: ignore[reportUnknownLambdaType,reportUnknownArgumentType]  # a page calls it
            "trips": _trip_rows(facts, trips[(page - 1) * TRIPS_ON_A_PAGE : page * TRIPS_ON_A_PAGE]),
            "page": page,
            "pages": pages,
            "notes": [(note, say(called, note)) for note in newest_first(facts.books.notes)],
        },
        status_code=int(HTTPStatus.BAD_REQUEST if sent else HTTPStatus.OK),
    )


def _trip_rows(facts: Facts, trips: Sequence[Spent]) -> list[TripRow]:
    """Trips that went through a register, as given."""
    to_ask = Counter(refund.trip for refund in refunds(facts.books) if refund.state == "worth asking for")
    rows: list[TripRow] = []
    for each in trips:
        claims = facts.claims.of_trip(each.trip)
        rows.append(
            TripRow(
                id=each.trip,
                title=each.title,
                day=each.day,
                transactions=each.spending.transactions,
                paid_cents=each.spending.paid,
                to_claim=sum(1 for claim in claims if claim.to_claim),
                to_ask=to_ask[each.trip],
            )
        )
    return rows
