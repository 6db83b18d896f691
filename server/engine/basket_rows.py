"""Basket coupons in the program: a spend to reach, and a value no larger than what is left."""

from __future__ import annotations

import msgspec

from .block import Block, Shelf
from .offers import BasketOff, Coupon, Measure
from .program import Program, Sum, added, one
from .ways import Counter, Way, asks_for

MEASURES: tuple[Measure, ...] = ("before_coupons", "after_store_coupons", "after_all_coupons")


class Basket(msgspec.Struct, frozen=True):
    """A basket coupon in one transaction: the cents it takes off, and off each taxed class."""

    coupon: Coupon
    cents: int
    by_class: dict[str, int]


def spend_of(way: Way, measure: Measure, products: tuple[str, ...], shelf: Shelf, apart: bool) -> int:
    """What a unit adds to a spend. The surplus of overage falls on no unit that is known here; where
    all goods count it is taken off, else it is left out in the shopper's favour."""
    everything = not apart and all(asks_for(products, each) for each in shelf.products)
    return way.cost if measure == "after_all_coupons" and everything else way.spends[MEASURES.index(measure)]


def never_below_zero(program: Program, spend: Sum, placed: list[tuple[int, Way]], shelf: Shelf) -> Sum:
    """A spend, or 0 where more surplus than goods would make it less."""
    if all(value >= 0 for value in spend.terms.values()) or all(way.cost >= 0 for _, way in placed):
        return spend
    most = shelf.most_units * max(max(abs(way.cost), way.level.cents) for _, way in placed)
    most += sum(int(program.upper[variable]) for variable, value in spend.terms.items() if value == -1)
    nothing, reached = program.variable(0, 1), program.variable(0, most)
    program.require(spend.plus(one(reached), -1).plus(one(nothing), most), low=0)
    program.require(one(reached).plus(one(nothing), most), high=most)
    return one(reached)


def surplus_may_miss(coupon: Coupon, counter: Counter, products: list[str]) -> bool:
    """Whether the surplus of overage lowers an unknown part of what a basket coupon counts."""
    return (
        isinstance(coupon.gives, BasketOff)
        and coupon.gives.measure == "after_all_coupons"
        and counter.store.rules.overage == "basket"
        and not all(asks_for(coupon.asks[0].products, each) for each in products)
    )


def basket_coupons(
    program: Program, block: Block, placed: list[tuple[int, Way]], shelf: Shelf, apart: bool
) -> list[Basket]:
    """Step 5: a threshold to reach, a value no larger than what is left."""
    rules = shelf.counter.store.rules
    found: list[Basket] = []
    all_uses: list[Sum] = []
    alone = sum(isinstance(coupon.gives, BasketOff) for coupon in shelf.counter.coupons) == 1
    for coupon in shelf.counter.coupons:
        if not isinstance(coupon.gives, BasketOff) or not rules.basket_coupons_per_transaction:
            continue
        eligible = coupon.asks[0].products
        spend, left = Sum({}), Sum({})
        for variable, way in placed:
            if asks_for(eligible, way.product):
                spend.add(variable, spend_of(way, coupon.gives.measure, eligible, shelf, apart))
                left.add(variable, max(way.cost, 0))
            if not apart and surplus_may_miss(coupon, shelf.counter, list(shelf.products)):
                # All of it may fall on what the coupon counts: then it must reach its spend even so.
                spend.add(variable, -max(-way.cost, 0))
        most = min(
            coupon.copies,
            rules.basket_coupons_per_transaction,
            coupon.copies if coupon.per_transaction is None else coupon.per_transaction,
            coupon.copies
            if rules.like_coupons_per_transaction is None
            else rules.like_coupons_per_transaction,
        )
        uses = program.variable(0, most)
        any_use = program.variable(0, 1)
        cents = program.variable(0, most * coupon.gives.cents)
        program.require(one(uses).plus(one(any_use), -most), high=0)
        spend = never_below_zero(program, spend, placed, shelf)
        program.require(spend.plus(one(any_use), -coupon.gives.from_cents), low=0)
        program.require(one(cents).plus(one(uses), -coupon.gives.cents), high=0)
        program.require(left.plus(one(cents), -1), low=0)
        if alone and rules.overage != "basket":
            _whole_value(program, one(cents), one(uses, coupon.gives.cents), left, shelf.most_units)
        block.basket_uses[coupon.id] = one(uses)
        block.uses[coupon.id] = one(uses)
        all_uses.append(one(uses))
        found.append(Basket(coupon, cents, _basket_by_class(program, coupon, cents, shelf)))
    if len(found) > 1 or any(basket.coupon.copies > 1 for basket in found):
        program.require(added(all_uses), high=rules.basket_coupons_per_transaction)
        left = Sum({})
        for variable, way in placed:
            left.add(variable, max(way.cost, 0))
        program.require(left.plus(added(one(basket.cents) for basket in found), -1), low=0)
    return found


def _whole_value(program: Program, cents: Sum, value: Sum, left: Sum, most_units: int) -> None:
    """A basket coupon takes its whole value or all that is left: by half of one no receipt is kept up
    to a threshold, nor what is due to a slip."""
    most = max((program.upper[variable] for variable in cents.terms), default=0)
    most_left = most_units * max(left.terms.values(), default=0)
    all_left = program.variable(0, 1)
    program.require(cents.plus(value, -1).plus(one(all_left), int(most)), low=0)
    program.require(cents.plus(left, -1).plus(one(all_left), -most_left), low=-most_left)


def _basket_by_class(program: Program, coupon: Coupon, cents: int, shelf: Shelf) -> dict[str, int]:
    """How much of a basket coupon lowers each taxed class.

    The register spreads it in proportion; the program may spread it as it likes where
    eligible goods are of several classes. That can only flatter the plan, so its bound holds; the
    register's own figure is what is shown, and a difference is told as a gap.
    """
    tax = shelf.counter.store.tax
    lowers = tax.treatment == "all" or (tax.treatment == "store_funded" and coupon.issuer == "store")
    if not lowers or not isinstance(coupon.gives, BasketOff):
        return {}
    classes = sorted(
        {
            product.tax_class
            for product in shelf.products.values()
            if asks_for(coupon.asks[0].products, product.id)
        }
    )
    taxed = [each for each in classes if tax.rates.get(each, 0)]
    if len(classes) == 1:
        return dict.fromkeys(taxed, cents)
    most = int(program.upper[cents])
    spread = {each: program.variable(0, most) for each in taxed}
    program.require(one(cents, -1).plus(added(one(each) for each in spread.values())), high=0)
    return spread
