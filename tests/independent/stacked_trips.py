"""Seeded small trips to houses that take more than one coupon, or percent offer, of a kind on an item.

``stacked_trip(seed)`` is as sound as ``tiny_trip`` and draws from a stream of its own. Few units with many
papers on each, so that the order in which they are handed over decides; besides, what the tiny trips
leave out: gift cards on the shelf, pins, tags of two weeks, regions of stores, several slips and cards,
requirements of more than one unit, benefits (``benefits_on``).
"""

from __future__ import annotations

from random import Random

import msgspec

from counterfoil.engine.offers import (
    Asks,
    CentsOff,
    Coupon,
    FixedPrice,
    FreeItem,
    GiftCard,
    HouseRules,
    Issuer,
    Multiplying,
    PercentOff,
    Pinned,
    Product,
    ShelfPrice,
    Slip,
    StockUp,
    Store,
    Trip,
    Wallet,
    Want,
)
from counterfoil.engine.papers import PayByFoodBenefit, Transaction

from .tags import tag_of
from .tiny_offers import DAY
from .tiny_trips import Maker


def stacked_trip(seed: int) -> Trip:
    """The trip of this seed: two to four units in all, mostly at one house."""
    random = Random(f"stacked {seed}")
    products = [f"p{k}" for k in range(random.choice((1, 1, 2, 2, 3)))]
    return StackedMaker(f"stacked-{seed}", random, products).trip()


def crowded_trip(seed: int) -> Trip:
    """The stacked trip of this seed to houses that take one of each on an item."""
    trip = stacked_trip(seed)
    one_each = {f"{kind}_per_unit": 1 for kind in ("manufacturer_coupons", "store_coupons", "percent_offers")}
    stores = tuple(
        msgspec.structs.replace(store, rules=msgspec.structs.replace(store.rules, **one_each))
        for store in trip.stores
    )
    return msgspec.structs.replace(trip, id=f"crowded-{seed}", stores=stores)


def benefits_on(seed: int, transaction: Transaction, goods_cents: int) -> Transaction:
    """The transaction with food benefits among its tenders, mostly too few for all that they may pay.

    ``goods_cents``: what its goods cost after all coupons."""
    random = Random(f"benefits {seed}")
    on_belt = sorted({line.product for line in transaction.lines})
    tenders = list(transaction.tenders)
    for _ in range(random.choice((1, 1, 2))):
        products = tuple(random.sample(on_belt, random.randint(0, len(on_belt))))
        benefit = PayByFoodBenefit(cents=random.randint(1, goods_cents + 20), products=products)
        tenders.insert(random.randint(0, len(tenders)), benefit)
    return msgspec.structs.replace(transaction, tenders=tuple(tenders))


