"""The situation: a trip as it stands after what happened, in one fixed order.

Plans are made from a situation alone. What is bought is history: its copies are spent and
its units met. What lies in the trolley stays. ``settle_order`` sorts everything whose order
means nothing, so that the order of input never changes a plan.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from .offers import Coupon, Product, ShelfPrice, Store, Trip, Want
from .papers import Receipt, Transaction
from .shelf import holds_on, tag_in_force
from .ways import Counter, asks_for

Spot = tuple[str, str]  # (store, product)


class Done(msgspec.Struct, frozen=True):
    """A transaction that went through the register (reported by ``event``), and what it cost by the
    register's own total where the shopper typed it in. ``lost``: rewards that did not print."""

    event: str
    transaction: Transaction
    receipt: Receipt
    paid_cents: int
    out_of_pocket_cents: int
    lost: tuple[str, ...] = ()


class Situation(msgspec.Struct, frozen=True):
    """What a plan is made from.

    ``trolley``: units that stay, per spot: in the trolley, or chosen by her. ``empty``: spots with
    nothing more on the shelf.
    ``used``: coupon uses of the day so far. ``earned``: times per reward.
    ``offer_transactions``: transactions that a percent offer was used in. ``home``: units per spot in
    the plan she left home with. ``notes``: what the planner had to give up, for the shopper.
    """

    trip: Trip
    trolley: dict[Spot, int] = {}
    empty: frozenset[Spot] = frozenset()
    done: tuple[Done, ...] = ()
    used: dict[str, int] = {}
    earned: dict[str, int] = {}
    offer_transactions: dict[str, int] = {}
    home: dict[Spot, int] | None = None
    notes: tuple[str, ...] = ()

    def transactions_done(self, store: str) -> int:
        """How many transactions this store's register has seen on this trip."""
        return sum(1 for done in self.done if done.transaction.store.id == store)

    def cash_spent(self, store: str | None = None) -> int:
        """Cash put down so far, at one store or (None) on the trip."""
        return sum(
            done.out_of_pocket_cents
            for done in self.done
            if store is None or done.transaction.store.id == store
        )

    def bought(self, store: str, product: str) -> int:
        """Units of the product bought at the store so far."""
        return sum(
            line.units
            for done in self.done
            if done.transaction.store.id == store
            for line in done.transaction.lines
            if line.product == product
        )


def settle_order(trip: Trip) -> Trip:
    """The trip with everything sorted whose order means nothing.

    Stores keep the order of the drive, a want's products her order of preference, a coupon's
    requirements theirs.
    """
    wallet = trip.wallet
    return msgspec.structs.replace(
        trip,
        products=tuple(sorted(trip.products, key=lambda each: each.id)),
        prices=tuple(sorted(trip.prices, key=lambda each: (each.store, each.product, each.from_date or ""))),
        wants=tuple(sorted(trip.wants, key=lambda each: each.id)),
        coupons=tuple(_settled(each) for each in sorted(trip.coupons, key=lambda each: each.id)),
        percent_offers=tuple(
            msgspec.structs.replace(each, products=tuple(sorted(each.products)))
            for each in sorted(trip.percent_offers, key=lambda each: each.id)
        ),
        rewards=tuple(
            msgspec.structs.replace(each, products=tuple(sorted(each.products)))
            for each in sorted(trip.rewards, key=lambda each: each.id)
        ),
        rebates=tuple(
            msgspec.structs.replace(
                each, products=tuple(sorted(each.products)), stores=tuple(sorted(each.stores))
            )
            for each in sorted(trip.rebates, key=lambda each: each.id)
        ),
        set_bonuses=tuple(
            msgspec.structs.replace(each, rebates=tuple(sorted(each.rebates)))
            for each in sorted(trip.set_bonuses, key=lambda each: each.id)
        ),
        wallet=msgspec.structs.replace(
            wallet,
            slips=tuple(sorted(wallet.slips, key=lambda each: each.id)),
            gift_cards=tuple(sorted(wallet.gift_cards, key=lambda each: each.id)),
            rain_checks=tuple(sorted(wallet.rain_checks, key=lambda each: each.id)),
        ),
    )


