"""Dates as people write them on a coupon: ``12/31``, ``1/15/27``, ``Sat 12/5``, ``Dec 5``, ``2026-12-31``.

Month before day, as where the shorthand is spoken. A date without a year is the next such date from the
day of the trip on, that day included; a year of two digits is 20YY.
"""

from __future__ import annotations

from datetime import date, timedelta

import msgspec

from .tokens import Stream

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_LONG_MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_LONG_DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_SHORTER_DAYS = ("tues", "thur", "thurs", "weds")
FAR_AHEAD = timedelta(days=270)  # own choice: a date that lies so far ahead may as well be one just gone


class Written(msgspec.Struct, frozen=True):
    """A date as written: ``end`` is the place after it, ``year`` 0 if there was none, ``weekday`` 0 for
    Monday to 6 (None: not written). A weekday alone has ``month`` 0."""

    end: int
    year: int
    month: int
    day: int
    weekday: int | None = None


class Resolved(msgspec.Struct, frozen=True):
    """A date of the calendar as ISO text ("" if there is no such day), and ``why`` to look again, or ""."""

    iso: str
    why: str = ""


def date_at(stream: Stream, at: int) -> Written | None:
    """The date written at a place; whether the calendar has it, ``resolve`` says."""
    weekday = _weekday(stream.word(at))
    start = at if weekday is None else at + 1
    found = _numbers(stream, start) or _named_month(stream, start)
    if found is None:
        return None if weekday is None else Written(start, 0, 0, 0, weekday)
    end, year, month, day = found
    return Written(end, year, month, day, weekday)


def resolve(written: Written, today: date) -> Resolved:
    """The day that is meant, seen from ``today``, and a sentence where it should be looked at."""
    if written.month == 0:
        ahead = ((written.weekday or 0) - today.weekday()) % 7
        return _day_ahead(today, ahead)
    name = f"{written.month}/{written.day}"
    if written.year:
        found = _day(written.year, written.month, written.day)
        if found is None:
            return Resolved("", f"{name}/{written.year} is no date of the calendar (month, day, year).")
        why = f"{found.isoformat()} is over." if found < today else ""
        return Resolved(found.isoformat(), why or _weekday_doubt(found, written))
    for year in range(today.year, today.year + 9):
        found = _day(year, written.month, written.day) if year < 10_000 else None
        if found is None or found < today:
            continue
        why = _weekday_doubt(found, written)
        if not why and found - today > FAR_AHEAD:
            next_one = f"{name} has no year: read as {found.isoformat()}, the next one."
            why = f"{next_one} If the last one is meant, it is over."
        return Resolved(found.isoformat(), why)
    return Resolved("", f"{name} is no date of the calendar (month, then day).")


def resolve_before(written: Written, until: str) -> Resolved:
    """The start of a range that ends on ``until``: without a year, the last such date up to that day."""
    last = date.fromisoformat(until)
    if written.month == 0 or written.year:
        found = _day(written.year, written.month, written.day) if written.month else None
        if found is None:
            return Resolved("", "The first day of the range is no date of the calendar.")
        return Resolved(found.isoformat(), "" if found <= last else "The range ends before it begins.")
    for year in range(last.year, max(last.year - 9, 0), -1):
        found = _day(year, written.month, written.day)
        if found is not None and found <= last:
            return Resolved(found.isoformat(), _weekday_doubt(found, written))
    return Resolved("", f"{written.month}/{written.day} is no date of the calendar (month, then day).")


def _numbers(stream: Stream, at: int) -> tuple[int, int, int, int] | None:
    """``m/d``, ``m/d/y``, ``m-d``, ``m-d-y``, ``y-m-d`` at a place: the place after, year, month, day."""
    if stream.kind(at) != "number":
        return None
    values = [stream.tokens[at].value]
    step = 0
    if stream.word(at + 1) == "/" and stream.kind(at + 2) == "number":
        step = 2
    elif stream.kind(at + 1) == "number" and stream.between(at) == "-":
        step = 1
    if not step:
        return None
    values.append(stream.tokens[at + step].value)
    end = at + step + 1
    third = at + 2 * step
    joined = stream.word(third - 1) == "/" if step == 2 else stream.between(third - 1) == "-"
    if joined and stream.kind(third) == "number":
        values.append(stream.tokens[third].value)
        end = third + 1
        if values[0] > 31:
            return end, values[0], values[1], values[2]
        return end, _year(values[2]), values[0], values[1]
    return end, 0, values[0], values[1]


def _named_month(stream: Stream, at: int) -> tuple[int, int, int, int] | None:
    """``Dec 5``, ``December 5th, 2026``, ``5 Dec``."""
    month, day, end = _month(stream.word(at)), _day_number(stream, at + 1), at + 2
    if not (month and day):
        month, day = _month(stream.word(at + 1)), _day_number(stream, at)
    if not (month and day):
        return None
    if stream.kind(end) == "number" and 2000 <= stream.tokens[end].value <= 2099:
        return end + 1, stream.tokens[end].value, month, day
    return end, 0, month, day


def _month(word: str) -> int:
    if word == "sept":
        return 9
    for names in (_MONTHS, _LONG_MONTHS):
        if word in names:
            return names.index(word) + 1
    return 0


def _day_number(stream: Stream, at: int) -> int:
    if stream.kind(at) == "number":
        return stream.tokens[at].value
    word = stream.word(at)
    digits = word[:-2]
    return (
        int(digits)
        if word.endswith(("st", "nd", "rd", "th")) and digits.isascii() and digits.isdigit()
        else 0
    )


def _weekday(word: str) -> int | None:
    if word in (*_DAYS, *_LONG_DAYS, *_SHORTER_DAYS):
        return _DAYS.index(word[:3])
    return None


def _weekday_doubt(found: date, written: Written) -> str:
    if written.weekday is None or written.weekday == found.weekday():
        return ""
    said, real = (_LONG_DAYS[day].capitalize() for day in (written.weekday, found.weekday()))
    return f"{found.isoformat()} is a {real}, not a {said}."


def _year(value: int) -> int:
    return 2000 + value if value < 100 else value


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except (ValueError, OverflowError):
        return None


def _day_ahead(today: date, days: int) -> Resolved:
    try:
        return Resolved((today + timedelta(days=days)).isoformat())
    except OverflowError:
        return Resolved("", "There is no such day.")
