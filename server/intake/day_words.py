"""A day and a moment as a person says them."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Literal

Fineness = Literal["hours", "minutes", "seconds"]
_MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)


def day_in_words(day: str, today: str = "") -> str:
    """An ISO day for a sentence: ``12 January``; in another year than today's, or without ``today``,
    ``12 January 2027``. A text that is no day stays as it is: a report may say anything."""
    try:
        found = date.fromisoformat(day)
    except ValueError:
        return day
    words = f"{found.day} {_MONTHS[found.month - 1]}"
    return words if day[:4] == today[:4] else f"{words} {found.year}"


def moment_in_words(moment: str, today: str = "", *, to: Fineness = "minutes") -> str:
    """An ISO 8601 moment for a table: ``12 January, 14:03 UTC``; without a zone as the clock said it. A text
    that is no moment stays as it is."""
    try:
        found = datetime.fromisoformat(moment)
        zoned = found.utcoffset() is not None
        found = found.astimezone(UTC) if zoned else found
    except (ValueError, OverflowError):  # at the end of time, in a zone that is past it
        return moment
    clock = found.time().isoformat(to) + (" h" if to == "hours" else "")
    return f"{day_in_words(found.date().isoformat(), today)}, {clock}{' UTC' if zoned else ''}"
