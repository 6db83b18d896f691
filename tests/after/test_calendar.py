"""Promise kept here: the calendar is RFC 5545, its days are days, and no offer's text can break out of it."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any, cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from counterfoil.after.calendar import as_calendar, one_line, uid_of
from counterfoil.after.expiries import Due, due

from .month import first_week

STAMP = datetime(2026, 11, 1, 12, 0, 0, tzinfo=UTC)


def calendar(*dues: Due, days_before: int = 3, base: str = "") -> bytes:
    return as_calendar(dues, stamp=STAMP, days_before=days_before, base=base)


def read(text: bytes) -> list[Any]:
    """The events as the library's own parser has them."""
    return parts(text, "VEVENT")


def parts(text: bytes, name: str) -> list[Any]:
    return cast("Any", Calendar.from_ical(text)).walk(name)


def one(
    day: str = "2026-11-07", words: str = "Claim the soap", source: str = "claim.a", trip: str = ""
) -> Due:
    return Due(day=day, kind="claim", words=words, source=source, trip=trip)


def test_an_event_of_a_whole_day_with_its_alarm() -> None:
    """RFC 5545, 3.6.1: an all-day event has DATE values, its end is the day after. Written out in full
    (the library sorts the lines of a part its own way)."""
    expected = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Counterfoil//What is due//EN",
        "METHOD:PUBLISH",
        "NAME:Counterfoil",
        "REFRESH-INTERVAL;VALUE=DURATION:PT6H",
        "X-WR-CALNAME:Counterfoil",
        "BEGIN:VEVENT",
        "SUMMARY:Claim the soap",
        "DTSTART;VALUE=DATE:20261107",
        "DTEND;VALUE=DATE:20261108",
        "DTSTAMP:20261101T120000Z",
        f"UID:{uid_of('claim.a')}",
        "CATEGORIES:claim",
        "TRANSP:TRANSPARENT",
        "BEGIN:VALARM",
        "ACTION:DISPLAY",
        "DESCRIPTION:Claim the soap",
        "TRIGGER:-P3D",
        "END:VALARM",
        "END:VEVENT",
        "END:VCALENDAR",
        "",
    ]
    assert sorted(calendar(one()).decode().split("\r\n")) == sorted(expected)


@pytest.mark.parametrize(
    "day",
    [
        "2026-11-01",  # the clocks go back in America
        "2026-03-08",  # and forward
        "2026-10-25",  # in Europe
        "2027-03-28",
        "2026-01-31",  # month-ends
        "2026-02-28",
        "2028-02-29",  # a leap day
        "2026-12-31",
        "9999-12-31",
    ],
)
def test_a_day_is_a_date_without_time_or_zone(day: str) -> None:
    text = calendar(one(day))
    (event,) = read(text)

    assert event.decoded("dtstart") == date.fromisoformat(day)
    assert not isinstance(event.decoded("dtstart"), datetime)
    assert b"TZID" not in text
    assert b"VTIMEZONE" not in text
    if day < "9999-12-31":
        assert event.decoded("dtend") - event.decoded("dtstart") == timedelta(days=1)


@pytest.mark.parametrize(
    ("days", "trigger"), [(0, b"TRIGGER:P0D"), (1, b"TRIGGER:-P1D"), (60, b"TRIGGER:-P60D")]
)
def test_the_alarm_counts_whole_days(days: int, trigger: bytes) -> None:
    """RFC 5545, 3.3.6: a day of a duration is a day, not 24 hours."""
    text = calendar(one(), days_before=days)

    (alarm,) = parts(text, "VALARM")
    assert alarm.decoded("trigger") == -timedelta(days=days)
    assert trigger in text


def test_a_uid_follows_from_what_is_due_and_not_from_its_day() -> None:
    (early,), (late,), (other,) = (
        read(calendar(one("2026-11-07"))),
        read(calendar(one("2026-11-09", "moved"))),
        read(calendar(one(source="claim.b"))),
    )

    assert early["uid"] == late["uid"] != other["uid"]
    assert "claim" not in early["uid"]


def test_an_event_of_a_trip_links_to_its_page() -> None:
    (event,) = read(calendar(one(trip="week-44"), base="http://desk.localhost:8000"))

    assert event["url"] == "http://desk.localhost:8000/desk/trips/week-44/settle"
    assert "url" not in read(calendar(one(trip="week-44")))[0]


def test_all_that_is_due_is_in_it_once() -> None:
    dues = due(first_week(), "2026-11-01")
    events = read(as_calendar(dues, stamp=STAMP, days_before=3))

    assert [event.decoded("dtstart").isoformat() for event in events] == [each.day for each in dues]
    assert len({event["uid"] for event in events}) == len(events)


@settings(deadline=None)
@given(words=st.text(max_size=300))
def test_no_text_breaks_out_of_its_line(words: str) -> None:
    """Whatever an offer says: lines of at most 75 octets (3.1), one event, and the words come back."""
    text = calendar(one(words=words), one(source="claim.b"))

    assert all(len(line) <= 75 for line in text.split(b"\r\n"))
    first, second = read(text)
    assert str(first["summary"]) == one_line(words)
    assert second["summary"] == "Claim the soap"
    assert text.count(b"\nBEGIN:VEVENT") == 2


@pytest.mark.parametrize(
    "words",
    [
        "a;b,c\\d",
        "BEGIN:VEVENT",
        "x\r\nEND:VCALENDAR",
        "“Two” für 1 €, then some more of it " * 9,
        "\\n",
        "a\\;",
    ],
)
def test_special_signs_are_escaped_and_folded(words: str) -> None:
    """RFC 5545, 3.3.11: backslash, semicolon, comma and line end."""
    (event,) = read(calendar(one(words=words)))

    assert str(event["summary"]) == one_line(words)
