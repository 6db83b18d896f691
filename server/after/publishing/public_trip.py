"""The trip as readers get it: the offers, without the household.

Everything on a published page comes from this trip and its own plan, so that nothing of the household can
come through by way of a figure either: her slips do not pay, her cash does not bind, her copies do not
count. What a reader carries is the same document, and her phone works out the same figures.

Numbers stand for any reader. A want's units: one is needed, and as many are welcome as its deals ask for.
Copies: as many of a coupon as those units can use, within the offer's own limits; one of a coupon that
is loaded on an account. Common practice of the trade, no source.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from ...engine.offers import (
    Asks,
    Coupon,
    NForM,
    Product,
    Rebate,
    RewardOffer,
    ShelfPrice,
    Store,
    Trip,
    Want,
)
from ...engine.papers import Plan
from ...engine.shelf import holds_on
from .choices import PublishChoices

_MOST_WELCOME = 12  # units of one want: a deal that asks for more is told, and not bought by the template


def public_trip(trip: Trip, plan: Plan, choices: PublishChoices, slug: str, title: str) -> Trip:
    """The trip for readers, under the id ``slug``.

    ``plan``: the household's; it only says which wants are told when ``choices.wants`` does not. A field
    is taken over because it is named here; one that the trip may get in future is not."""
    told = {deal.want for deal in plan.deals} if choices.wants is None else set(choices.wants)
    wants = [want for want in trip.wants if want.id in told]
    goods = {product for want in wants for product in want.products}
    prices = tuple(
        _price(tag, choices)
        for tag in trip.prices
        if tag.product in goods and holds_on(trip.day, tag.from_date, tag.until)
    )
    sold = {tag.product for tag in prices}
    stores = tuple(
        _store(store, choices) for store in trip.stores if any(tag.store == store.id for tag in prices)
    ) or (_store(trip.stores[0], choices),)
    here = {store.id for store in stores}
    rewards = tuple(
        msgspec.structs.replace(reward, products=_of(reward.products, sold))
        for reward in trip.rewards
        if reward.store in here and _concerns(reward, sold, trip.day)
    )
    rebates = tuple(
        msgspec.structs.replace(rebate, products=_of(rebate.products, sold), stores=_of(rebate.stores, here))
        for rebate in trip.rebates
        if _concerns(rebate, sold, trip.day) and (not rebate.stores or here.intersection(rebate.stores))
    )
    coupons = [
        msgspec.structs.replace(coupon, stores=_of(coupon.stores, here))
        for coupon in (_coupon(each, sold, choices) for each in trip.coupons if _is_told(each, trip, choices))
        if coupon is not None and (not coupon.stores or here.intersection(coupon.stores))
    ]
    public = tuple(
        _want(want, number, sold, trip, choices, _units_asked(want, prices, coupons, rewards, rebates))
        for number, want in enumerate(wants, start=1)
        if sold.intersection(want.products)
    )
    known = {rebate.id for rebate in rebates}
    return Trip(
        id=slug,
        title=title,
        day=trip.day,
        currency=trip.currency,
        exponent=trip.exponent,
        stores=stores,
        products=tuple(_product(each, choices) for each in trip.products if each.id in sold),
        prices=prices,
        wants=public,
        coupons=tuple(_copies(coupon, public) for coupon in coupons),
        percent_offers=tuple(
            msgspec.structs.replace(offer, products=_of(offer.products, sold))
            for offer in trip.percent_offers
            if offer.store in here
            and (not offer.products or sold.intersection(offer.products))
            and holds_on(trip.day, offer.from_date, offer.until)
        ),
        rewards=rewards,
        rebates=rebates,
        set_bonuses=tuple(bonus for bonus in trip.set_bonuses if known.issuperset(bonus.rebates)),
    )


def _of(named: tuple[str, ...], kept: set[str]) -> tuple[str, ...]:
    """Those of ``named`` that are kept. Never empty where ``named`` is not: its owner went first."""
    return tuple(each for each in named if each in kept)


def _concerns(offer: RewardOffer | Rebate, sold: set[str], day: str) -> bool:
    touches = not offer.products or bool(sold.intersection(offer.products))
    return touches and holds_on(day, offer.from_date, offer.until)


def _store(store: Store, choices: PublishChoices) -> Store:
    return Store(
        id=store.id,
        name=store.name,
        rules=store.rules,
        tax=store.tax,
        region=store.region,
        channel_of=store.channel_of,
        note=store.note if choices.notes else "",
    )


def _product(product: Product, choices: PublishChoices) -> Product:
    return msgspec.structs.replace(product, note=product.note if choices.notes else "")


def _price(tag: ShelfPrice, choices: PublishChoices) -> ShelfPrice:
    return msgspec.structs.replace(tag, place_note=tag.place_note if choices.notes else "")


def _is_told(coupon: Coupon, trip: Trip, choices: PublishChoices) -> bool:
    if coupon.form == "register" and not choices.register_coupons:
        return False
    return holds_on(trip.day, coupon.from_date, coupon.until)


def _coupon(coupon: Coupon, sold: set[str], choices: PublishChoices) -> Coupon | None:
    """The coupon for goods that are told; None where one of its requirements can be met by none."""
    if any(asks.products and not sold.intersection(asks.products) for asks in coupon.asks):
        return None
    asks = tuple(Asks(products=_of(each.products, sold), units=each.units) for each in coupon.asks)
    return msgspec.structs.replace(
        coupon, asks=asks, legible="", where=coupon.where if choices.where else "", copies=0
    )


def _want(want: Want, number: int, sold: set[str], trip: Trip, choices: PublishChoices, units: int) -> Want:
    """A want by another id and name than the household's."""
    products = tuple(product for product in want.products if product in sold)
    stock_up = want.stock_up if choices.stock_up else None
    if choices.counts:
        need, welcome = want.need, max(want.need, want.welcome)
    else:
        # Without a stock-up price nothing beyond the need is worth its money: the deal is bought whole.
        need, welcome = (1 if stock_up is not None else units), units
    return Want(
        id=f"deal-{number}",
        products=products,
        name=_name(trip, products),
        need=need,
        welcome=welcome,
        stock_up=stock_up,
    )


