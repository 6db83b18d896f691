"""Seeded small trips that touch every rule, of a size at which CP-SAT still proves its answer.

``tiny_trip(seed)`` is always sound (``check_trip`` finds nothing). Each trip draws a few rules at
random; over some hundreds of seeds every kind of coupon, sale, reward, rebate, limit and house rule
meets every other. Goods and houses are invented.
"""

from __future__ import annotations

from random import Random

from counterfoil.engine.offers import (
    Asks,
    BasketOff,
    BuyOneGetOne,
    CentsOff,
    Coupon,
    FixedPrice,
    FreeItem,
    GiftCard,
    HouseRules,
    Issuer,
    Measure,
    Multiplying,
    NForM,
    PercentOff,
    PercentOffer,
    Product,
    RainCheck,
    Rebate,
    RewardOffer,
    SetBonus,
    Settings,
    ShelfPrice,
    Size,
    Slip,
    StockUp,
    Store,
    Tax,
    Tier,
    Trip,
    Wallet,
    Want,
    Worth,
)

DAY = "2027-03-06"
MEASURES: tuple[Measure, ...] = ("before_coupons", "after_store_coupons", "after_all_coupons")


def tiny_trip(seed: int) -> Trip:
    """The trip of this seed: about four units in all, at most two houses."""
    return _Maker(seed).trip()


