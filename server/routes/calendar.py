"""``/desk/calendar``: what ends or is due in the next weeks; the same as a file, and as a feed for calendars.

The feed's address is a secret that an owner makes and revokes (``store/calendar_key.py``): calendar programs
send no cookie. It is shown once, and tells what is due and nothing else.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from http import HTTPStatus
from itertools import groupby
from typing import Any

from litestar import Response, Router, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Template

from ..access import household, is_local_name, owner
from ..after.calendar import as_calendar
from ..after.expiries import due
from ..errors import not_taken
from ..homes import Home
from ..ledger import Ledger
from ..reach import Reach
from ..security import host_name
from ..store.calendar_key import CalendarKey
from .household_page import Asked, Today, go_to

SHOWN_WEEKS = 6
CALENDAR = "text/calendar"  # the framework adds the charset


@get("/calendar")
async def calendar_page(
    request: Asked,
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    calendar_key: NamedDependency[CalendarKey],
    today: Today,
) -> Template:
    """The next weeks, day by day."""
    day = today()
    until = (date.fromisoformat(day) + timedelta(weeks=SHOWN_WEEKS)).isoformat()
    found = due(await ledger.books(), day, until)
    return Template(
        "binder/calendar.html",
        context={
            "days": [(each, list(dues)) for each, dues in groupby(found, key=lambda due: due.day)],
            "weeks": SHOWN_WEEKS,
            "weekday": _weekday,
            "days_until": lambda each: (date.fromisoformat(each) - date.fromisoformat(day)).days,  # pyright: ignore[reportUnknownLambdaType,reportUnknownArgumentType]  # a page calls it
            "remind_days": (await home.snapshot()).settings.remind_days,
            "is_owner": request.user.role == "owner",
            "has_feed": await calendar_key.is_made(),
        },
    )


@get("/calendar.ics")
async def calendar_file(
    request: Asked, home: NamedDependency[Home], ledger: NamedDependency[Ledger], today: Today
) -> Response[bytes]:
    """The calendar as a file to bring into a calendar program."""
    return Response(
        await _calendar(request, home, ledger, today()),
        media_type=CALENDAR,
        headers={"Content-Disposition": 'attachment; filename="counterfoil.ics"'},
    )


@post("/calendar/feed", guards=[owner], status_code=HTTPStatus.OK)
async def make_feed(
    request: Asked, calendar_key: NamedDependency[CalendarKey], reach: NamedDependency[Reach]
) -> Template:
    """A fresh secret address, shown this once; the one before opens nothing any more."""
    key = await calendar_key.make()
    return Template("binder/feed.html", context={"address": f"{_base(request, reach)}/calendar/{key}.ics"})


@post("/calendar/feed/revoke", guards=[owner], status_code=HTTPStatus.OK)
async def revoke_feed(calendar_key: NamedDependency[CalendarKey]) -> Response[Any]:
    """From now on no address opens the feed."""
    await calendar_key.revoke()
    return go_to("/desk/calendar")


@get("/calendar/{name:str}")
async def feed(
    request: Asked,
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    calendar_key: NamedDependency[CalendarKey],
    today: Today,
    name: FromPath[str],
) -> Response[bytes]:
    """The calendar for whoever knows its address, ``SECRET.ics``."""
    if not name.endswith(".ics") or not await calendar_key.opens(name.removesuffix(".ics")):
        mend = "There is no calendar at this address (any more). An owner makes one at /desk/calendar."
        raise not_taken("address", "", mend, status=HTTPStatus.NOT_FOUND)
    return Response(await _calendar(request, home, ledger, today()), media_type=CALENDAR)


calendar_router = Router(
    "/desk",
    route_handlers=[calendar_page, calendar_file, make_feed, revoke_feed],
    guards=[household],
    include_in_schema=False,
)
feed_router = Router("/", route_handlers=[feed], include_in_schema=False)


async def _calendar(request: Asked, home: Home, ledger: Ledger, today: str) -> bytes:
    snapshot = await home.snapshot()
    return as_calendar(
        due(await ledger.books(), today),
        stamp=datetime.now(UTC),
        days_before=snapshot.settings.remind_days,
        base=f"{request.scope['scheme']}://{request.headers.get('host', '')}",
    )


def _weekday(day: str) -> str:
    return ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")[
        date.fromisoformat(day).weekday()
    ]


def _base(request: Asked, reach: Reach) -> str:
    """The server's address as another device must write it; this machine's where it is not reached by any."""
    host = request.headers.get("host", "")
    if is_local_name(host_name(host)) and reach.beyond:
        return reach.beyond[0]
    return f"{request.scope['scheme']}://{host}"
