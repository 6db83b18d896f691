"""Shelves: what the wants can buy at a store, and in how many transactions.

A shelf holds the columns of one store. It is put together from the parts of the clusters (``parts.py``)
and narrowed again to those of one: no way to buy spans two.
"""

from __future__ import annotations

from collections.abc import Collection

import msgspec

from .basket_rows import surplus_may_miss
from .block import Shelf
from .clusters import clusters
from .offers import BasketOff, BuyOneGetOne, NForM, PercentOff, Store, Want
from .parts import Part, part_at
from .shelf import holds_on
from .situation import Situation, counter_at, most_welcome, product_by_id, tags_at
from .ways import Counter, asks_for_any


class Shelves(msgspec.Struct, frozen=True):
    """``by_store``: what can be bought, per store in the order of the drive; ``numbers``: per group of
    wants, the number of its part at each store."""

    by_store: dict[str, Shelf]
    numbers: list[list[int]]


def shelves_of(situation: Situation, wants: list[Want]) -> dict[str, Shelf]:
    """What the wants can buy, per store in the order of the drive."""
    return shelves_in_parts(situation, clusters(situation, wants)).by_store


def shelves_in_parts(situation: Situation, groups: list[list[Want]]) -> Shelves:
    """What groups of wants that do not touch can buy."""
    found: dict[str, Shelf] = {}
    numbers: list[list[int]] = [[] for _ in groups]
    for store in situation.trip.stores:
        found[store.id], parts = _shelf_at(situation, store, groups)
        for own, part in zip(numbers, parts, strict=True):
            own.append(part.number)
    return Shelves(found, numbers)


def _shelf_at(situation: Situation, store: Store, groups: list[list[Want]]) -> tuple[Shelf, list[Part]]:
    trip = situation.trip
    counter = counter_at(trip, store)
    by_id = product_by_id(trip)
    in_force = tags_at(trip, store)
    checked = {check.product for check in counter.rain_checks}

    def can_be_had(name: str) -> bool:
        spot = (store.id, name)
        sold = name in in_force or name in checked
        return sold and (spot not in situation.empty or situation.trolley.get(spot, 0) > 0)

    parts: list[Part] = []
    names: set[str] = set()
    for group in groups:
        own = sorted(filter(can_be_had, {product for want in group for product in want.products}))
        offered = [(by_id[name], in_force.get(name)) for name in own]
        parts.append(part_at(counter_for(counter, own), offered, group))
        names.update(own)
    # There the program is on the careful side, and its optimum no bound.
    whole = all(part.whole for part in parts) and not any(
        surplus_may_miss(coupon, counter, sorted(names)) for coupon in counter.coupons
    )
    rewards = tuple(
        reward
        for reward in trip.rewards
        if reward.store == store.id and holds_on(trip.day, reward.from_date, reward.until)
    )
    shelf = Shelf(
        counter=counter,
        tags={name: in_force.get(name) for name in sorted(names)},
        products={name: by_id[name] for name in sorted(names)},
        columns=sorted((column for part in parts for column in part.columns), key=lambda each: each.key),
        rewards=rewards,
        most_units=sum(most_welcome(want) for group in groups for want in group),
        whole=whole,
    )
    return shelf, parts


def counter_for(counter: Counter, names: Collection[str]) -> Counter:
    """The counter with only what touches some of these products. A basket coupon may look at all that is
    in a transaction, so they all stay."""
    return msgspec.structs.replace(
        counter,
        coupons=tuple(
            coupon
            for coupon in counter.coupons
            if isinstance(coupon.gives, BasketOff)
            or any(asks_for_any(ask.products, names) for ask in coupon.asks)
        ),
        offers=tuple(offer for offer in counter.offers if asks_for_any(offer.products, names)),
        rain_checks=tuple(check for check in counter.rain_checks if check.product in names),
    )


