"""Every day of a document moved by whole weeks, so that an example written for one week holds for another.

Whole weeks keep the days of the week: a sale from Sunday still begins on a Sunday. What lies between two days
stays as long as it was, over month ends, leap days and the turn of a year.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_WEEK = 7  # days

Json = None | bool | int | float | str | Sequence["Json"] | Mapping[str, "Json"]


def weeks_until_coming(day: str, today: str) -> int:
    """How many weeks to move ISO ``day`` so that it is its first day of the week from ``today`` on; below
    zero where it lies further off."""
    return -((date.fromisoformat(day) - date.fromisoformat(today)).days // _WEEK)


def days_moved(document: Json, weeks: int) -> Json:
    """The JSON document with every ISO day later by ``weeks`` (earlier below zero), as a value or as a key.

    A text that holds more than the day, or is no day of the calendar, stays as it is. ``OverflowError``
    beyond the years 1 to 9999.
    """
    match document:
        case str():
            return _moved(document, weeks)
        case Mapping():
            return {_moved(key, weeks): days_moved(value, weeks) for key, value in document.items()}
        case Sequence():
            return [days_moved(value, weeks) for value in document]
        case _:
            return document


def _moved(text: str, weeks: int) -> str:
    if not _ISO_DAY.fullmatch(text):
        return text
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return text
    return (day + timedelta(weeks=weeks)).isoformat()
