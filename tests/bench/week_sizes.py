"""Trips of any size for the benches: an invented week, the same for the same seed.

Sizes follow the budgets: wants, coupons, rewards, stores. Shapes follow a household's week: most
wants have two or three acceptable products, most coupons are for one brand, a few ask for two
units, some offers are limited, rewards span a handful of products.
"""

from __future__ import annotations

from random import Random

from counterfoil.engine.offers import (
    Asks,
    BuyOneGetOne,
    CentsOff,
    Coupon,
    FreeItem,
    HouseRules,
    Multiplying,
    NForM,
    PercentOffer,
    Product,
    Rebate,
    RewardOffer,
    ShelfPrice,
    Size,
    StockUp,
    Store,
    Tax,
    Tier,
    Trip,
    Want,
)


def week(wants: int, coupons: int, rewards: int, stores: int, seed: int = 1) -> Trip:
    """A trip of so many of each; products come to about two and a half per want."""
    random = Random(seed * 1_000_003 + wants)
    places = tuple(_store(index, random) for index in range(stores))
    goods: list[Product] = []
    wanted: list[Want] = []
    for index in range(wants):
        own = [_product(index, variant, random) for variant in range(random.choice((1, 2, 2, 3, 4)))]
        goods.extend(own)
        need = random.choice((0, 1, 1, 1, 2))
        wanted.append(
            Want(
                id=f"want-{index:03}",
                products=tuple(product.id for product in own),
                need=need,
                welcome=need + random.choice((0, 1, 2, 3)),
                stock_up=StockUp(cents=str(random.randrange(80, 420)), per="piece"),
            )
        )
    prices = [
        _price(product, place, random) for product in goods for place in places if random.random() < 0.8
    ]
    sold = {price.product for price in prices}
    prices.extend(_price(product, places[0], random) for product in goods if product.id not in sold)
    return Trip(
        id=f"week-{wants}",
        title=f"A week of {wants} wants",
        day="2026-12-05",
        stores=places,
        products=tuple(goods),
        prices=tuple(prices),
        wants=tuple(wanted),
        coupons=tuple(_coupon(index, goods, places, random) for index in range(coupons)),
        percent_offers=tuple(
            _offer(index, goods, places, random) for index in range(max(stores, wants // 10))
        ),
        rewards=tuple(_reward(index, goods, places, random) for index in range(rewards)),
        rebates=tuple(_rebate(index, goods, random) for index in range(wants // 5)),
    )


def _store(index: int, random: Random) -> Store:
    doubles = Multiplying() if index % 3 == 0 else None
    rounding = "line" if index % 2 else "unit"
    return Store(
        id=f"store-{index}",
        name=f"Store {index}",
        rules=HouseRules(
            multiplying=doubles, percent_rounding=rounding, transactions_per_visit=2 + index % 2
        ),
        tax=Tax(rates={"general": 6625} if random.random() < 0.7 else {}),
    )


def _product(index: int, variant: int, random: Random) -> Product:
    return Product(
        id=f"product-{index:03}-{variant}",
        description=f"Product {index} in variant {variant}",
        size=Size(amount=str(random.choice((8, 12, 16, 24))), unit="oz"),
        tax_class=random.choice(("", "", "general")),
    )


def _price(product: Product, place: Store, random: Random) -> ShelfPrice:
    cents = random.randrange(99, 1299)
    deal = random.choice(
        (None,) * 7
        + (
            NForM(n=2, cents=max(2 * cents - 100, 2)),
            NForM(n=3, cents=2 * cents + 1, must_buy=True),
            BuyOneGetOne(),
        )
    )
    return ShelfPrice(store=place.id, product=product.id, cents=cents, deal=deal)


def _some(goods: list[Product], random: Random, most: int) -> tuple[str, ...]:
    """A product, with its variants, and perhaps neighbours: what a brand's offer names."""
    start = random.randrange(len(goods))
    return tuple(product.id for product in goods[start : start + random.randrange(1, most + 1)])


def _coupon(index: int, goods: list[Product], places: tuple[Store, ...], random: Random) -> Coupon:
    ours = random.random() < 0.25
    units = random.choice((1, 1, 1, 1, 2))
    gives = (
        FreeItem() if random.random() < 0.06 else CentsOff(cents=random.choice((25, 40, 50, 75, 100, 150)))
    )
    return Coupon(
        id=f"coupon-{index:03}",
        description=f"Coupon {index}",
        issuer="store" if ours else "manufacturer",
        form=random.choice(("insert", "printable", "digital")),
        gives=gives,
        asks=(Asks(products=_some(goods, random, 3), units=2 if isinstance(gives, FreeItem) else units),),
        stores=(random.choice(places).id,) if ours else (),
        copies=random.choice((1, 1, 2, 3)),
    )


def _offer(index: int, goods: list[Product], places: tuple[Store, ...], random: Random) -> PercentOffer:
    return PercentOffer(
        id=f"offer-{index:03}",
        store=random.choice(places).id,
        description=f"Offer {index}",
        bp=random.choice((1000, 1500, 2000, 2500)),
        products=_some(goods, random, 3),
        units_per_transaction=random.choice((None, 1, 2)),
    )


def _reward(index: int, goods: list[Product], places: tuple[Store, ...], random: Random) -> RewardOffer:
    return RewardOffer(
        id=f"reward-{index:03}",
        store=places[index % len(places)].id,
        description=f"Reward {index}",
        kind=random.choice(("slip", "slip", "gift_card", "points")),
        tiers=(Tier(threshold=2, cents=random.choice((200, 300, 400))),),
        products=_some(goods, random, 5),
        rolls=random.random() < 0.5,
    )


def _rebate(index: int, goods: list[Product], random: Random) -> Rebate:
    return Rebate(
        id=f"rebate-{index:03}",
        description=f"Rebate {index}",
        cents=random.choice((25, 50, 100)),
        products=_some(goods, random, 2),
        limit=random.choice((1, 2)),
    )