def narrowed(shelf: Shelf, wants: list[Want]) -> Shelf:
    """The shelf with only what some of its wants accept, and the rewards that count it."""
    names = {product for want in wants for product in want.products}
    products = {name: product for name, product in shelf.products.items() if name in names}
    return Shelf(
        counter=counter_for(shelf.counter, products),
        tags={name: tag for name, tag in shelf.tags.items() if name in names},
        products=products,
        columns=[
            column
            for column in shelf.columns
            if column.ways[0].product in names and all(way.product in names for way in column.ways[1:])
        ],
        rewards=tuple(reward for reward in shelf.rewards if asks_for_any(reward.products, products)),
        most_units=sum(most_welcome(want) for want in wants),
        whole=shelf.whole,
    )


def transactions_allowed(situation: Situation, store: Store) -> int:
    """How many more transactions the house and the shopper's visit allow."""
    return max(store.rules.transactions_per_visit - situation.transactions_done(store.id), 0)


def one_is_enough(situation: Situation, shelf: Shelf, apart: bool) -> bool:
    """Whether no plan for this shelf gains by a second transaction.

    Limits and thresholds per transaction, slips that could pay later, and roundings that start
    afresh are what a second transaction is for. Without any, one is as good.
    """
    rules, trip = shelf.counter.store.rules, situation.trip
    coupons_fit = all(
        not isinstance(coupon.gives, BasketOff)
        and (coupon.per_transaction is None or coupon.per_transaction >= min(coupon.copies, shelf.most_units))
        and (
            rules.like_coupons_per_transaction is None
            or rules.like_coupons_per_transaction >= min(coupon.copies, shelf.most_units)
        )
        for coupon in shelf.counter.coupons
        if any(asks_for_any(ask.products, shelf.products) for ask in coupon.asks)
    )
    rebates_fit = apart or not any(
        rebate.from_receipt_cents and asks_for_any(rebate.products, shelf.products) for rebate in trip.rebates
    )
    taxed = shelf.counter.store.tax.basis == "invoice" and any(
        shelf.counter.store.tax.rates.get(product.tax_class, 0) for product in shelf.products.values()
    )
    percents = [offer.products for offer in shelf.counter.offers]
    percents.extend(
        ask.products
        for coupon in shelf.counter.coupons
        if coupon.issuer == "store" and isinstance(coupon.gives, PercentOff)
        for ask in coupon.asks
    )
    per_line = rules.percent_rounding == "line" and any(
        asks_for_any(names, shelf.products) for names in percents
    )
    # Splitting only for a rounding gains less than a cent a transaction.
    rounding = ((taxed and not apart) or per_line) and trip.settings.further_transaction_cents == 0
    limited_offers = any(
        offer.units_per_transaction is not None and asks_for_any(offer.products, shelf.products)
        for offer in shelf.counter.offers
    )
    limited_tags = any(tag is not None and tag.per_transaction is not None for tag in shelf.tags.values())
    multiplied = rules.multiplying is not None and rules.multiplying.per_transaction is not None
    return (
        coupons_fit
        and rebates_fit
        and not _deals_gain_apart(shelf)
        and not rounding
        and not limited_offers
        and not limited_tags
        and not multiplied
        and not shelf.rewards
    )


def _deals_gain_apart(shelf: Shelf) -> bool:
    """Whether units may be better off in a transaction away from each other's deal.

    So it is where the house refuses a coupon that a sale price makes too large, where a group's price
    is above the tags', and where the pairs of several products could fall otherwise."""
    deals = [(tag, tag.deal) for tag in shelf.tags.values() if tag is not None and tag.deal is not None]
    mixes = [deal.mix for _, deal in deals if isinstance(deal, BuyOneGetOne) and deal.mix]
    return (
        (bool(deals) and shelf.counter.store.rules.overage == "refuse")
        or any(isinstance(deal, NForM) and deal.cents > deal.n * tag.cents for tag, deal in deals)
        or len(set(mixes)) < len(mixes)
    )