def _settled(coupon: Coupon) -> Coupon:
    return msgspec.structs.replace(
        coupon,
        stores=tuple(sorted(coupon.stores)),
        asks=tuple(
            msgspec.structs.replace(asks, products=tuple(sorted(asks.products))) for asks in coupon.asks
        ),
    )


def most_welcome(want: Want) -> int:
    """Up to how many units of a want may come home; never fewer than are needed."""
    return max(want.need, want.welcome)


def house_of(store: Store) -> str:
    """The store whose slips and gift cards pay here: itself, or the one it is a channel of."""
    return store.channel_of or store.id


def has_ceilings(trip: Trip) -> bool:
    """Whether she set a most of cash to put down on the trip or at a store."""
    ceilings = (trip.wallet.cash_cents, *(store.cash_ceiling_cents for store in trip.stores))
    return any(cents is not None for cents in ceilings)


def without_ceilings(trip: Trip) -> Trip:
    """The trip as if any cash would do."""
    stores = tuple(msgspec.structs.replace(store, cash_ceiling_cents=None) for store in trip.stores)
    wallet = msgspec.structs.replace(trip.wallet, cash_cents=None)
    return msgspec.structs.replace(trip, stores=stores, wallet=wallet)


def taken_at(coupon: Coupon, store: Store) -> bool:
    """Whether a store takes the coupon; a channel is named by itself."""
    return not coupon.stores or store.id in coupon.stores


def region_of(trip: Trip, store: Store) -> str:
    """The region that decides regional face values at a store."""
    return store.region or trip.region


def tag_at(trip: Trip, store: Store, product: str) -> ShelfPrice | None:
    """The tag that holds on the day; a channel without one of its own has its parent's."""
    return _tag_among(trip.prices, store, product, trip.day)


def tags_at(trip: Trip, store: Store) -> dict[str, ShelfPrice]:
    """The tag that holds on the day for each product that has one."""
    near: dict[str, list[ShelfPrice]] = {}
    for tag in trip.prices:
        if tag.store in (store.id, store.channel_of):
            near.setdefault(tag.product, []).append(tag)
    found = {product: _tag_among(tags, store, product, trip.day) for product, tags in near.items()}
    return {product: tag for product, tag in found.items() if tag is not None}


def _tag_among(tags: Sequence[ShelfPrice], store: Store, product: str, day: str) -> ShelfPrice | None:
    for owner in (store.id, store.channel_of):
        tag = None if owner is None else tag_in_force(tags, owner, product, day)
        if tag is not None:
            return tag if owner == store.id else msgspec.structs.replace(tag, store=store.id)
    return None


def counter_at(trip: Trip, store: Store) -> Counter:
    """Everything that holds at a store on the day of the trip."""
    return Counter(
        store=store,
        day=trip.day,
        region=region_of(trip, store),
        coupons=tuple(
            coupon
            for coupon in trip.coupons
            if taken_at(coupon, store)
            and coupon.copies
            and holds_on(trip.day, coupon.from_date, coupon.until)
        ),
        offers=tuple(
            offer
            for offer in trip.percent_offers
            if offer.store == store.id and holds_on(trip.day, offer.from_date, offer.until)
        ),
        rain_checks=tuple(
            check
            for check in trip.wallet.rain_checks
            if check.store == store.id and check.units and holds_on(trip.day, None, check.until)
        ),
    )


def is_sold(trip: Trip, counter: Counter, product: str) -> bool:
    """Whether the product can be bought at the store at all."""
    return tag_at(trip, counter.store, product) is not None or any(
        check.product == product for check in counter.rain_checks
    )


def reward_holds(trip: Trip, store: str, product: str) -> bool:
    """Whether some reward of the store counts the product today."""
    return any(
        reward.store == store
        and asks_for(reward.products, product)
        and holds_on(trip.day, reward.from_date, reward.until)
        for reward in trip.rewards
    )


def product_by_id(trip: Trip) -> dict[str, Product]:
    """The trip's products by id."""
    return {product.id: product for product in trip.products}
