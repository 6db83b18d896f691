"""Checks of each record by itself, and of the tags of one shelf beside each other."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from fractions import Fraction
from itertools import combinations, pairwise

from .findings import Papers, Problem
from .gtin import check_digit_holds
from .measure import PIECES, UNITS
from .offers import BasketOff, FreeItem, NForM, ShelfPrice

UNIT_MEND = f"not a unit of measure: take one of {', '.join(UNITS)}"


def _dates(papers: Papers) -> Iterator[Problem]:
    for section in (papers.prices, papers.coupons, papers.percent_offers, papers.rewards, papers.rebates):
        for path, record in section:
            wrong = [
                *is_a_date(f"{path}.from_date", record.from_date),
                *is_a_date(f"{path}.until", record.until),
            ]
            yield from wrong
            if not wrong and record.from_date and record.until and record.from_date > record.until:
                mend = f"it ends before it begins ({record.from_date}): put the two in order"
                yield Problem(f"{path}.until", record.until, mend)
    for section in (papers.slips, papers.rain_checks):
        for path, record in section:
            yield from is_a_date(f"{path}.until", record.until)


def is_a_date(path: str, text: str | None) -> Iterator[Problem]:
    if text is None:
        return
    try:
        date.fromisoformat(text)
    except ValueError:
        yield Problem(path, text, "no such day in the calendar: write year-month-day, like 2026-12-05")


def _products(papers: Papers) -> Iterator[Problem]:
    for path, product in papers.products:
        if Fraction(product.size.amount) == 0:
            yield Problem(
                f"{path}.size.amount", product.size.amount, "a pack holds something: write how much"
            )
        if product.size.unit not in UNITS:
            yield Problem(f"{path}.size.unit", product.size.unit, UNIT_MEND)
        if product.size.unit in PIECES and product.pieces not in (1, Fraction(product.size.amount)):
            mend = f"the size says {product.size.amount} {product.size.unit}: make the two agree"
            yield Problem(f"{path}.pieces", str(product.pieces), mend)
        if product.gtin is not None and not check_digit_holds(product.gtin):
            yield Problem(f"{path}.gtin", product.gtin, "its check digit does not fit: read the number again")


def _tags(papers: Papers) -> Iterator[Problem]:
    for path, tag in papers.prices:
        if tag.low_cents is not None and tag.low_cents > tag.cents:
            yield Problem(f"{path}.low_cents", str(tag.low_cents), f"at most the tag's {tag.cents} cents")
        if tag.high_cents is not None and tag.high_cents < tag.cents:
            yield Problem(f"{path}.high_cents", str(tag.high_cents), f"at least the tag's {tag.cents} cents")
        if tag.regular_cents is not None and tag.regular_cents < tag.cents:
            mend = (
                f"the price without the sale is at least the tag's {tag.cents} cents: leave it out or mend it"
            )
            yield Problem(f"{path}.regular_cents", str(tag.regular_cents), mend)
        if isinstance(tag.deal, NForM) and tag.deal.cents > tag.deal.n * tag.cents:
            mend = (
                f"{tag.deal.n} at the tag's {tag.cents} cents cost less than the deal:"
                " write the deal's cents for all of them together, and one unit's price as the tag's"
            )
            yield Problem(f"{path}.deal.cents", str(tag.deal.cents), mend)


def _one_tag_a_day(papers: Papers) -> Iterator[Problem]:
    of_shelf: dict[tuple[str, str], list[tuple[str, ShelfPrice]]] = {}
    for path, tag in papers.prices:
        of_shelf.setdefault((tag.store, tag.product), []).append((path, tag))
    for tags in of_shelf.values():
        for (path, earlier), (later_path, later) in combinations(tags, 2):
            starts = max(earlier.from_date or "", later.from_date or "")
            ends = min(earlier.until or "9999-12-31", later.until or "9999-12-31")
            if starts <= ends:
                mend = (
                    f"{path} is a tag for the same product and store on the same days:"
                    " keep one, or give them dates that do not meet"
                )
                yield Problem(later_path, f"{later.product} at {later.store}", mend)


def _coupons(papers: Papers) -> Iterator[Problem]:
    for path, coupon in papers.coupons:
        if coupon.issuer == "store" and not coupon.stores:
            yield Problem(f"{path}.stores", "[]", "a store's coupon is taken at that store only: name it")
        if isinstance(coupon.gives, BasketOff) and len(coupon.asks) > 1:
            mend = "a coupon on the basket asks for one thing: put all eligible products in one entry"
            yield Problem(f"{path}.asks", f"{len(coupon.asks)} entries", mend)
        if isinstance(coupon.gives, FreeItem) and (coupon.gives.leg or 0) >= len(coupon.asks):
            mend = f"asks has {len(coupon.asks)} entries, counted from 0: name one of them"
            yield Problem(f"{path}.gives.leg", str(coupon.gives.leg), mend)


def _tiers(papers: Papers) -> Iterator[Problem]:
    for path, reward in papers.rewards:
        for index, (lower, higher) in enumerate(pairwise(reward.tiers), start=1):
            if higher.threshold <= lower.threshold:
                mend = f"steps go upward: more than the step before ({lower.threshold})"
                yield Problem(f"{path}.tiers[{index}].threshold", str(higher.threshold), mend)
            if higher.cents <= lower.cents:
                mend = f"a higher step gives more than the one before ({lower.cents})"
                yield Problem(f"{path}.tiers[{index}].cents", str(higher.cents), mend)


RECORD_CHECKS = (_dates, _products, _tags, _one_tag_a_day, _coupons, _tiers)
