"""From the household's records and a draft to the trip that is planned and carried.

A trip is small beside the records: the stores she picked, the staples that are wanted with every product
that would do, the one tag that holds on the day, and what helps to pay for them. The rest is left
out, and said where she would ask for it.

Worked: two staples, coffee needed and tea neither needed nor welcome; three stores, two of them picked. The
trip has two stores, the coffees, their tags of the day at the two, and the coupons, offers and rebates on
coffee that hold on the day. The tea's coupon is not mentioned; the coffee's that ended yesterday is.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

import msgspec

from ..engine.check import check_trip
from ..engine.offers import (
    Coupon,
    GiftCard,
    PercentOffer,
    Pinned,
    Product,
    RainCheck,
    Rebate,
    RewardOffer,
    SetBonus,
    ShelfPrice,
    Slip,
    Store,
    Trip,
    Wallet,
    Want,
)
from ..intake.bad_input import BadInput, Finding
from .household import HouseholdSettings, Staple, TripDraft
from .left_out import FORBIDDEN, NOT_SOLD, PIN_NOT_SOLD, LeftOut
from .offers_that_hold import (
    Bounds,
    coupons_for,
    rebates_for,
    set_bonuses_for,
    store_offers_for,
    wallet_for,
)
from .shelf_of_the_day import ShelfOfTheDay

Needs = Mapping[str, tuple[int, int]]  # per staple: units needed, units welcome in all


class HouseholdRecords(Protocol):
    """The records that a trip is built from, by id; tags by what they are kept under."""

    @property
    def stores(self) -> Mapping[str, Store]: ...
    @property
    def products(self) -> Mapping[str, Product]: ...
    @property
    def prices(self) -> Mapping[str, ShelfPrice]: ...
    @property
    def coupons(self) -> Mapping[str, Coupon]: ...
    @property
    def percent_offers(self) -> Mapping[str, PercentOffer]: ...
    @property
    def rewards(self) -> Mapping[str, RewardOffer]: ...
    @property
    def rebates(self) -> Mapping[str, Rebate]: ...
    @property
    def set_bonuses(self) -> Mapping[str, SetBonus]: ...
    @property
    def slips(self) -> Mapping[str, Slip]: ...
    @property
    def gift_cards(self) -> Mapping[str, GiftCard]: ...
    @property
    def rain_checks(self) -> Mapping[str, RainCheck]: ...
    @property
    def staples(self) -> Mapping[str, Staple]: ...
    @property
    def settings(self) -> HouseholdSettings: ...


class BuiltTrip(msgspec.Struct, frozen=True, kw_only=True):
    """The trip, and what was left out of it and why, a sentence each."""

    trip: Trip
    notes: tuple[str, ...]


def build_trip(
    records: HouseholdRecords,
    draft: TripDraft,
    larder: Needs,
    *,
    wallet: Wallet | None = None,
    copies: Mapping[str, int] | None = None,
    version: int = 1,
) -> BuiltTrip:
    """The trip of a draft; pure, and sound by ``check_trip``.

    ``larder``: what the larder says of each staple; the draft's own numbers go before it. ``wallet``: what is
    in hand on the day (None: as the records have it). ``copies``: what is left of each coupon (None: as
    the coupons say). Raises ``BadInput`` where no store is picked, or the records do not fit each other.
    """
    stores = [records.stores[store] for store in draft.stores if store in records.stores]
    if not stores:
        raise BadInput(Finding(field="stores", value="", mend="choose at least one store to go to"))
    left_out = LeftOut()
    held = _in_hand(records) if wallet is None else wallet
    shelf = ShelfOfTheDay(records.products, records.prices.values(), stores, draft, held, left_out)
    wants, products = _wants(records, draft, larder, shelf, left_out)
    pins = _pins(records, draft, shelf, left_out)
    for pin in pins:
        products.setdefault(pin.product, records.products[pin.product])
    bounds = Bounds(
        day=draft.day,
        stores=frozenset(store.id for store in stores),
        products=frozenset(products),
        sold=frozenset(product for product in products if shelf.sells(product)),
        forbidden=frozenset((each.what, each.id) for each in draft.forbidden),
    )
    rewards = store_offers_for(bounds, records.rewards.values(), "reward", "reward", left_out)
    rebates = rebates_for(bounds, records.rebates.values(), left_out)
    settings = records.settings
    trip = Trip(
        id=draft.id,
        title=draft.title,
        day=draft.day,
        version=version,
        currency=settings.currency,
        exponent=settings.exponent,
        region=draft.region or settings.region,
        stores=tuple(_with_rules(store, draft, bounds) for store in stores),
        products=tuple(products.values()),
        prices=tuple(tag for product in products for tag in shelf.tags_of(product)),
        wants=tuple(wants),
        coupons=coupons_for(bounds, records.coupons.values(), copies or {}, left_out),
        percent_offers=store_offers_for(
            bounds, records.percent_offers.values(), "percent_offer", "percent offer", left_out
        ),
        rewards=rewards,
        rebates=rebates,
        set_bonuses=set_bonuses_for(rebates, records.set_bonuses.values(), left_out),
        wallet=wallet_for(bounds, shelf.wallet, rewards, draft.cash_cents, left_out),
        settings=draft.settings or settings.settings,
        pinned=pins,
    )
    if problems := check_trip(trip):
        raise BadInput(*(Finding(field=each.field, value=each.value, mend=each.mend) for each in problems))
    return BuiltTrip(trip=trip, notes=left_out.sentences())


def _wants(
    records: HouseholdRecords, draft: TripDraft, larder: Needs, shelf: ShelfOfTheDay, left_out: LeftOut
) -> tuple[list[Want], dict[str, Product]]:
    """The wants, and every product that would do for one of them, sold or not: one that is met in the
    aisle is known then, with its coupons."""
    overridden = {needed.staple: (needed.need, needed.welcome) for needed in draft.needs}
    banned = {each.id for each in draft.forbidden if each.what == "product" and each.store is None}
    wants: list[Want] = []
    products: dict[str, Product] = {}
    for staple in records.staples.values():
        need, welcome = overridden.get(staple.id, larder.get(staple.id, (0, 0)))
        if staple.id in draft.left_out or not max(need, welcome):
            continue
        # Check_trip asks a tag of every product that a want names, and a rain check's alone is none.
        sold = [product for product in staple.products if any(True for _ in shelf.tags_of(product))]
        for product in staple.products:
            if product in records.products and product not in banned:
                products[product] = records.products[product]
        if sold:
            want = Want(
                id=staple.id,
                products=tuple(sold),
                name=staple.name,
                need=need,
                welcome=max(need, welcome),
                stock_up=staple.stock_up,
            )
            wants.append(want)
        elif banned.issuperset(staple.products):
            left_out.add("staple", staple.name, FORBIDDEN)
        else:
            left_out.add("staple", staple.name, NOT_SOLD)
    return wants, products


def _pins(
    records: HouseholdRecords, draft: TripDraft, shelf: ShelfOfTheDay, left_out: LeftOut
) -> tuple[Pinned, ...]:
    """The pins that can be kept."""
    kept: list[Pinned] = []
    for pin in draft.pinned:
        product = records.products.get(pin.product)
        if product is not None and pin.store in draft.stores and shelf.sells_at(pin.store, pin.product):
            kept.append(pin)
        else:
            left_out.add("pin", product.description if product else pin.product, PIN_NOT_SOLD)
    return tuple(kept)


def _with_rules(store: Store, draft: TripDraft, bounds: Bounds) -> Store:
    """The store as it is on this trip: with so many transactions as she said, and no channel of a store
    that she does not go to."""
    at = next((each.transactions for each in draft.transactions if each.store == store.id), None)
    if at is not None:
        rules = msgspec.structs.replace(store.rules, transactions_per_visit=at)
        store = msgspec.structs.replace(store, rules=rules)
    if store.channel_of is not None and store.channel_of not in bounds.stores:
        store = msgspec.structs.replace(store, channel_of=None)
    return store


def _in_hand(records: HouseholdRecords) -> Wallet:
    return Wallet(
        slips=tuple(records.slips.values()),
        gift_cards=tuple(records.gift_cards.values()),
        rain_checks=tuple(records.rain_checks.values()),
    )
