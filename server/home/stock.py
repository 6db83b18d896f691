"""What is at home and how fast it goes, from moves: what was bought, used and counted.

On one day, moves count in the order given: what trips brought, then what was typed, in the order of typing.
A count replaces what was reckoned of its product; using more than is there leaves none. Amounts are
exact fractions of a staple's unit of measure; a *pack* is a unit on the shelf.

Worked: 3 packs of 12 rolls are counted on 1 October, 2 are bought on the 20th, 1 is counted on
12 November: 4 packs or 48 rolls went in 42 days, which is 8 rolls a week.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from fractions import Fraction
from typing import Literal, Protocol

import msgspec

LEAST_DAYS = 14  # of watching before a weekly use is reckoned
WEEK = 7


class Move(Protocol):
    """A move as it is kept (``store/facts.py``): ``units`` more or fewer; of a count, what is there."""

    @property
    def product(self) -> str: ...
    @property
    def day(self) -> str: ...
    @property
    def units(self) -> int: ...
    @property
    def how(self) -> str: ...


class WeeklyUse(msgspec.Struct, frozen=True, kw_only=True):
    """So much goes in a week. ``how``: "hers", reckoned from "counts" or from what was told as "used";
    ``from_day`` and ``until_day``: the days that were watched, "" where it is hers. ``used``: what went
    then."""

    amount: Fraction
    how: Literal["hers", "counts", "used"]
    from_day: str = ""
    until_day: str = ""
    used: Fraction = Fraction(0)


class Level(msgspec.Struct, frozen=True, kw_only=True):
    """What is at home. ``packs``: per product as counted and reckoned, those that ever moved; ``noted``:
    the same as an amount; ``now``: by now, with the use since the last count; ``counted``: that day, "" if
    never."""

    packs: Mapping[str, int]
    noted: Fraction
    now: Fraction
    counted: str


def packs_at_home(moves: Iterable[Move], day: str) -> dict[str, int]:
    """Packs per product at the end of ``day``. ``moves``: by day."""
    packs: dict[str, int] = {}
    for move in moves:
        if move.day <= day:
            packs[move.product] = _after(packs.get(move.product, 0), move)
    return packs


def weekly_use(
    moves: Sequence[Move], measures: Mapping[str, Fraction], since: str, today: str
) -> WeeklyUse | None:
    """How fast it goes, from moves after ``since``; None where too little is known.

    With counts on two days at least ``LEAST_DAYS`` apart: what was there at the first, and what came
    until the last, less what the last found, told as used or not. A product that is counted
    without ever having come was there before, and is no use. Else, with anything told as used: all
    of that from the first move on until ``today``, if it was at least ``LEAST_DAYS`` ago.
    ``measures``: the amount in one pack of each product that counts. Counting more than there can be
    shows that nothing went; the answer is never below 0.
    """
    known = [move for move in moves if move.product in measures and move.day <= today]
    recent = [move for move in known if move.day > since]
    counts = [move.day for move in recent if move.how == "counted"]
    if counts and days_between(counts[0], counts[-1]) >= LEAST_DAYS:
        used = _went(known, measures, counts[0], counts[-1])
        return _use("counts", counts[0], counts[-1], used)
    used = sum((-move.units * measures[move.product] for move in recent if move.how == "used"), Fraction(0))
    if used and days_between(recent[0].day, today) >= LEAST_DAYS:
        return _use("used", recent[0].day, today, used)
    return None


def level(
    moves: Sequence[Move], measures: Mapping[str, Fraction], weekly: Fraction | None, today: str
) -> Level:
    """What is at home at the end of ``today``.

    ``now`` lets ``weekly`` go on from the last count, or from the first move where none was counted: in the
    days since then went what was told as used, or what usually goes, whichever is more, and never more than
    was there. Without a weekly use, ``now`` is what is noted.
    """
    known = [move for move in moves if move.product in measures and move.day <= today]
    packs = packs_at_home(known, today)
    counts = [move.day for move in known if move.how == "counted"]
    noted = _amount(packs, measures)
    return Level(
        packs=packs,
        noted=noted,
        now=noted
        if weekly is None
        else _by_now(known, measures, weekly, today, counts[-1] if counts else ""),
        counted=counts[-1] if counts else "",
    )


def days_between(earlier: str, later: str) -> int:
    """Days from one ISO day to another."""
    return (date.fromisoformat(later) - date.fromisoformat(earlier)).days


def _after(packs: int, move: Move) -> int:
    return move.units if move.how == "counted" else max(packs + move.units, 0)


def _amount(packs: Mapping[str, int], measures: Mapping[str, Fraction]) -> Fraction:
    return sum((count * measures[product] for product, count in packs.items()), Fraction(0))


def _use(how: Literal["counts", "used"], first: str, last: str, used: Fraction) -> WeeklyUse:
    used = max(used, Fraction(0))
    amount = used * WEEK / days_between(first, last)
    return WeeklyUse(amount=amount, how=how, from_day=first, until_day=last, used=used)


def _went(moves: Sequence[Move], measures: Mapping[str, Fraction], first: str, last: str) -> Fraction:
    """What went after the end of ``first`` until the end of ``last``, told or found out by counting."""
    packs: dict[str, int] = {}
    gone: dict[str, int] = {}
    for move in moves:
        if move.day > last:
            break
        new_here = move.product not in packs
        before = packs.get(move.product, 0)
        packs[move.product] = after = _after(before, move)
        if move.day > first and move.how != "bought" and not new_here:
            gone[move.product] = gone.get(move.product, 0) + before - after
    return _amount(gone, measures)


def _by_now(
    moves: Sequence[Move], measures: Mapping[str, Fraction], weekly: Fraction, today: str, counted: str
) -> Fraction:
    """The level with the use since ``counted`` (its end of day; "": since the first move)."""
    at_count = [move for move in moves if move.day <= counted]
    left = _amount(packs_at_home(at_count, counted), measures)
    day = counted or (moves[0].day if moves else today)
    usual = told = taken = Fraction(0)
    for move in [*(move for move in moves if move.day > counted), None]:
        until = today if move is None else move.day
        usual += weekly * days_between(day, until) / WEEK
        day = until
        if move is not None and move.how == "used":
            told += -move.units * measures[move.product]
        going = max(usual, told) - taken
        if going > 0:
            left = max(left - going, Fraction(0))
            taken += going
        if move is not None and move.how == "bought":
            left += move.units * measures[move.product]
    return left
