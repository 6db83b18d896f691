"""The larder: each staple with what is at home, how long it lasts, and what the week needs of it.

Amounts are exact fractions of the staple's unit of measure (``per``), packs are units on the shelf, of the
product that she likes best. The wants of a trip come from here.

*Need*: what is missing, by now, to have ``keep`` left when the next trip is due. *Welcome*: as much as
there is room for now; where no room is told, up to a year's use, and where the use is not known
either, no more than the need.

Worked: 8 rolls a week, a trip every 2 weeks, keep 12, room for 60, 20 by now, packs of 12. Until the next
trip 16 go, 4 would be left, 8 are missing: need 1 pack. 40 more find room: up to 3 packs.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from fractions import Fraction

import msgspec

from ..engine.measure import measure_in, unit_word
from ..engine.money import round_half_up
from ..engine.offers import Product
from ..intake.day_words import day_in_words
from .household import Staple
from .stock import WEEK, Level, Move, WeeklyUse, level, weekly_use

WATCHED_DAYS = 364  # a weekly use is reckoned from the moves of the last 52 weeks
YEAR_WEEKS = 52
MOST_PACKS = 10_000  # as ``offers.Units``
_TWENTY_YEARS = 7_300  # days: what lasts longer has no day


class StapleState(msgspec.Struct, frozen=True, kw_only=True):
    """A staple as it stands on a day.

    ``pack``: the amount in one pack of the first product that is measured; ``weekly``: None where nobody
    knows; ``runs_out``: the last day with any left, None where it is not known or far off; ``need`` and
    ``welcome``: packs for the next trip. ``why``: the sentences behind all that, in order.
    """

    staple: Staple
    pack: Fraction
    level: Level
    weekly: WeeklyUse | None
    runs_out: str | None
    need: int
    welcome: int
    why: tuple[str, ...]


def states(
    staples: Iterable[Staple],
    products: Mapping[str, Product],
    moves: Iterable[Move],
    weeks_between_trips: int,
    today: str,
) -> list[StapleState]:
    """Every staple's state, in the order given. ``moves``: by day, of any product."""
    of_product: dict[str, list[tuple[int, Move]]] = {}
    for place, move in enumerate(moves):
        of_product.setdefault(move.product, []).append((place, move))
    found: list[StapleState] = []
    for staple in staples:
        mine = [each for product in staple.products for each in of_product.get(product, ())]
        ordered = [move for _, move in sorted(mine, key=lambda each: (each[1].day, each[0]))]
        found.append(state_of(staple, products, ordered, weeks_between_trips, today))
    return found


def state_of(
    staple: Staple,
    products: Mapping[str, Product],
    moves: Sequence[Move],
    weeks_between_trips: int,
    today: str,
) -> StapleState:
    """One staple's state. ``moves``: by day; those of other products do not count."""
    measures = measures_of_staple(staple, products)
    if staple.weekly_use is not None:
        weekly = WeeklyUse(amount=Fraction(staple.weekly_use), how="hers")
    else:
        weekly = weekly_use(moves, measures, watched_since(today), today)
    here = level(moves, measures, None if weekly is None else weekly.amount, today)
    pack = next(iter(measures.values()), Fraction(1))
    need, welcome, reasons = _wanted(staple, pack, here.now, weekly, weeks_between_trips)
    runs_out = _runs_out(here.now, weekly, today)
    return StapleState(
        staple=staple,
        pack=pack,
        level=here,
        weekly=weekly,
        runs_out=runs_out,
        need=need,
        welcome=welcome,
        why=(
            *_why_here(staple, here, weekly, today),
            *_why_lasts(weekly, staple.per, runs_out, today),
            *reasons,
        ),
    )


def watched_since(today: str) -> str:
    """The day after which moves tell a weekly use."""
    return (date.fromisoformat(today) - timedelta(days=WATCHED_DAYS)).isoformat()


def measures_of_staple(staple: Staple, products: Mapping[str, Product]) -> dict[str, Fraction]:
    """The amount in one pack of each product of the staple, in the order of preference; one that is not
    there, or has no measure in ``per``, is left out."""
    return {
        id: measure
        for id in staple.products
        if id in products and (measure := measure_in(products[id], staple.per))
    }


def amount(value: Fraction, per: str, digits: int = 1) -> str:
    """An amount for a reader: ``20 rolls``, ``2.5 oz``; rounded half up where it has more digits."""
    scale = 10**digits
    whole, rest = divmod(round_half_up(value.numerator * scale, value.denominator), scale)
    number = f"{whole}.{str(rest).rjust(digits, '0').rstrip('0')}" if rest else str(whole)
    return f"{number} {unit_in_words(per, number == '1')}"


