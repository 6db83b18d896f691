"""From counted columns to transactions: which unit lies where, which coupon claims which.

The program says how many of each way a transaction holds. Here the ways become units in
belt order, in the places where the register will give them that price, and the slots
become uses of coupons in handing-over order (``uses.py``). Tenders come later (``checkout.py``).
"""

from __future__ import annotations

from .block import Shelf
from .money import round_half_up
from .offers import BuyOneGetOne, CentsOff, FixedPrice, NForM, Trip
from .papers import Line, Transaction, Use
from .shelf import holds_on
from .situation import region_of
from .uses import Placed, offer_uses_of, uses_of
from .ways import Column, Way, asks_for

# Behind every share that a coupon has: no coupon asks for so many units.
_NO_SHARE = 1_000


def pack(trip: Trip, shelf: Shelf, counts: list[tuple[Column, int]], baskets: dict[str, int]) -> Transaction:
    """One transaction, without tenders, of so many of each column and of each basket coupon."""
    store = shelf.counter.store
    placed: list[Placed] = []
    groups: list[tuple[str, int]] = []
    bundles = 0
    for column, count in counts:
        for _ in range(count):
            bundles += 1 if column.whole_uses else 0
            groups.extend((coupon, bundles) for coupon, _ in column.whole_uses)
            placed.extend(Placed(way, bundles if column.whole_uses else 0) for way in column.ways)
    belt, lines = _belt(placed, shelf)
    uses = uses_of(belt, groups, shelf)
    for coupon, times in sorted(baskets.items()):
        uses.extend(Use(coupon=coupon) for _ in range(times))
    used_coupons = {use.coupon for use in uses}
    offers: dict[str, list[int]] = {}
    coupons = {coupon.id for coupon in shelf.counter.coupons}
    for index, unit in enumerate(belt):
        for percent in unit.way.percents:
            if percent.source not in coupons:
                offers.setdefault(percent.source, []).append(index)
    products = {unit.way.product for unit in belt}
    return Transaction(
        store=store,
        day=trip.day,
        products=tuple(each for each in trip.products if each.id in products),
        prices=tuple(tag for name, tag in sorted(shelf.tags.items()) if tag is not None and name in products),
        lines=tuple(lines),
        coupons=tuple(each for each in shelf.counter.coupons if each.id in used_coupons),
        percent_offers=tuple(each for each in shelf.counter.offers if each.id in offers),
        rewards=tuple(
            reward
            for reward in trip.rewards
            if reward.store == store.id
            and holds_on(trip.day, reward.from_date, reward.until)
            and any(asks_for(reward.products, product) for product in products)
        ),
        rain_checks=tuple(
            check
            for check in shelf.counter.rain_checks
            if any(unit.way.level.rain_check == check.id for unit in belt)
        ),
        uses=tuple(uses),
        offer_uses=tuple(offer_uses_of(belt, offers, shelf)),
        tenders=(),
        region=region_of(trip, store),
        currency=trip.currency,
        exponent=trip.exponent,
    )


def _belt(placed: list[Placed], shelf: Shelf) -> tuple[list[Placed], list[Line]]:
    """Units in belt order, each where the register gives it its price.

    Product by product; products whose tags pair with each other lie together, so that of
    equal prices the right one is the second of its pair. Taxed goods come first: they are the
    ones that overage should reach.
    """
    belt: list[Placed] = []
    for members in _runs(placed, shelf):
        belt.extend(_in_place([unit for unit in members if not unit.way.level.rain_check], shelf))
        checked = [unit for unit in members if unit.way.level.rain_check]
        belt.extend(
            sorted(
                checked,
                key=lambda unit: (unit.way.product, unit.way.level.rain_check, _lateness(unit, shelf)),
            )
        )
    lines: list[Line] = []
    for unit in belt:
        product, check = unit.way.product, unit.way.level.rain_check or None
        if lines and lines[-1].product == product and lines[-1].rain_check == check:
            lines[-1] = Line(product=product, units=lines[-1].units + 1, rain_check=check)
        else:
            lines.append(Line(product=product, units=1, rain_check=check))
    return belt, lines


