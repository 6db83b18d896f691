"""The trip that the browser tests carry, small enough to be worked by hand.

Alder Row Grocers (5 % tax on soap, reckoned before manufacturer coupons):
    2 x oats 2.00, one 0.50 coupon                                   3.50
    2 x soap 2.49, two 0.60 coupons: the stack is 1.89               3.78
    tax on 4.98                                                      0.25     7.53
Bittern Lane Drugs:
    transaction 1: 2 x razors 7.49, two 3.00 coupons                 8.98, prints a 4.00 slip
    transaction 2: shampoo 4.50, paid with that slip and 0.50 cash   4.50
At 1.2 cents a millilitre the large shampoo is worth its 4.50, the small one not its 3.60.
Out of pocket 7.53 + 8.98 + 0.50 = 17.01; net 7.53 + 8.98 + 4.50 - 4.00 = 17.01.

No soap at Alder Row: oat soap at 2.91 takes its place, the stack is 2.31; two are 4.62, tax on 5.82
is 0.29, the register shows 3.50 + 4.62 + 0.29 = 8.41; net 0.88 more.
No shampoo at Bittern Lane: the small one at 3.60 is less than the slip, which is taken whole or not at
all; so one transaction of 8.98 + 3.60 = 12.58 in cash, and the slip goes home.
"""

from __future__ import annotations

from counterfoil.engine.offers import (
    Asks,
    CentsOff,
    Coupon,
    HouseRules,
    Product,
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

OATS = "Wickel rolled oats, 500 g"
SOAP = "Larkmoor soap, 3 bars"
OAT_SOAP = "Larkmoor oat soap, 3 bars"
RAZORS = "Thistledown razors, 4"
SHAMPOO = "Fernbeck shampoo, 400 ml"
SMALL_SHAMPOO = "Fernbeck shampoo, 250 ml"
ALDER = "Alder Row Grocers"
BITTERN = "Bittern Lane Drugs"


def saturday(version: int = 1) -> Trip:
    """The trip as the Desk takes it in."""
    return Trip(
        id="saturday",
        title="Saturday, two stores",
        day="2026-12-05",
        version=version,
        stores=(
            Store(
                id="alder",
                name=ALDER,
                tax=Tax(rates={"care": 5000}),
                # In two transactions the tax on soap would round to a cent less.
                rules=HouseRules(transactions_per_visit=1),
            ),
            Store(id="bittern", name=BITTERN),
        ),
        products=(
            Product(id="oats", description=OATS),
            Product(id="soap", description=SOAP, tax_class="care"),
            Product(id="oat-soap", description=OAT_SOAP, tax_class="care"),
            Product(id="razors", description=RAZORS),
            Product(id="shampoo", description=SHAMPOO, size=Size(amount="400", unit="ml")),
            Product(id="small-shampoo", description=SMALL_SHAMPOO, size=Size(amount="250", unit="ml")),
        ),
        prices=(
            ShelfPrice(store="alder", product="oats", cents=200, place="Aisle 3"),
            ShelfPrice(
                store="alder", product="soap", cents=249, place="Aisle 10", place_note="Bottom shelf."
            ),
            ShelfPrice(store="alder", product="oat-soap", cents=291, place="Aisle 10"),
            ShelfPrice(store="bittern", product="razors", cents=749, place="Aisle 1"),
            ShelfPrice(store="bittern", product="shampoo", cents=450, place="Aisle 2"),
            ShelfPrice(store="bittern", product="small-shampoo", cents=360, place="Aisle 2"),
        ),
        wants=(
            Want(id="oats", name="Oats", products=("oats",), need=2, welcome=2),
            Want(id="soap", name="Soap", products=("soap", "oat-soap"), need=2, welcome=2),
            Want(id="razors", name="Razors", products=("razors",), need=2, welcome=2),
            Want(
                id="shampoo",
                name="Shampoo",
                products=("shampoo", "small-shampoo"),
                need=1,
                welcome=1,
                stock_up=StockUp(cents="1.2", per="ml"),
            ),
        ),
        coupons=(
            _off("oats-50", "$0.50 off one Wickel oats", 50, ("oats",), copies=1),
            _off("larkmoor-60", "$0.60 off one Larkmoor soap", 60, ("soap", "oat-soap"), copies=2),
            _off("thistledown-300", "$3.00 off Thistledown razors", 300, ("razors",), copies=2),
        ),
        rewards=(
            RewardOffer(
                id="razor-slip",
                store="bittern",
                description="Buy 2 Thistledown razors, get a $4.00 slip",
                kind="slip",
                tiers=(Tier(threshold=2, cents=400),),
                products=("razors",),
            ),
        ),
    )


def _off(name: str, description: str, cents: int, products: tuple[str, ...], copies: int) -> Coupon:
    return Coupon(
        id=name,
        description=description,
        issuer="manufacturer",
        form="insert",
        gives=CentsOff(cents=cents),
        asks=(Asks(products=products),),
        copies=copies,
        where="Envelope, front pocket",
    )