def unit_in_words(per: str, one: bool = False) -> str:
    """The unit as a reader says it: words for a piece have a plural, symbols do not."""
    if one or per not in _PLURALS:
        return unit_word(per)
    return _PLURALS[per]


_PLURALS = {
    **{
        word: f"{word}s"
        for word in (
            *("piece", "bag", "bar", "bottle", "can", "capsule", "cup", "diaper", "egg", "load", "pad"),
            *("pair", "pod", "roll", "serving", "sheet", "slice", "stick", "tablet", "wipe"),
        )
    },
    "box": "boxes",
    "pouch": "pouches",
}


def packs(count: int) -> str:
    """``1 pack``, ``2 packs``."""
    return f"{count} pack" if count == 1 else f"{count} packs"


def _wanted(
    staple: Staple, pack: Fraction, now: Fraction, weekly: WeeklyUse | None, weeks: int
) -> tuple[int, int, tuple[str, ...]]:
    keep = Fraction(staple.keep)
    going = Fraction(0) if weekly is None else weekly.amount * weeks
    missing = max(keep + going - now, Fraction(0))
    need = min(-(-missing // pack), MOST_PACKS)
    if staple.room is not None:
        limit, because = (
            Fraction(staple.room) - now,
            f"there is room for {amount(Fraction(staple.room), staple.per)}",
        )
    elif weekly is not None:
        limit, because = weekly.amount * YEAR_WEEKS - now, "no room is told, so no more than goes in a year"
    else:
        limit, because = Fraction(0), "neither its room nor its use is known, so no more than the need"
    welcome = max(need, min(max(limit, Fraction(0)) // pack, MOST_PACKS))
    return (
        need,
        welcome,
        (_why_need(staple, pack, now, going, weeks, need), _why_welcome(welcome, need, because)),
    )


def _runs_out(now: Fraction, weekly: WeeklyUse | None, today: str) -> str | None:
    if weekly is None or weekly.amount == 0:
        return None
    days = now * WEEK // weekly.amount
    if days > _TWENTY_YEARS:
        return None
    return (date.fromisoformat(today) + timedelta(days=days)).isoformat()


def _why_here(staple: Staple, here: Level, weekly: WeeklyUse | None, today: str) -> tuple[str, ...]:
    if not here.packs:
        return ("Nothing of it was ever counted or bought.",)
    noted = amount(here.noted, staple.per)
    counted = f"Counted on {day_in_words(here.counted, today)}" if here.counted else "Never counted"
    first = f"{counted}; with all that was noted since, {noted} are at home."
    if weekly is None or here.now == here.noted:
        return (first,)
    return (first, f"With its usual use since then, about {amount(here.now, staple.per)} are left by now.")


def _why_lasts(weekly: WeeklyUse | None, per: str, runs_out: str | None, today: str) -> tuple[str, ...]:
    if weekly is None:
        return (
            "How fast it goes is not known yet: count it twice, at least two weeks apart, "
            "note what is used, or write its weekly use.",
        )
    a_week, went = f"{amount(weekly.amount, per)} a week", amount(weekly.used, per)
    since = day_in_words(weekly.from_day, today) if weekly.from_day else ""
    match weekly.how:
        case "hers":
            sentence = f"{a_week} go, as you wrote."
        case "counts":
            until = day_in_words(weekly.until_day, today)
            sentence = f"{went} went between the counts of {since} and {until}: {a_week}."
        case "used":
            sentence = f"{went} were noted as used since {since}: {a_week}."
    if runs_out is None:
        return (sentence,)
    return (sentence, f"So it lasts until about {day_in_words(runs_out, today)}.")


def _why_need(staple: Staple, pack: Fraction, now: Fraction, going: Fraction, weeks: int, need: int) -> str:
    span = "a week" if weeks == 1 else f"{weeks} weeks"
    left = max(now - going, Fraction(0))
    keep = amount(Fraction(staple.keep), staple.per)
    until = f"Of {amount(now, staple.per)}, {amount(going, staple.per)} go in {span} until the next trip"
    until += f" and {amount(left, staple.per)} stay"
    if not need:
        return f"{until}; {keep} are to be kept: none is needed."
    return f"{until}; {keep} are to be kept: {packs(need)} of {amount(pack, staple.per)} needed."


def _why_welcome(welcome: int, need: int, because: str) -> str:
    more = "nothing beyond that is welcome" if welcome == need else f"up to {packs(welcome)} are welcome"
    return f"At a stock-up price, {more}: {because}."
