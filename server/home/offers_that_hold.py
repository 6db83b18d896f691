"""Which of the household's coupons, offers, rebates and papers a trip takes along.

Each must hold on the day, at a store of the trip, for something that is on the trip. What it names
beyond that is taken off it, since a trip may name only what it holds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Protocol, TypeVar

import msgspec

from ..engine.offers import Coupon, PercentOffer, Rebate, RewardOffer, SetBonus, Slip, Wallet
from ..engine.shelf import holds_on
from .left_out import (
    ELSEWHERE,
    EMPTY,
    ENDED,
    FOR_NOTHING,
    FORBIDDEN,
    INCOMPLETE,
    NONE_LEFT,
    NOT_YET,
    LeftOut,
    Reason,
)


class _Dated(Protocol):
    @property
    def from_date(self) -> str | None: ...
    @property
    def until(self) -> str | None: ...


class Bounds(msgspec.Struct, frozen=True, kw_only=True):
    """What bounds a trip: its ``day``; its ``stores``; the ``products`` that it knows and, of them, those
    that are ``sold``; ``forbidden``: (what, id) that she does not want used."""

    day: str
    stores: frozenset[str]
    products: frozenset[str]
    sold: frozenset[str]
    forbidden: frozenset[tuple[str, str]]

    def out_of_time(self, record: _Dated) -> Reason | None:
        """Why its days are against it; None if they are not."""
        if holds_on(self.day, record.from_date, record.until):
            return None
        return ENDED if record.until is not None and record.until < self.day else NOT_YET

    def at_none_of(self, stores: Iterable[str]) -> bool:
        """Whether it names stores, and none of them is on the trip."""
        named = tuple(stores)
        return bool(named) and self.stores.isdisjoint(named)

    def for_nothing(self, products: Iterable[str]) -> bool:
        """Whether it names products, and none of them is sold on the trip."""
        named = tuple(products)
        return bool(named) and self.sold.isdisjoint(named)

    def known(self, products: Iterable[str]) -> tuple[str, ...]:
        """Those of the products that the trip knows."""
        return tuple(product for product in products if product in self.products)


K = TypeVar("K", Coupon, PercentOffer, RewardOffer, Rebate, SetBonus)


def _kept(
    records: Iterable[K], one: str, why: Callable[[K], Reason | None], left_out: LeftOut, many: str = ""
) -> list[K]:
    """Those that nothing is against; the others are noted. What no store of the trip takes is not: that
    would list the whole binder each time."""
    kept: list[K] = []
    for record in records:
        reason = why(record)
        if reason is None:
            kept.append(record)
        elif reason is not ELSEWHERE and reason is not FOR_NOTHING:
            left_out.add(one, record.description or record.id, reason, many)
    return kept


def coupons_for(
    bounds: Bounds, coupons: Iterable[Coupon], copies: Mapping[str, int], left_out: LeftOut
) -> tuple[Coupon, ...]:
    """``copies``: how many are left of each; of one that is not named, as many as it says itself."""

    def why(coupon: Coupon) -> Reason | None:
        if bounds.at_none_of(coupon.stores):
            return ELSEWHERE
        if any(bounds.for_nothing(asks.products) for asks in coupon.asks):
            return FOR_NOTHING
        if ("coupon", coupon.id) in bounds.forbidden:
            return FORBIDDEN
        if reason := bounds.out_of_time(coupon):
            return reason
        return None if copies.get(coupon.id, coupon.copies) else NONE_LEFT

    return tuple(
        msgspec.structs.replace(
            coupon,
            copies=copies.get(coupon.id, coupon.copies),
            stores=tuple(store for store in coupon.stores if store in bounds.stores),
            asks=tuple(
                msgspec.structs.replace(asks, products=bounds.known(asks.products)) for asks in coupon.asks
            ),
        )
        for coupon in _kept(coupons, "coupon", why, left_out)
    )


S = TypeVar("S", PercentOffer, RewardOffer)


def store_offers_for(
    bounds: Bounds, offers: Iterable[S], kind: str, one: str, left_out: LeftOut
) -> tuple[S, ...]:
    """Percent offers or rewards. ``kind``: as a draft's ``forbidden`` calls it."""

    def why(offer: S) -> Reason | None:
        if offer.store not in bounds.stores:
            return ELSEWHERE
        if bounds.for_nothing(offer.products):
            return FOR_NOTHING
        return FORBIDDEN if (kind, offer.id) in bounds.forbidden else bounds.out_of_time(offer)

    return tuple(
        msgspec.structs.replace(offer, products=bounds.known(offer.products))
        for offer in _kept(offers, one, why, left_out)
    )


def rebates_for(bounds: Bounds, rebates: Iterable[Rebate], left_out: LeftOut) -> tuple[Rebate, ...]:
    """Rebates on something that is sold on the trip."""

    def why(rebate: Rebate) -> Reason | None:
        if bounds.at_none_of(rebate.stores):
            return ELSEWHERE
        if bounds.for_nothing(rebate.products):
            return FOR_NOTHING
        return FORBIDDEN if ("rebate", rebate.id) in bounds.forbidden else bounds.out_of_time(rebate)

    return tuple(
        msgspec.structs.replace(
            rebate,
            products=bounds.known(rebate.products),
            stores=tuple(store for store in rebate.stores if store in bounds.stores),
        )
        for rebate in _kept(rebates, "rebate", why, left_out)
    )


def set_bonuses_for(
    rebates: Iterable[Rebate], bonuses: Iterable[SetBonus], left_out: LeftOut
) -> tuple[SetBonus, ...]:
    """Bonuses whose rebates are all on the trip."""
    here = {rebate.id for rebate in rebates}

    def why(bonus: SetBonus) -> Reason | None:
        if here.isdisjoint(bonus.rebates):
            return FOR_NOTHING
        return None if here.issuperset(bonus.rebates) else INCOMPLETE

    return tuple(_kept(bonuses, "set bonus", why, left_out, "set bonuses"))


def wallet_for(
    bounds: Bounds, wallet: Wallet, rewards: Iterable[RewardOffer], cash_cents: int | None, left_out: LeftOut
) -> Wallet:
    """The papers that pay at the stores on the day. A slip keeps the name of the offer that printed it
    only where that offer is on the trip."""
    printing = {reward.id for reward in rewards if reward.kind == "slip"}
    slips: list[Slip] = []
    for slip in wallet.slips:
        if slip.store not in bounds.stores:
            continue
        if slip.until is not None and slip.until < bounds.day:
            left_out.add("slip", slip.id, ENDED)
            continue
        slips.append(slip if slip.offer in printing else msgspec.structs.replace(slip, offer=None))
    cards = [card for card in wallet.gift_cards if card.store in bounds.stores]
    for card in cards:
        if not card.cents:
            left_out.add("gift card", card.id, EMPTY)
    checks = [
        check
        for check in wallet.rain_checks
        if check.store in bounds.stores and check.product in bounds.products
    ]
    for check in checks:
        if check.until is not None and check.until < bounds.day:
            left_out.add("rain check", check.id, ENDED)
    return Wallet(
        slips=tuple(slips),
        gift_cards=tuple(card for card in cards if card.cents),
        rain_checks=tuple(check for check in checks if check.until is None or check.until >= bounds.day),
        cash_cents=cash_cents,
    )
