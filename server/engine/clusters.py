"""Clusters: wants that nothing connects are planned apart.

Two wants touch when a choice for one can change what is right for the other: they accept
the same product, share copies of a coupon, units of a percent offer, a reward's progress, a rebate, a set
bonus or a basket coupon's threshold. What looks at whole transactions (their count, tenders, rounding of tax)
spans clusters and is joined in ``planner.py``.
"""

from __future__ import annotations

from typing import Protocol

from .offers import BasketOff, BuyOneGetOne, Coupon, ShelfPrice, Want
from .shelf import holds_on
from .situation import Situation, counter_at, most_welcome, tags_at
from .ways import Counter, is_multiplied, units_asked


def clusters(situation: Situation, wants: list[Want]) -> list[list[Want]]:
    """The wants in groups that do not touch, each sorted by id, in the order of their first."""
    leaders = {want.id: want.id for want in wants}

    def leader(want: str) -> str:
        while leaders[want] != want:
            want = leaders[want]
        return want

    for group in _touching(situation, wants):
        roots = sorted({leader(want) for want in group})
        for other in roots[1:]:
            leaders[other] = roots[0]
    found: dict[str, list[Want]] = {}
    for want in wants:
        found.setdefault(leader(want.id), []).append(want)
    return [found[first] for first in sorted(found)]


def _touching(situation: Situation, wants: list[Want]) -> list[set[str]]:
    """Sets of wants that something connects."""
    trip = situation.trip
    counters = [counter_at(trip, store) for store in trip.stores]
    tags = {store.id: tags_at(trip, store) for store in trip.stores}
    sold = {
        each.store.id: {*tags[each.store.id], *(check.product for check in each.rain_checks)}
        for each in counters
    }
    total = sum(most_welcome(want) for want in wants)

    like: dict[str, int] = {}
    for counter in counters:
        most = counter.store.rules.like_coupons_per_transaction
        if most is not None:
            like.update((coupon.id, min(most, like.get(coupon.id, most))) for coupon in counter.coupons)

    takers: dict[str, list[str]] = {}
    for want in wants:
        for product in want.products:
            takers.setdefault(product, []).append(want.id)

    def wanting(products: tuple[str, ...], counter: Counter | None = None) -> set[str]:
        # An empty list means everything.
        return {
            want
            for product in (products or takers)
            if counter is None or product in sold[counter.store.id]
            for want in takers.get(product, ())
        }

    groups = [set(each) for each in takers.values()]
    for coupon in trip.coupons:
        if holds_on(trip.day, coupon.from_date, coupon.until) and coupon.copies:
            if isinstance(coupon.gives, BasketOff):
                continue
            takers_of = set[str]().union(*(wanting(ask.products) for ask in coupon.asks))
            units = sum(most_welcome(want) for want in wants if want.id in takers_of)
            if units_asked(coupon) > 1 or _is_scarce(coupon, like.get(coupon.id), units):
                groups.append(takers_of)
    for offer in trip.percent_offers:
        limited = offer.units_per_transaction is not None or offer.transactions is not None
        if limited and holds_on(trip.day, offer.from_date, offer.until):
            counter = next(each for each in counters if each.store.id == offer.store)
            groups.append(wanting(offer.products, counter))
    for reward in trip.rewards:
        if holds_on(trip.day, reward.from_date, reward.until):
            counter = next(each for each in counters if each.store.id == reward.store)
            groups.append(wanting(reward.products, counter))
    by_rebate = {rebate.id: wanting(rebate.products) for rebate in trip.rebates}
    groups.extend(by_rebate[rebate.id] for rebate in trip.rebates if rebate.units > 1 or rebate.limit < total)
    groups.extend(
        set[str]().union(*(by_rebate[each] for each in bonus.rebates)) for bonus in trip.set_bonuses
    )
    for counter in counters:
        groups.extend(_at_the_register(counter, tags[counter.store.id], wanting))
    return groups


def _is_scarce(coupon: Coupon, like: int | None, units: int) -> bool:
    """Whether copies or limits could run out if so many units were bought with the coupon; ``like``: as
    many like coupons some house takes in a transaction."""
    limits = (coupon.copies, coupon.per_transaction, coupon.per_day, coupon.per_household, like)
    return any(limit is not None and limit < units for limit in limits)


class _Wanting(Protocol):
    def __call__(self, products: tuple[str, ...], counter: Counter | None = None) -> set[str]: ...


def _at_the_register(counter: Counter, tags: dict[str, ShelfPrice], wanting: _Wanting) -> list[set[str]]:
    """Groups that a rule about the whole transaction makes at one store."""
    rules = counter.store.rules
    groups: list[set[str]] = []
    mixes: dict[str, list[str]] = {}
    for product, tag in tags.items():
        if isinstance(tag.deal, BuyOneGetOne) and tag.deal.mix:
            mixes.setdefault(tag.deal.mix, []).append(product)
    groups.extend(wanting(tuple(products), counter) for products in mixes.values())
    for coupon in counter.coupons:
        if isinstance(coupon.gives, BasketOff):
            groups.append(wanting(coupon.asks[0].products, counter))
    if rules.multiplying is not None and rules.multiplying.per_transaction is not None:
        groups.append(
            set[str]().union(
                *(
                    wanting(ask.products, counter)
                    for coupon in counter.coupons
                    if is_multiplied(coupon, counter)
                    for ask in coupon.asks
                )
            )
        )
    if rules.manufacturer_coupons_per_unit > 1:
        groups.append(wanting((), counter))
    return groups
