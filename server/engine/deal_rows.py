"""Deals in the program: step 1 of the register, and percentages that a house rounds per line."""

from __future__ import annotations

from .block import Shelf
from .money import round_half_up
from .offers import BuyOneGetOne, NForM, ShelfPrice
from .program import Program, Sum, one
from .ways import OfferOn, Way


def _role_sums(placed: list[tuple[int, Way]], products: set[str]) -> dict[str, Sum]:
    """Units of some products per role that their deal gives them."""
    roles: dict[str, Sum] = {}
    for variable, way in placed:
        if way.product in products:
            roles.setdefault(way.level.role, Sum({})).add(variable, 1)
    return roles


def deals(program: Program, placed: list[tuple[int, Way]], shelf: Shelf) -> None:
    """Step 1: which units get which price is the register's to say."""
    pairs: dict[str, list[tuple[int, str, int]]] = {}
    for product, tag in shelf.tags.items():
        match tag.deal if tag is not None else None:
            case NForM() as deal:
                _n_for_m(program, _role_sums(placed, {product}), deal)
            case BuyOneGetOne(mix=mix, off_bp=off_bp) if tag is not None:
                pairs.setdefault(f"mix {mix}" if mix else f"only {product}", []).append(
                    (tag.cents, product, off_bp)
                )
            case _:
                pass
    for members in pairs.values():
        # Among the units at or above any price, the register reduces every second one.
        for price in sorted({cents for cents, _, _ in members}, reverse=True):
            roles = _role_sums(placed, {product for cents, product, _ in members if cents >= price})
            unpaired = roles.get("full", Sum({})).plus(roles.get("reduced", Sum({})), -1)
            program.require(unpaired, low=0, high=1)


def _n_for_m(program: Program, roles: dict[str, Sum], deal: NForM) -> None:
    """Odd cents on the first units; with must-buy whole groups, and less than a group beside them."""
    odd = deal.cents % deal.n
    first, group = roles.get("first", Sum({})), roles.get("group", Sum({}))
    if not deal.must_buy:
        if odd:
            together = first.plus(group)
            program.require(Sum({}).plus(first, deal.n).plus(together, -odd), low=0, high=deal.n - 1)
        return
    groups = program.variable(0, 10_000)
    program.require(first.plus(one(groups), -odd), low=0, high=0)
    program.require(group.plus(one(groups), odd - deal.n), low=0, high=0)
    program.require(roles.get("rest", Sum({})), high=deal.n - 1)


def line_rounding(program: Program, placed: list[tuple[int, Way]], shelf: Shelf) -> None:
    """Where the house rounds a percent per line: the line's discount is the rounded sum.

    A line's first unit takes what its own percentage rounds to, so some unit does; and where the deal
    says which price comes first, some unit of that price, if not a rain check's."""
    if shelf.counter.store.rules.percent_rounding != "line":
        return
    lines: dict[tuple[str, str], list[tuple[int, Way, OfferOn]]] = {}
    for variable, way in placed:
        for each in way.percents:
            lines.setdefault((way.product, each.source), []).append((variable, way, each))
    for (product, _), units in lines.items():
        # What the units are given less their exact part, at most and at least.
        most, least = Sum({}), Sum({})
        able, unable = Sum({}), Sum({})
        leading = _leading_role(shelf.tags[product])
        ahead = _role_sums(placed, {product}).get(leading, Sum({}))
        behind = Sum({})
        for variable, way, each in units:
            floor, rest = divmod(each.base * each.bp, 10_000)
            low, high = (floor, floor + (rest > 0)) if each.capped else (each.cents, each.cents)
            most.add(variable, 10_000 * high - each.base * each.bp)
            least.add(variable, 10_000 * low - each.base * each.bp)
            if way.level.rain_check:
                ahead.add(variable, 1)
            # Of several percentages one may find too little left; then what it takes tells nothing.
            several = each.capped or len(way.percents) > 1
            if several or each.cents == round_half_up(each.base * each.bp, 10_000):
                able.add(variable, 1)
                continue
            unable.add(variable, 1)
            if way.level.role == leading:
                ahead.add(variable, -1)
                behind.add(variable, 1)
        if most == least and any(most.terms.values()):
            program.require(most, low=-4_999, high=5_000)
        elif most != least:
            program.require(most, low=-4_999)
            program.require(least, high=5_000)
        for before, after in ((able, unable), (ahead, behind)):
            if after.terms:
                program.require(Sum({}).plus(before, shelf.most_units).plus(after, -1), low=0)


def _leading_role(tag: ShelfPrice | None) -> str:
    """The part in the deal of the first of a product's units on the belt; empty where any may lie first."""
    match tag.deal if tag is not None else None:
        case NForM(n=n, cents=cents):
            return "first" if cents % n else ""
        case BuyOneGetOne(mix=""):
            return "full"
        case _:
            return ""
