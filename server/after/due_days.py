"""What is due, day by day, for a list to read: a line for each thing, one for all sales ending at a store."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

import msgspec

from .expiries import Due


class EndingSales(msgspec.Struct, frozen=True, kw_only=True):
    """Two or more sales that end at one store, by its name."""

    place: str
    sales: tuple[Due, ...]


class DueDay(msgspec.Struct, frozen=True, kw_only=True):
    """One day: its ``lines`` in the order of ``expiries.due``, then the stores where several sales end."""

    day: str
    lines: tuple[Due, ...]
    ending: tuple[EndingSales, ...]

    @property
    def count(self) -> int:
        """How many lines it is."""
        return len(self.lines) + len(self.ending)


def due_days(dues: Sequence[Due], most_lines: int) -> tuple[tuple[DueDay, ...], int]:
    """The first days, whole, up to ``most_lines`` in all (the first day whatever it has); how many things are
    due after them. ``dues``: by day."""
    days: list[DueDay] = []
    lines = told = 0
    for day, of_day in groupby(dues, key=lambda each: each.day):
        found = list(of_day)
        one = _one(day, found)
        lines += one.count
        if days and lines > most_lines:
            break
        days.append(one)
        told += len(found)
    return tuple(days), len(dues) - told


def _one(day: str, dues: Sequence[Due]) -> DueDay:
    sales: dict[str, list[Due]] = {}
    for each in dues:
        if each.kind == "sale":
            sales.setdefault(each.place, []).append(each)
    several = {place for place, of in sales.items() if len(of) > 1}
    return DueDay(
        day=day,
        lines=tuple(each for each in dues if each.kind != "sale" or each.place not in several),
        ending=tuple(
            EndingSales(place=place, sales=tuple(sales[place])) for place in sorted(several, key=str.lower)
        ),
    )
