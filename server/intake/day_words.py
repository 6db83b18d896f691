"""A day as a person says it."""

from __future__ import annotations

from datetime import date

_MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)


def day_in_words(day: str, today: str = "") -> str:
    """An ISO day for a sentence: ``12 January``; in another year than today's, or without ``today``,
    ``12 January 2027``."""
    found = date.fromisoformat(day)
    words = f"{found.day} {_MONTHS[found.month - 1]}"
    return words if day[:4] == today[:4] else f"{words} {found.year}"
