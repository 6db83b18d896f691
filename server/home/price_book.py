"""The price book: what a product or a staple has cost where, and which price is worth stocking up at.

Prices are cents for one unit of measure (``measure.py``), exact fractions. What counts for a day is the
*effective* price: the least that one pack could be had for at a store on that day, once the deal on the
tag is used; where less was paid after coupons, what was paid. So the tag of a trip and the receipt of the
same trip are one observation, not two.

Worked: packs of 12 rolls at 6.00 on one day and at 3.00 on another are 50 and 25 cents a roll; the
quantile of 20 in a hundred of the two is the first in order (``ceil(2 * 20 / 100) = 1``), 25 cents.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from fractions import Fraction
from itertools import groupby, pairwise
from typing import Protocol

import msgspec

from ..engine.measure import measure_in
from ..engine.offers import DecimalText, Product

YEAR_DAYS = 365  # the proposal looks so far back
SALE_BP = 9_000  # a tag at or under 90 % of what is usual there is a sale; common practice, no source
SALE_GAP_DAYS = 14  # tags of one sale lie no further apart than this; common practice, no source
LEAST_CYCLES = 3  # fewer are no habit yet
DECIMALS = 6  # digits after the point of a stock-up price, as ``offers.DecimalText``


class Price(Protocol):
    """A price as it is kept (``store/facts.py``): ``cents`` on the tag, ``each_cents`` once its deal is
    used."""

    @property
    def product(self) -> str: ...
    @property
    def store(self) -> str: ...
    @property
    def day(self) -> str: ...
    @property
    def cents(self) -> int: ...
    @property
    def each_cents(self) -> int: ...
    @property
    def how(self) -> str: ...


class Observation(msgspec.Struct, frozen=True, kw_only=True):
    """The effective price of a product at a store on a day.

    ``price``: cents per unit of measure; ``shelf``: the same without coupons, None where only a receipt is
    known; ``cents``: one pack at ``price``; ``how``: where it was seen.
    """

    product: str
    store: str
    day: str
    price: Fraction
    shelf: Fraction | None
    cents: int
    how: str


class Summary(msgspec.Struct, frozen=True, kw_only=True):
    """What a run of observations comes to. ``last``: the cheapest of the last day."""

    count: int
    lowest: Observation
    median: Fraction
    last: Observation


class SaleCycle(msgspec.Struct, frozen=True, kw_only=True):
    """How often it goes on sale: ``days`` from one sale's start to the next; None: too few were seen.

    ``cycles``: how many were seen; ``last_start``: when the latest sale began, "" if none was."""

    days: Fraction | None
    cycles: int
    last_start: str


def observations(rows: Iterable[Price], products: Mapping[str, Product], per: str) -> tuple[Observation, ...]:
    """The effective prices by day, then store, then product.

    ``products``: those that count, by id; one that has no measure in ``per`` is left out.
    """
    measures = {id: measure for id, product in products.items() if (measure := measure_in(product, per))}
    found: dict[tuple[str, str, str], list[Price]] = {}
    for row in rows:
        if row.product in measures:
            found.setdefault((row.day, row.store, row.product), []).append(row)
    return tuple(_observation(alike, measures[key[2]]) for key, alike in sorted(found.items()))


def _observation(alike: Sequence[Price], measure: Fraction) -> Observation:
    best = min(alike, key=lambda row: (row.each_cents, row.how))
    tags = [row.each_cents for row in alike if row.how != "paid"]
    return Observation(
        product=best.product,
        store=best.store,
        day=best.day,
        price=Fraction(best.each_cents) / measure,
        shelf=Fraction(min(tags)) / measure if tags else None,
        cents=best.each_cents,
        how=best.how,
    )


def summary(seen: Sequence[Observation]) -> Summary | None:
    """Lowest (the latest of equals), median and last; None where nothing was seen."""
    if not seen:
        return None
    last_day = max(each.day for each in seen)
    return Summary(
        count=len(seen),
        lowest=min(reversed(seen), key=lambda each: each.price),
        median=median([each.price for each in seen]),
        last=min((each for each in seen if each.day == last_day), key=lambda each: each.price),
    )


def by_store(seen: Iterable[Observation]) -> dict[str, tuple[Observation, ...]]:
    """The observations of each store."""
    found: dict[str, list[Observation]] = {}
    for each in seen:
        found.setdefault(each.store, []).append(each)
    return {store: tuple(each) for store, each in sorted(found.items())}


def median(prices: Sequence[Fraction]) -> Fraction:
    """The middle price; of an even number, the mean of the two in the middle. Needs at least one."""
    ordered = sorted(prices)
    middle = len(ordered) // 2
    if len(ordered) % 2:
        return ordered[middle]
    return (ordered[middle - 1] + ordered[middle]) / 2


def quantile(prices: Sequence[Fraction], hundredths: int) -> Fraction:
    """The nearest-rank quantile: the ``ceil(n * hundredths / 100)``-th in order, a price that was seen.

    Definition 1 (the inverse of the empirical distribution function) of Hyndman and Fan, "Sample
    Quantiles in Statistical Packages", The American Statistician 50 (1996), 361-365. Needs at least
    one price; ``hundredths`` from 1 to 100.
    """
    ordered = sorted(prices)
    rank = -(-len(ordered) * hundredths // 100)
    return ordered[rank - 1]


def proposal(seen: Iterable[Observation], hundredths: int, today: str) -> Fraction | None:
    """The stock-up price to propose, in cents per unit of measure; None where the last year saw no price.

    ``hundredths``: so many in a hundred of the effective prices of the last ``YEAR_DAYS`` lie at or
    below it (``quantile``).
    """
    since = (date.fromisoformat(today) - timedelta(days=YEAR_DAYS)).isoformat()
    prices = [each.price for each in seen if since < each.day <= today]
    return quantile(prices, hundredths) if prices else None


def as_decimal(price: Fraction) -> DecimalText:
    """Cents as a stock-up price is kept, rounded up at the sixth digit after the point, so that the price
    itself is still "at or under": a third of 100 is 33.333334."""
    scale = 10**DECIMALS
    whole, rest = divmod(-(-price.numerator * scale // price.denominator), scale)
    digits = str(rest).rjust(DECIMALS, "0").rstrip("0")
    return f"{whole}.{digits}" if digits else str(whole)


def in_money(cents: DecimalText, exponent: int) -> str:
    """A stock-up price as it is typed, in whole units of the currency: ``21.8125`` cents are ``0.218125``."""
    digits = DECIMALS + exponent
    whole, rest = divmod(int(Fraction(cents) * 10**DECIMALS), 10**digits)
    after = str(rest).rjust(digits, "0").rstrip("0")
    return f"{whole}.{after.ljust(exponent, '0')}" if after or exponent else str(whole)


def from_money(text: str, exponent: int) -> DecimalText | None:
    """The other way: ``0.218125`` -> ``21.8125``; None for what is no such number or too exact to keep."""
    written = _WRITTEN.fullmatch(text)
    if (
        written is None
        or not (written[1] or written[2])
        or len((written[2] or "").rstrip("0")) > DECIMALS + exponent
    ):
        return None
    return as_decimal(Fraction(f"{written[1] or '0'}.{written[2] or '0'}") * 10**exponent)


_WRITTEN = re.compile(r"([0-9]{0,7})(?:\.([0-9]*))?")


def sale_cycle(seen: Iterable[Observation]) -> SaleCycle:
    """The median of the days between the starts of sales, each product at each store by itself.

    Only shelf prices count, coupons do not make a sale. A tag is a sale at or under ``SALE_BP`` of the
    median of all tags of that product there. A sale starts with the first such tag after one that is
    none, or ``SALE_GAP_DAYS`` after the last; it must not be the first tag of all, of which nobody knows
    how long it had hung. At least ``LEAST_CYCLES`` cycles are needed.
    """
    days: list[Fraction] = []
    last_start = ""
    tags = [each for each in seen if each.shelf is not None]
    for _, alike in groupby(sorted(tags, key=_shelf_key), key=lambda each: _shelf_key(each)[:2]):
        starts = _sale_starts(list(alike))
        days.extend(Fraction((later - earlier).days) for earlier, later in pairwise(starts))
        last_start = max(last_start, starts[-1].isoformat() if starts else "")
    enough = len(days) >= LEAST_CYCLES
    return SaleCycle(days=median(days) if enough else None, cycles=len(days), last_start=last_start)


def _shelf_key(each: Observation) -> tuple[str, str, str]:
    return each.store, each.product, each.day


def _sale_starts(tags: Sequence[Observation]) -> list[date]:
    """The days on which sales began. ``tags``: of one product at one store, by day."""
    shelf = [each.shelf for each in tags if each.shelf is not None]
    ceiling = median(shelf) * SALE_BP / 10_000
    starts: list[date] = []
    on_sale, before = False, None
    for each, price in zip(tags, shelf, strict=True):
        day = date.fromisoformat(each.day)
        if price <= ceiling:
            fresh = not on_sale or (before is not None and (day - before).days > SALE_GAP_DAYS)
            if fresh and before is not None:
                starts.append(day)
            on_sale = True
        else:
            on_sale = False
        before = day
    return starts
