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
from typing import TypeVar

import msgspec

from ...engine.offers import (
    Asks,
    Coupon,
    NForM,
    PercentOffer,
    Product,
    Rebate,
    RewardOffer,
    SetBonus,
    ShelfPrice,
    Store,
    Trip,
    Want,
)
from ...engine.papers import Plan
from ...engine.shelf import holds_on
from .choices import PublishChoices

_MOST_WELCOME = 12  # units of one want: a deal that asks for more is told, and not bought by the template

# What readers get of each document as it stands; what is not named here stays at home.
TOLD: dict[type[msgspec.Struct], tuple[str, ...]] = {
    Trip: ("day", "currency", "exponent"),
    Store: ("id", "name", "rules", "tax", "region", "channel_of"),
    Product: ("id", "description", "category", "size", "pieces", "tax_class", "gtin"),
    ShelfPrice: (
        *("store", "product", "cents", "regular_cents", "low_cents", "high_cents", "kind", "deal"),
        *("from_date", "until", "place", "per_transaction", "per_visit"),
    ),
    Coupon: (
        *("id", "description", "issuer", "form", "gives", "per_transaction", "per_day", "per_household"),
        *("from_date", "until", "may_multiply"),
    ),
    PercentOffer: (
        *("id", "store", "description", "bp", "units_per_transaction", "transactions"),
        *("from_date", "until"),
    ),
    RewardOffer: (
        *("id", "store", "description", "kind", "tiers", "by", "measure", "per_transaction"),
        *("per_household", "rolls", "valid_days", "from_date", "until"),
    ),
    Rebate: (
        *("id", "description", "cents", "units", "limit", "from_receipt_cents", "needs_receipt"),
        *("deadline_days", "from_date", "until"),
    ),
    SetBonus: ("id", "description", "cents", "rebates"),
}
D = TypeVar("D", bound=msgspec.Struct)


def public_trip(trip: Trip, plan: Plan, choices: PublishChoices, slug: str, title: str) -> Trip:
    """The trip for readers, under the id ``slug``.

    ``plan``: the household's; it only says which wants are told when ``choices.wants`` does not."""
    told = {deal.want for deal in plan.deals} if choices.wants is None else set(choices.wants)
    wants = [want for want in trip.wants if want.id in told]
    goods = {product for want in wants for product in want.products}
    tags = [
        tag for tag in trip.prices if tag.product in goods and holds_on(trip.day, tag.from_date, tag.until)
    ]
    sold = {tag.product for tag in tags}
    here = {tag.store for tag in tags}
    # Coupons and limits of a channel may be those of its store.
    here |= {store.channel_of for store in trip.stores if store.id in here and store.channel_of}
    if not sold:
        return _only(
            trip,
            id=slug,
            title=title,
            stores=_stores(trip, {trip.stores[0].id}, choices),
            products=(),
            prices=(),
        )
    coupons = [each for coupon in trip.coupons if (each := _coupon(coupon, trip.day, sold, here, choices))]
    rewards = tuple(
        _only(reward, products=_of(reward.products, sold))
        for reward in trip.rewards
        if reward.store in here and _concerns(reward, sold, trip.day)
    )
    rebates = tuple(
        _only(rebate, products=_of(rebate.products, sold), stores=_of(rebate.stores, here))
        for rebate in trip.rebates
        if _concerns(rebate, sold, trip.day) and (not rebate.stores or here.intersection(rebate.stores))
    )
    public = tuple(
        _want(want, number, sold, trip, choices, _units_asked(want, tags, coupons, rewards, rebates))
        for number, want in enumerate(wants, start=1)
        if sold.intersection(want.products)
    )
    known = {rebate.id for rebate in rebates}
    return _only(
        trip,
        id=slug,
        title=title,
        stores=_stores(trip, here, choices),
        products=tuple(
            _only(each, note=each.note if choices.notes else "") for each in trip.products if each.id in sold
        ),
        prices=tuple(_only(tag, place_note=tag.place_note if choices.notes else "") for tag in tags),
        wants=public,
        coupons=tuple(_copies(coupon, public) for coupon in coupons),
        percent_offers=tuple(
            _only(offer, products=_of(offer.products, sold))
            for offer in trip.percent_offers
            if offer.store in here and _concerns(offer, sold, trip.day)
        ),
        rewards=rewards,
        rebates=rebates,
        set_bonuses=tuple(_only(bonus) for bonus in trip.set_bonuses if known.issuperset(bonus.rebates)),
    )


def _only(document: D, **changed: object) -> D:
    """What is told of a document, and what is ``changed``; every other field stands at its default."""
    told = {name: getattr(document, name) for name in TOLD[type(document)]}
    return type(document)(**(told | changed))


def _stores(trip: Trip, here: set[str], choices: PublishChoices) -> tuple[Store, ...]:
    return tuple(
        _only(store, note=store.note if choices.notes else "") for store in trip.stores if store.id in here
    )


def _of(named: tuple[str, ...], kept: set[str]) -> tuple[str, ...]:
    """Those of ``named`` that are kept. Never empty where ``named`` is not: its owner went first."""
    return tuple(each for each in named if each in kept)


def _concerns(offer: RewardOffer | Rebate | PercentOffer, sold: set[str], day: str) -> bool:
    touches = not offer.products or bool(sold.intersection(offer.products))
    return touches and holds_on(day, offer.from_date, offer.until)


def _coupon(
    coupon: Coupon, day: str, sold: set[str], here: set[str], choices: PublishChoices
) -> Coupon | None:
    """The coupon for goods and stores that are told; None where it can be used on none of them."""
    if coupon.form == "register" and not choices.register_coupons:
        return None
    unmet = any(asks.products and not sold.intersection(asks.products) for asks in coupon.asks)
    elsewhere = bool(coupon.stores) and not here.intersection(coupon.stores)
    if unmet or elsewhere or not holds_on(day, coupon.from_date, coupon.until):
        return None
    return _only(
        coupon,
        asks=tuple(Asks(products=_of(each.products, sold), units=each.units) for each in coupon.asks),
        stores=_of(coupon.stores, here),
        where=coupon.where if choices.where else "",
        copies=0,
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
