"""What is due, as a calendar that other programs read (RFC 5545, by the ``icalendar`` library).

Each ``Due`` is an event of a whole day: ``DTSTART`` and ``DTEND`` are DATE values without a time or a
zone (RFC 5545, 3.3.4 and 3.6.1), so that no change of the clocks and no phone's zone moves a deadline. It
takes no time of the day (``TRANSP:TRANSPARENT``). Its UID follows from what is due, not from the day, so
that a corrected deadline moves the event that is there. The alarm's trigger counts whole days (``-P3D``).
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import date, datetime, timedelta

from icalendar import Alarm, Calendar, Component, Event

from .expiries import Due

PRODUCT = "-//Counterfoil//What is due//EN"
REFRESH = timedelta(hours=6)  # how often a subscribed program should ask again (RFC 7986, 5.7)


def as_calendar(
    dues: Iterable[Due], *, stamp: datetime, days_before: int, name: str = "Counterfoil", base: str = ""
) -> bytes:
    """The calendar file in UTF-8, lines folded and ended as RFC 5545 wants.

    ``stamp``: when it was made (UTC); ``days_before``: when each event reminds (0: on the day itself);
    ``base``: where this household's pages are, for a link in events that come from a trip ("" for none).
    """
    calendar = Calendar()
    _add(calendar, "prodid", PRODUCT)
    _add(calendar, "version", "2.0")
    _add(calendar, "method", "PUBLISH")
    _add(calendar, "name", name)
    _add(calendar, "x-wr-calname", name)
    _add(calendar, "refresh-interval", REFRESH, {"VALUE": "DURATION"})
    for each in dues:
        calendar.add_component(_event(each, stamp, days_before, base))
    return calendar.to_ical()


def uid_of(source: str) -> str:
    """The event's name for good: what is due, hashed, so that no id leaves the house in it."""
    return f"{hashlib.sha256(source.encode()).hexdigest()[:32]}@counterfoil"


def _event(each: Due, stamp: datetime, days_before: int, base: str) -> Event:
    day = date.fromisoformat(each.day)
    event = Event()
    _add(event, "uid", uid_of(each.source))
    _add(event, "dtstamp", stamp)
    _add(event, "dtstart", day)
    # The last day that can be written has none after it.
    if day < date.max:
        _add(event, "dtend", day + timedelta(days=1))
    _add(event, "summary", one_line(each.words))
    _add(event, "categories", [each.kind])
    _add(event, "transp", "TRANSPARENT")
    if base and each.trip:
        _add(event, "url", f"{base}/desk/trips/{each.trip}/settle")
    alarm = Alarm()
    _add(alarm, "action", "DISPLAY")
    _add(alarm, "description", one_line(each.words))
    _add(alarm, "trigger", -timedelta(days=days_before))
    event.add_component(alarm)
    return event


def _add(component: Component, name: str, value: object, parameters: dict[str, str] | None = None) -> None:
    component.add(name, value, parameters or {})  # pyright: ignore[reportUnknownMemberType]  # the library's own looseness


def one_line(text: str) -> str:
    """Words of an offer on one line, without what no calendar may hold (control characters)."""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())
