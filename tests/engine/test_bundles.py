"""Promise kept here: of the groups that one coupon binds, all that could be bought are listed, no others."""

from __future__ import annotations

import pytest

from counterfoil.engine.bundles import columns
from counterfoil.engine.offers import (
    Asks,
    CentsOff,
    Coupon,
    PercentOffer,
    Product,
    ShelfPrice,
    Store,
    Want,
)
from counterfoil.engine.ways import Counter

GOODS = ("fig", "lemon", "mint", "plain")


def bundles(welcome: int, offers: tuple[PercentOffer, ...] = (), per_transaction: int | None = None) -> int:
    """How many bundles 3.00 off three of four goods at 0.50 makes, so many of each welcome."""
    store = Store(id="brindlewick", name="Brindlewick Foods")
    coupon = Coupon(
        id="three",
        description="3.00 off three",
        issuer="store",
        form="insert",
        gives=CentsOff(cents=300),
        asks=(Asks(products=GOODS, units=3),),
    )
    counter = Counter(
        store=store, day="2026-12-05", region="", coupons=(coupon,), offers=offers, rain_checks=()
    )
    tags = [
        ShelfPrice(store=store.id, product=name, cents=50, per_transaction=per_transaction) for name in GOODS
    ]
    products = [Product(id=name, description=name) for name in GOODS]
    wants = [Want(id=name, products=(name,), welcome=welcome) for name in GOODS]
    found, whole = columns(list(zip(products, tags, strict=True)), counter, wants)
    assert whole
    return sum(bool(column.whole_uses) for column in found)


# Three of four goods: each as often as wanted 20 groups, each twice 4 fewer (those of one kind), each once 4.
@pytest.mark.parametrize(("welcome", "count"), [(1, 4), (2, 16), (3, 20)])
def test_no_more_units_are_bound_than_are_welcome(welcome: int, count: int) -> None:
    assert bundles(welcome) == count


def test_no_more_units_are_bound_than_a_tag_sells_in_one_transaction() -> None:
    assert bundles(3, per_transaction=1) == 4


def test_an_offer_on_one_unit_a_transaction_is_on_one_unit_of_a_bundle() -> None:
    """Each of the 4 groups of different goods without the offer, and with it on one of its three units."""
    offer = PercentOffer(
        id="tenth",
        store="brindlewick",
        description="10 % off",
        bp=1000,
        products=GOODS,
        units_per_transaction=1,
    )

    assert bundles(1, (offer,)) == 4 + 4 * 3