class _Maker:
    def __init__(self, seed: int) -> None:
        self.seed = seed
        self.random = Random(seed)
        self.products = [f"p{k}" for k in range(self.random.choice((1, 2, 2, 3, 3, 4)))]

    def maybe(self, chance: float) -> bool:
        return self.random.random() < chance

    def cents(self, low: int, high: int) -> int:
        """Often an odd amount, sometimes a round one: ties matter."""
        if self.maybe(0.3):
            return max(low, self.random.randint(low, high) // 50 * 50)
        return self.random.randint(low, high)

    def some(self, all_if_empty: bool = False) -> tuple[str, ...]:
        if all_if_empty and self.maybe(0.4):
            return ()
        count = self.random.randint(1, len(self.products))
        return tuple(sorted(self.random.sample(self.products, count)))

    def trip(self) -> Trip:
        random = self.random
        stores = self._stores()
        names = [store.id for store in stores]
        coupons = tuple(self._coupon(k, names) for k in range(random.randint(0, 3)))
        rewards = tuple(self._reward(k, names) for k in range(random.choice((0, 0, 1, 1, 2))))
        rebates = tuple(self._rebate(k, names) for k in range(random.choice((0, 0, 0, 1, 2))))
        bonuses: tuple[SetBonus, ...] = ()
        if len(rebates) == 2 and self.maybe(0.7):
            pair = (rebates[0].id, rebates[1].id)
            bonuses = (SetBonus(id="both", description="both", cents=self.cents(20, 200), rebates=pair),)
        offers = tuple(self._offer(k, names) for k in range(random.choice((0, 0, 1, 2))))
        return Trip(
            id=f"tiny-{self.seed}",
            title="A small trip",
            day=DAY,
            region=random.choice(("", "north")),
            stores=stores,
            products=tuple(self._product(name) for name in self.products),
            prices=self._prices(names),
            wants=self._wants(),
            coupons=coupons,
            percent_offers=offers,
            rewards=rewards,
            rebates=rebates,
            set_bonuses=bonuses,
            wallet=self._wallet(names, [reward.id for reward in rewards if reward.kind == "slip"]),
            settings=self._settings(),
        )

    # --- houses and shelves ---

    def _stores(self) -> tuple[Store, ...]:
        shape = self.random.random()
        main = Store(
            id="s0", name="Main", rules=self._rules(), tax=self._tax(), cash_ceiling_cents=self._ceiling()
        )
        if shape < 0.7:
            return (main,)
        if shape < 0.9:
            return (main, Store(id="s1", name="Mill", rules=self._rules(), tax=self._tax()))
        return (
            main,
            Store(id="s1", name="Main, online", rules=self._rules(), tax=self._tax(), channel_of="s0"),
        )

    def _ceiling(self) -> int | None:
        return self.cents(100, 1200) if self.maybe(0.08) else None

    def _rules(self) -> HouseRules:
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

    def _tax(self) -> Tax:
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

    def _product(self, name: str) -> Product:
        random = self.random
        return Product(
            id=name,
            description=f"Good {name}",
            size=Size(amount=random.choice(("6", "8", "12.5", "16")), unit="oz"),
            pieces=random.choice((1, 1, 4, 6, 12)),
            tax_class=random.choice(("", "home", "home", "food")),
        )

    def _prices(self, stores: list[str]) -> tuple[ShelfPrice, ...]:
        found: list[ShelfPrice] = []
        for product in self.products:
            homes = [store for store in stores if self.maybe(0.75)] or [stores[0]]
            for store in homes:
                found.append(self._price(store, product))
        return tuple(found)

    def _price(self, store: str, product: str) -> ShelfPrice:
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

    def _wants(self) -> tuple[Want, ...]:
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

    # --- coupons and offers ---

    def _dates(self) -> tuple[str | None, str | None]:
        return self.random.choice(((None, None),) * 10 + ((None, DAY), (DAY, None), (None, "2027-03-05")))

    def _coupon(self, k: int, stores: list[str]) -> Coupon:
        random = self.random
        issuer: Issuer = random.choice(("manufacturer", "manufacturer", "store"))
        start, end = self._dates()
        asks: tuple[Asks, ...] = (Asks(products=self.some(), units=random.choice((1, 1, 1, 2, 2, 3))),)
        shape = random.random()
        if shape < 0.4:
            if self.maybe(0.2):
                asks = (Asks(products=self.some()), Asks(products=self.some()))
            regional = {"north": self.cents(20, 300)} if self.maybe(0.15) else {}
            gives = CentsOff(cents=self.cents(20, 300), regional_cents=regional)
        elif shape < 0.55:
            gives = PercentOff(bp=random.choice((1_000, 1_500, 2_500, 3_333, 5_000, 10_000)))
        elif shape < 0.75:
            leg = None
            asks = (Asks(products=self.some(), units=random.choice((1, 2, 2, 3))),)
            if self.maybe(0.3):
                asks = (Asks(products=self.some()), Asks(products=self.some()))
                leg = random.choice((None, 0, 1))
            off_bp = random.choice((10_000, 10_000, 5_000))
            cap = self.cents(50, 400) if self.maybe(0.3) else None
            gives = FreeItem(off_bp=off_bp, up_to_cents=cap, leg=leg)
        elif shape < 0.87:
            gives = FixedPrice(cents=self.cents(1, 500))
        else:
            asks = (Asks(products=self.some(all_if_empty=True)),)
            gives = BasketOff(
                cents=self.cents(30, 300), from_cents=self.cents(0, 900), measure=random.choice(MEASURES)
            )
        return Coupon(
            id=f"c{k}",
            description=f"Coupon {k}",
            issuer=issuer,
            form=random.choice(("insert", "digital", "printable")),
            gives=gives,
            asks=asks,
            stores=(random.choice(stores),) if issuer == "store" or self.maybe(0.2) else (),
            copies=random.choice((1, 1, 2, 2, 3)),
            per_transaction=random.choice((None, None, None, 1)),
            per_day=random.choice((None, None, None, 1, 2)),
            per_household=random.choice((None, None, None, 1, 2)),
            from_date=start,
            until=end,
            may_multiply=self.maybe(0.8),
        )

    def _offer(self, k: int, stores: list[str]) -> PercentOffer:
        random = self.random
        start, end = self._dates()
        return PercentOffer(
            id=f"o{k}",
            store=random.choice(stores),
            description=f"Offer {k}",
            bp=random.choice((500, 1_000, 1_500, 2_500, 3_333)),
            products=self.some(all_if_empty=True),
            units_per_transaction=random.choice((None, 1, 2)),
            transactions=random.choice((None, None, 1)),
            from_date=start,
            until=end,
        )

    def _reward(self, k: int, stores: list[str]) -> RewardOffer:
        random = self.random
        start, end = self._dates()
        by = random.choice(("units", "units", "spend"))

        def tier(step: int) -> Tier:
            threshold = random.randint(1, 2) + step if by == "units" else self.cents(200, 700) + 500 * step
            return Tier(threshold=threshold, cents=self.cents(50, 250) + 100 * step)

        tiers = (tier(0), tier(1)) if self.maybe(0.25) else (tier(0),)
        if len(tiers) == 2 and not (
            tiers[1].threshold > tiers[0].threshold and tiers[1].cents > tiers[0].cents
        ):
            tiers = tiers[:1]
        return RewardOffer(
            id=f"r{k}",
            store=random.choice(stores),
            description=f"Reward {k}",
            kind=random.choice(("slip", "slip", "gift_card", "points")),
            tiers=tiers,
            by=by,
            measure=random.choice(MEASURES),
            products=self.some(all_if_empty=True),
            per_transaction=random.choice((1, 1, 1, 2, None)),
            per_household=random.choice((None, None, 1, 2)),
            rolls=self.maybe(0.6),
            valid_days=random.choice((14, 14, 7, 3, 0)),
            from_date=start,
            until=end,
        )

    def _rebate(self, k: int, stores: list[str]) -> Rebate:
        random = self.random
        start, end = self._dates()
        return Rebate(
            id=f"b{k}",
            description=f"Rebate {k}",
            cents=self.cents(20, 200),
            products=self.some(),
            units=random.choice((1, 1, 2, 3)),
            limit=random.choice((1, 1, 2)),
            stores=(random.choice(stores),) if self.maybe(0.3) else (),
            from_receipt_cents=self.cents(100, 900) if self.maybe(0.3) else 0,
            from_date=start,
            until=end,
        )

    # --- the wallet and the settings ---

    def _wallet(self, stores: list[str], slip_offers: list[str]) -> Wallet:
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

    def _settings(self) -> Settings:
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