def _lateness(unit: Placed, shelf: Shelf) -> tuple[bool, bool, int, int, str]:
    """How late a unit comes among equally cheap ones.

    The register reduces the last on the belt, store coupons first. Shares of a coupon's value are dealt out
    in belt order, so units without a share lie behind."""
    coupons = {coupon.id: coupon for coupon in shelf.counter.coupons}
    free = {coupons[slot.coupon].issuer for slot in unit.way.slots if slot.free}
    shares = [
        slot.part for slot in unit.way.slots if isinstance(coupons[slot.coupon].gives, CentsOff | FixedPrice)
    ]
    part = min(shares, default=_NO_SHARE)
    return ("store" in free, "manufacturer" in free, unit.group, part, unit.way.key)


def _runs(placed: list[Placed], shelf: Shelf) -> list[list[Placed]]:
    """Units that lie together: of one product, or of products whose tags pair."""
    tax = shelf.counter.store.tax
    runs: dict[str, list[Placed]] = {}
    for unit in placed:
        tag = shelf.tags[unit.way.product]
        mix = tag.deal.mix if tag is not None and isinstance(tag.deal, BuyOneGetOne) else ""
        runs.setdefault(f"mix {mix}" if mix else f"only {unit.way.product}", []).append(unit)

    def untaxed(name: str) -> bool:
        classes = {shelf.products[unit.way.product].tax_class for unit in runs[name]}
        return not any(tax.rates.get(each, 0) for each in classes)

    return [runs[name] for name in sorted(runs, key=lambda name: (untaxed(name), name))]


def _places(units: list[Placed], shelf: Shelf) -> list[tuple[int, str]]:
    """The (tag cents, role) of the k-th unit of a run, by the deal of its tags."""
    tags = {unit.way.product: shelf.tags[unit.way.product] for unit in units}
    prices = sorted(
        (tag.cents for unit in units if (tag := tags[unit.way.product]) is not None), reverse=True
    )
    deals = [tag.deal for tag in tags.values() if tag is not None]
    deal = deals[0] if deals else None
    match deal:
        case BuyOneGetOne():
            return [(price, "reduced" if k % 2 else "full") for k, price in enumerate(prices)]
        case NForM(n=n, cents=cents, must_buy=must_buy):
            grouped = len(units) - len(units) % n if must_buy else len(units)
            firsts = [-(-(cents % n) * (k + 1) // n) > -(-(cents % n) * k // n) for k in range(grouped)]
            roles = ["first" if first else "group" for first in firsts]
            return list(zip(prices, roles + ["rest"] * (len(units) - grouped), strict=True))
        case None:
            return [(price, "plain") for price in prices]


def _in_place(units: list[Placed], shelf: Shelf) -> list[Placed]:
    """Units of a run in the order in which role and rounded percents fall to them."""
    left = sorted(units, key=lambda unit: _lateness(unit, shelf))
    per_line = shelf.counter.store.rules.percent_rounding == "line"
    running: dict[tuple[str, str], int] = {}
    answer: list[Placed] = []
    for price, role in _places(units, shelf):
        fitting = [unit for unit in left if _fits(unit, price, role, shelf)] or left
        chosen = next(
            (unit for unit in fitting if not per_line or _falls_here(unit.way, running)), fitting[0]
        )
        for percent in chosen.way.percents:
            key = (percent.source, chosen.way.product)
            running[key] = running.get(key, 0) + percent.base * percent.bp
        left.remove(chosen)
        answer.append(chosen)
    return answer


def _fits(unit: Placed, price: int, role: str, shelf: Shelf) -> bool:
    tag = shelf.tags[unit.way.product]
    return tag is not None and tag.cents == price and unit.way.level.role == role


def _falls_here(way: Way, running: dict[tuple[str, str], int]) -> bool:
    """Whether the next unit's share of each line discount is the one that the way reckons with."""
    for percent in way.percents:
        before = running.get((percent.source, way.product), 0)
        after = before + percent.base * percent.bp
        if round_half_up(after, 10_000) - round_half_up(before, 10_000) != percent.cents:
            return False
    return True