class StackedMaker(Maker):
    """Draws more on fewer units."""

    def some_stores(self) -> tuple[Store, ...]:
        region = self.random.choice(("", "", "", "north", "south"))
        first = Store(
            id="s0",
            name="Main",
            rules=self.rules(),
            tax=self.tax(),
            region=region,
            cash_ceiling_cents=self.ceiling(),
        )
        if self.maybe(0.82):
            return (first,)
        second = Store(id="s1", name="Mill", rules=self.rules(), tax=self.tax())
        if self.maybe(0.4):
            second = msgspec.structs.replace(second, channel_of="s0")
        elif self.maybe(0.3):
            second = msgspec.structs.replace(second, cash_ceiling_cents=self.cents(100, 900))
        return (first, second)

    def rules(self) -> HouseRules:
        random = self.random
        manufacturer, store, percent = random.choice(
            ((2, 1, 1), (2, 1, 1), (1, 2, 1), (2, 2, 1), (2, 2, 1), (1, 1, 2), (2, 1, 2), (2, 2, 2))
        )
        multiplying = None
        if self.maybe(0.4):
            multiplying = Multiplying(
                times=random.choice((2, 2, 3)),
                up_to_cents=self.cents(30, 150),
                per_transaction=random.choice((None, None, 1, 2)),
            )
        return msgspec.structs.replace(
            super().rules(),
            manufacturer_coupons_per_unit=manufacturer,
            store_coupons_per_unit=store,
            percent_offers_per_unit=percent,
            store_with_manufacturer=self.maybe(0.85),
            coupons_no_more_than_items=self.maybe(0.4),
            multiplying=multiplying,
            slips_buy_gift_cards=self.maybe(0.3),
            basket_coupons_per_transaction=random.choice((1, 1, 1, 2)),
            transactions_per_visit=random.choice((1, 1, 2)),
        )

    def product(self, name: str) -> Product:
        made = super().product(name)
        return msgspec.structs.replace(made, category="gift card") if self.maybe(0.05) else made

    def prices(self, stores: list[str]) -> tuple[ShelfPrice, ...]:
        """Sometimes two tags of a product, of which one is of another week."""
        found: list[ShelfPrice] = []
        for tag in super().prices(stores):
            found.append(tag)
            if self.maybe(0.12):
                last, first = self.random.choice((("2027-03-05", DAY), (DAY, "2027-03-07")))
                found[-1] = msgspec.structs.replace(tag, until=last)
                later = self.price(tag.store, tag.product)
                found.append(msgspec.structs.replace(later, from_date=first, until=None))
        return tuple(found)

    def wants(self) -> tuple[Want, ...]:
        random = self.random
        room = random.choice((2, 2, 3, 3, 4))
        wants: list[Want] = []
        rest = list(self.products)
        random.shuffle(rest)
        while rest and room > 0:
            take = min(len(rest), random.choice((1, 1, 2)))
            chosen, rest = rest[:take], rest[take:]
            most = random.randint(1, room) if rest else room
            room -= most
            need = random.randint(0, most)
            per, most_cents = random.choice((("oz", 40), ("roll", 300), ("lb", 500), ("g", 2)))
            stock = StockUp(cents=str(random.randint(1, most_cents)), per=per) if self.maybe(0.7) else None
            name = f"w{len(wants)}"
            wants.append(Want(id=name, products=tuple(chosen), need=need, welcome=most, stock_up=stock))
        return tuple(wants)

    def coupons(self, stores: list[str]) -> tuple[Coupon, ...]:
        """Two or three that may meet on a unit, and sometimes one of any kind."""
        count = self.random.choice((2, 2, 2, 3, 3))
        made = [self._on_few_units(k, stores) for k in range(count)]
        if self.maybe(0.25):
            made.append(self.coupon(count, stores))
        return tuple(made)

    def _on_few_units(self, k: int, stores: list[str]) -> Coupon:
        random = self.random
        issuer: Issuer = random.choice(("manufacturer", "manufacturer", "store"))
        asks = self._asks()
        asked = sum(each.units for each in asks)
        shape = random.random()
        if shape < 0.55:
            regional = {"north": self.cents(20, 300), "south": self.cents(20, 300)} if self.maybe(0.1) else {}
            gives = CentsOff(cents=self.cents(20, 100 + 100 * asked), regional_cents=regional)
        elif shape < 0.7:
            gives = PercentOff(bp=random.choice((1_000, 1_500, 2_500, 3_333, 5_000, 10_000)))
        elif shape < 0.87:
            leg = random.choice((None, 0, len(asks) - 1))
            cap = self.cents(50, 400) if self.maybe(0.25) else None
            gives = FreeItem(off_bp=random.choice((10_000, 10_000, 5_000)), up_to_cents=cap, leg=leg)
        else:
            gives = FixedPrice(cents=random.choice((0, 1, self.cents(1, 200 * asked), self.cents(1, 500))))
        return Coupon(
            id=f"c{k}",
            description=f"Coupon {k}",
            issuer=issuer,
            form=random.choice(("insert", "digital", "printable", "on_package", "register")),
            gives=gives,
            asks=asks,
            stores=(random.choice(stores),) if issuer == "store" or self.maybe(0.1) else (),
            copies=random.choice((1, 1, 1, 2, 2)),
            per_transaction=random.choice((None, None, None, None, 1)),
            per_day=random.choice((None, None, None, None, 1)),
            until=random.choice((None, None, None, DAY)),
            may_multiply=self.maybe(0.85),
        )

    def _asks(self) -> tuple[Asks, ...]:
        random = self.random
        if self.maybe(0.12):
            return (Asks(products=self.some(), units=random.choice((1, 1, 2))), Asks(products=self.some()))
        return (Asks(products=self.some(all_if_empty=True), units=random.choice((1, 1, 1, 1, 2, 2, 3))),)

    def wallet(self, stores: list[str], slip_offers: list[str]) -> Wallet:
        """More slips and cards than one; less often a ceiling."""
        made = super().wallet(stores, slip_offers)
        slips, cards = list(made.slips), list(made.gift_cards)
        if self.maybe(0.1):
            slips.append(Slip(id="older", store=self.random.choice(stores), cents=self.cents(20, 300)))
        if self.maybe(0.05):
            cards.append(GiftCard(id="other", store=self.random.choice(stores), cents=self.cents(20, 300)))
        return msgspec.structs.replace(made, slips=tuple(slips), gift_cards=tuple(cards))

    def pinned(self, trip: Trip) -> tuple[Pinned, ...]:
        """Sometimes a unit or two where it can be bought, if no ceiling on cash could forbid it."""
        random = self.random
        capped = trip.wallet.cash_cents is not None or any(
            store.cash_ceiling_cents is not None for store in trip.stores
        )
        if not self.maybe(0.1) or capped:
            return ()
        store, product = random.choice(trip.stores).id, random.choice(self.products)
        tag = tag_of(trip, store, product)
        if tag is None:
            return ()
        most = min(limit for limit in (tag.per_transaction, tag.per_visit, 2) if limit is not None)
        return (Pinned(store=store, product=product, units=random.randint(1, most)),)
