"""Coupons, percent offers, rewards and rebates drawn at random for small trips; goods are invented."""

from __future__ import annotations

from random import Random

from counterfoil.engine.offers import (
    Asks,
    BasketOff,
    CentsOff,
    Coupon,
    FixedPrice,
    FreeItem,
    Issuer,
    Measure,
    PercentOff,
    PercentOffer,
    Rebate,
    RewardOffer,
    Tier,
)

DAY = "2027-03-06"
MEASURES: tuple[Measure, ...] = ("before_coupons", "after_store_coupons", "after_all_coupons")


class OfferMaker:
    """Draws offers on ``products`` from ``random``: equal streams make equal offers."""

    def __init__(self, name: str, random: Random, products: list[str]) -> None:
        self.name, self.random, self.products = name, random, products

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

    def _dates(self) -> tuple[str | None, str | None]:
        return self.random.choice(((None, None),) * 10 + ((None, DAY), (DAY, None), (None, "2027-03-05")))

    def coupon(self, k: int, stores: list[str]) -> Coupon:
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

    def offer(self, k: int, stores: list[str]) -> PercentOffer:
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

    def reward(self, k: int, stores: list[str]) -> RewardOffer:
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

    def rebate(self, k: int, stores: list[str]) -> Rebate:
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
