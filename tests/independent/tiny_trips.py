"""Seeded small trips that touch every rule, of a size at which CP-SAT still proves its answer.

``tiny_trip(seed)`` is always sound (``check_trip`` finds nothing). Each trip draws a few rules at
random; over some hundreds of seeds every kind of coupon, sale, reward, rebate, limit and house rule
meets every other. Goods and houses are invented.
"""

from __future__ import annotations

from random import Random

import msgspec

from counterfoil.engine.offers import (
    BuyOneGetOne,
    Coupon,
    GiftCard,
    HouseRules,
    Multiplying,
    NForM,
    Pinned,
    Product,
    RainCheck,
    SetBonus,
    Settings,
    ShelfPrice,
    Size,
    Slip,
    StockUp,
    Store,
    Tax,
    Trip,
    Wallet,
    Want,
    Worth,
)

from .tiny_offers import DAY, OfferMaker


def tiny_trip(seed: int) -> Trip:
    """The trip of this seed: about four units in all, at most two houses."""
    random = Random(seed)
    products = [f"p{k}" for k in range(random.choice((1, 2, 2, 3, 3, 4)))]
    return Maker(f"tiny-{seed}", random, products).trip()


class Maker(OfferMaker):
    """Draws a trip, its shelves, wants and wallet. What a subclass may draw otherwise is a method."""

    def trip(self) -> Trip:
        random = self.random
        stores = self.some_stores()
        names = [store.id for store in stores]
        coupons = self.coupons(names)
        rewards = tuple(self.reward(k, names) for k in range(random.choice((0, 0, 1, 1, 2))))
        rebates = tuple(self.rebate(k, names) for k in range(random.choice((0, 0, 0, 1, 2))))
        bonuses: tuple[SetBonus, ...] = ()
        if len(rebates) == 2 and self.maybe(0.7):
            pair = (rebates[0].id, rebates[1].id)
            bonuses = (SetBonus(id="both", description="both", cents=self.cents(20, 200), rebates=pair),)
        offers = tuple(self.offer(k, names) for k in range(random.choice((0, 0, 1, 2))))
        made = Trip(
            id=self.name,
            title="A small trip",
            day=DAY,
            region=random.choice(("", "north")),
            stores=stores,
            products=tuple(self.product(name) for name in self.products),
            prices=self.prices(names),
            wants=self.wants(),
            coupons=coupons,
            percent_offers=offers,
            rewards=rewards,
            rebates=rebates,
            set_bonuses=bonuses,
            wallet=self.wallet(names, [reward.id for reward in rewards if reward.kind == "slip"]),
            settings=self.settings(),
        )
        return msgspec.structs.replace(made, pinned=self.pinned(made))

    def coupons(self, stores: list[str]) -> tuple[Coupon, ...]:
        """Up to three coupons of any kind."""
        return tuple(self.coupon(k, stores) for k in range(self.random.randint(0, 3)))

    def pinned(self, trip: Trip) -> tuple[Pinned, ...]:
        """Nothing."""
        return ()

    # --- houses and shelves ---

    def some_stores(self) -> tuple[Store, ...]:
        shape = self.random.random()
        main = Store(
            id="s0", name="Main", rules=self.rules(), tax=self.tax(), cash_ceiling_cents=self.ceiling()
        )
        if shape < 0.7:
            return (main,)
        if shape < 0.9:
            return (main, Store(id="s1", name="Mill", rules=self.rules(), tax=self.tax()))
        return (
            main,
            Store(id="s1", name="Main, online", rules=self.rules(), tax=self.tax(), channel_of="s0"),
        )

    def ceiling(self) -> int | None:
        return self.cents(100, 1200) if self.maybe(0.08) else None

    def rules(self) -> HouseRules:
        random = self.random
        multiplying = None
        if self.maybe(0.25):
            multiplying = Multiplying(
                times=random.choice((2, 2, 3)),
                up_to_cents=self.cents(30, 150),
                per_transaction=random.choice((None, 1, 2)),
            )
        return HouseRules(
            manufacturer_coupons_per_unit=random.choice((1,) * 15 + (0,)),
            store_coupons_per_unit=random.choice((1,) * 15 + (0,)),
            percent_offers_per_unit=random.choice((1,) * 15 + (0,)),
            store_with_manufacturer=self.maybe(0.8),
            like_coupons_per_transaction=random.choice((4, 4, None, 1, 2)),
            coupons_no_more_than_items=self.maybe(0.8),
            slip_counts_as_manufacturer_coupon=self.maybe(0.25),
            percent_base=random.choice(("shelf", "left")),
            percent_rounding=random.choice(("unit", "line")),
            multiplying=multiplying,
            overage=random.choice(("cut", "cut", "basket", "refuse")),
            basket_coupons_per_transaction=random.choice((1, 1, 1, 2, 0)),
            transactions_per_visit=random.choice((1, 2, 2, 2, 3)),
        )

    def tax(self) -> Tax:
        if self.maybe(0.45):
            return Tax()
        rates = {"home": self.random.choice((8_875, 6_000, 7_250))}
        if self.maybe(0.3):
            rates["food"] = self.random.choice((1_000, 2_250))
        return Tax(
            rates=rates,
            treatment=self.random.choice(("store_funded", "all", "none")),
            basis=self.random.choice(("invoice", "item")),
        )

    def product(self, name: str) -> Product:
        random = self.random
        return Product(
            id=name,
            description=f"Good {name}",
            size=Size(amount=random.choice(("6", "8", "12.5", "16")), unit="oz"),
            pieces=random.choice((1, 1, 4, 6, 12)),
            tax_class=random.choice(("", "home", "home", "food")),
        )

    def prices(self, stores: list[str]) -> tuple[ShelfPrice, ...]:
        found: list[ShelfPrice] = []
        for product in self.products:
            homes = [store for store in stores if self.maybe(0.75)] or [stores[0]]
            for store in homes:
                found.append(self.price(store, product))
        return tuple(found)

    def price(self, store: str, product: str) -> ShelfPrice:
        random = self.random
        cents = self.cents(40, 600)
        deal: NForM | BuyOneGetOne | None = None
        shape = random.random()
        if shape < 0.15:
            n = random.choice((2, 2, 3))
            must = self.maybe(0.5)
            price = max(1, cents * n - random.randint(0, cents))
            deal = NForM(n=n, cents=price, must_buy=must)
        elif shape < 0.3:
            deal = BuyOneGetOne(
                off_bp=random.choice((10_000, 5_000)), mix=random.choice(("", "pair", "pair"))
            )
        return ShelfPrice(
            store=store,
            product=product,
            cents=cents,
            deal=deal,
            until=random.choice((None, None, None, DAY)),
            per_transaction=random.randint(1, 3) if self.maybe(0.08) else None,
            per_visit=random.randint(1, 3) if self.maybe(0.08) else None,
        )

    def wants(self) -> tuple[Want, ...]:
        random = self.random
        room = random.choice((2, 3, 3, 4, 4, 5))
        wants: list[Want] = []
        rest = list(self.products)
        random.shuffle(rest)
        while rest and room > 0:
            take = min(len(rest), random.choice((1, 1, 2)))
            chosen, rest = rest[:take], rest[take:]
            if wants and self.maybe(0.1):
                chosen.append(random.choice(wants[0].products))
            most = random.randint(1, room)
            room -= most
            stock = None
            if self.maybe(0.7):
                stock = random.choice(
                    (
                        StockUp(cents=str(random.randint(2, 40)), per="oz"),
                        StockUp(cents=random.choice(("25", "33.3", "80", "150", "300")), per="roll"),
                    )
                )
            need = random.randint(0, most)
            welcome = most if most > need or self.maybe(0.5) else 0
            wants.append(
                Want(id=f"w{len(wants)}", products=tuple(chosen), need=need, welcome=welcome, stock_up=stock)
            )
        return tuple(wants)

    # --- the wallet and the settings ---

    def wallet(self, stores: list[str], slip_offers: list[str]) -> Wallet:
        random = self.random
        slips: list[Slip] = []
        if self.maybe(0.2):
            offer = random.choice(slip_offers) if slip_offers and self.maybe(0.6) else None
            until = random.choice((None, DAY, "2027-03-01"))
            slips.append(
                Slip(
                    id="old", store=random.choice(stores), cents=self.cents(50, 300), offer=offer, until=until
                )
            )
        cards: list[GiftCard] = []
        if self.maybe(0.12):
            cards.append(GiftCard(id="card", store=random.choice(stores), cents=self.cents(50, 500)))
        checks: list[RainCheck] = []
        if self.maybe(0.12):
            checks.append(
                RainCheck(
                    id="rain",
                    store=stores[0],
                    product=random.choice(self.products),
                    cents=self.cents(20, 300),
                    units=random.randint(1, 2),
                    until=random.choice((None, None, "2027-03-01")),
                )
            )
        cash = self.cents(100, 1_200) if self.maybe(0.25) else None
        return Wallet(slips=tuple(slips), gift_cards=tuple(cards), rain_checks=tuple(checks), cash_cents=cash)

    def settings(self) -> Settings:
        random = self.random
        worth = Worth()
        if self.maybe(0.4):
            worth = Worth(
                slip_bp=random.choice((10_000, 9_000, 7_550, 0)),
                gift_card_bp=random.choice((10_000, 9_500)),
                points_bp=random.choice((10_000, 5_000)),
                rebate_bp=random.choice((10_000, 8_550)),
            )
        return Settings(
            worth=worth,
            further_transaction_cents=random.choice((0, 0, 25, 100)),
            further_store_cents=random.choice((0, 0, 50, 200)),
            days_to_next_visit=random.choice((7, 7, 1, 0)),
        )