def _name(trip: Trip, products: tuple[str, ...]) -> str:
    """What the shelf calls it: the first product, and how many others would do."""
    by_id = {product.id: product.description for product in trip.products}
    first = by_id[products[0]]
    if len(products) == 1:
        return first
    others = len(products) - 1
    return f"{first[:350]}, or {'another kind' if others == 1 else f'one of {others} other kinds'}"


def _units_asked(
    want: Want,
    prices: Iterable[ShelfPrice],
    coupons: Iterable[Coupon],
    rewards: Iterable[RewardOffer],
    rebates: Iterable[Rebate],
) -> int:
    """The most units of a want that one use of a single offer on it asks for; at least one."""
    goods = set(want.products)
    asked = [1]
    for tag in prices:
        if tag.product in goods and tag.deal is not None:
            # Without must-buy any number gets the price.
            asked.append(2 if not isinstance(tag.deal, NForM) else tag.deal.n if tag.deal.must_buy else 1)
    asked += [asks.units for coupon in coupons for asks in coupon.asks if goods.intersection(asks.products)]
    asked += [
        tier.threshold
        for reward in rewards
        if reward.by == "units" and goods.intersection(reward.products)
        for tier in reward.tiers
    ]
    asked += [rebate.units for rebate in rebates if goods.intersection(rebate.products)]
    return max(each for each in asked if each <= _MOST_WELCOME)


def _copies(coupon: Coupon, wants: tuple[Want, ...]) -> Coupon:
    """The coupon in as many copies as the wants' units can use."""
    if coupon.form == "digital":
        copies = coupon.per_household or 1
    else:
        uses = [
            sum(
                want.welcome for want in wants if not asks.products or set(want.products) & set(asks.products)
            )
            // asks.units
            for asks in coupon.asks
        ]
        copies = max(1, min(uses))
        if coupon.per_household is not None:
            copies = min(copies, coupon.per_household)
    return msgspec.structs.replace(coupon, copies=copies)
