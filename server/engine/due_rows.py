"""What a transaction comes to in the program: merchandise and tax."""

from __future__ import annotations

from .basket_rows import Basket
from .block import APART_SCALE, Block, Shelf
from .money import round_half_up
from .offers import Tax
from .program import Program, Sum, added, one
from .ways import Way

_MOST_CENTS = 2**30


def reckoned_apart(
    program: Program, block: Block, placed: list[tuple[int, Way]], shelf: Shelf, baskets: list[Basket]
) -> None:
    """Merchandise and tax of a cluster by itself, never more than its part of the whole."""
    tax = shelf.counter.store.tax
    for variable, way in placed:
        block.merchandise.add(variable, way.cost)
        rate = tax.rates.get(shelf.products[way.product].tax_class, 0)
        if tax.basis == "item":
            block.tax.add(variable, APART_SCALE * round_half_up(way.taxable * rate, 100_000))
        else:
            block.tax.add(variable, APART_SCALE * way.taxable * rate // 100_000)
        block.tax.add(variable, -_most_spared(_surplus_of(way), tax))
    block.merchandise = block.merchandise.plus(added(one(basket.cents) for basket in baskets), -1)
    for basket in baskets:
        for tax_class, cents in basket.by_class.items():
            relief = program.variable(0, _MOST_CENTS)
            exact = one(cents, APART_SCALE * tax.rates[tax_class])
            if tax.basis == "item":
                # Each unit that it is spread over may be rounded down.
                units, owed = _taxed_by_unit(placed, shelf, tax_class)
                exact = exact.plus(units, APART_SCALE * 100_000)
                program.require(Sum({}).plus(owed, APART_SCALE).plus(one(relief), -1), low=0)
            program.require(exact.plus(one(relief), -100_000), low=-100_000)
            block.tax.add(relief, -1)


def _surplus_of(way: Way) -> int:
    """What overage on a unit takes off what others are taxed on."""
    return max(-way.cost, 0) if way.surplus_lowers_tax else 0


def _most_spared(surplus: int, tax: Tax) -> int:
    """The most tax that a surplus can spare goods of other clusters, in the cluster's parts of a cent.

    Where each unit's tax is rounded: a unit that it pays for wholly is spared its tax, which is at most
    twice the exact one (half a cent may be a whole one), and one that it pays for in part less than a cent
    more than the exact one."""
    exact = APART_SCALE * surplus * max(tax.rates.values(), default=0)
    if not exact:
        return 0
    return -(-2 * exact // 100_000) + APART_SCALE if tax.basis == "item" else -(-exact // 100_000)


def _taxed_by_unit(placed: list[tuple[int, Way]], shelf: Shelf, tax_class: str) -> tuple[Sum, Sum]:
    """The units of a class, and the cents of their tax where each unit's is rounded."""
    units, owed = Sum({}), Sum({})
    rate = shelf.counter.store.tax.rates[tax_class]
    for variable, way in placed:
        if shelf.products[way.product].tax_class == tax_class:
            units.add(variable, 1)
            owed.add(variable, round_half_up(way.taxable * rate, 100_000))
    return units, owed


def overage_may_spare_more(shelf: Shelf) -> bool:
    """Whether no bound is known here for the tax that overage spares goods of other clusters.

    Where each unit's tax is rounded, and manufacturer coupons do not lower it, a store coupon's overage may
    pay for units of which less is left than is taxed."""
    tax = shelf.counter.store.tax
    return (
        tax.basis == "item"
        and tax.treatment == "store_funded"
        and any(_surplus_of(way) for column in shelf.columns for way in column.ways)
    )


def merchandise(
    program: Program, block: Block, placed: list[tuple[int, Way]], shelf: Shelf, baskets: list[Basket]
) -> dict[str, int]:
    """What is paid before tax. Where overage goes to the basket, it stops at zero.

    The answer: how much of the surplus lowers each taxed class. The register gives it out in belt
    order, so taxed goods lie first on the belt (``packing.py``) and the program may give it as it likes.
    """
    total = Sum({})
    for variable, way in placed:
        total.add(variable, way.cost)
    total = total.plus(added(one(basket.cents) for basket in baskets), -1)
    if all(way.cost >= 0 for _, way in placed):
        block.merchandise = total
        return {}
    paid = program.variable(0, _MOST_CENTS)
    program.require(one(paid).plus(total, -1), low=0)
    # The greater of the two and no more: no receipt is kept up to a rebate's least by paying too much.
    nothing = program.variable(0, 1)
    most = shelf.most_units * max((abs(way.cost) for _, way in placed), default=0)
    most += sum(int(program.upper[basket.cents]) for basket in baskets)
    program.require(one(paid).plus(total, -1).plus(one(nothing), -most), high=0)
    program.require(one(paid).plus(one(nothing), most), high=most)
    block.merchandise = one(paid)
    tax = shelf.counter.store.tax
    surplus = Sum({})
    for variable, way in placed:
        surplus.add(variable, _surplus_of(way))
    taxed = [each for each in sorted(tax.rates) if tax.rates[each]]
    if not surplus.terms or not taxed:
        return {}
    spread = {each: program.variable(0, _MOST_CENTS) for each in taxed}
    program.require(surplus.plus(added(one(each) for each in spread.values()), -1), low=0)
    return spread


def tax_due(
    program: Program,
    block: Block,
    placed: list[tuple[int, Way]],
    shelf: Shelf,
    baskets: list[Basket],
    surplus: dict[str, int],
) -> None:
    """Step 6: rounded once, per transaction and class or per unit."""
    tax = shelf.counter.store.tax
    if tax.basis == "item":
        for variable, way in placed:
            rate = tax.rates.get(shelf.products[way.product].tax_class, 0)
            block.tax.add(variable, round_half_up(way.taxable * rate, 100_000))
        _relief(program, block, placed, shelf, baskets, surplus)
        return
    for tax_class in sorted(tax.rates):
        rate = tax.rates[tax_class]
        base = Sum({})
        for variable, way in placed:
            if rate and shelf.products[way.product].tax_class == tax_class:
                base.add(variable, way.taxable)
        if not base.terms:
            continue
        for basket in baskets:
            if tax_class in basket.by_class:
                base.add(basket.by_class[tax_class], -1)
        if tax_class in surplus:
            base.add(surplus[tax_class], -1)
        cents = program.variable(0, _MOST_CENTS)
        # floor((rate * base + 50000) / 100000), and no more: a slip must not be fed with tax.
        program.require(one(cents, 100_000).plus(base, -rate), low=-49_999, high=50_000)
        block.tax.add(cents, 1)


def _relief(
    program: Program,
    block: Block,
    placed: list[tuple[int, Way]],
    shelf: Shelf,
    baskets: list[Basket],
    surplus: dict[str, int],
) -> None:
    """The most that basket coupons and overage can take off a tax that is rounded per unit: the
    exact part, and less than a cent for each unit that they touch. A bound in the shopper's favour."""
    tax = shelf.counter.store.tax
    for tax_class in sorted(tax.rates):
        on_basket = [one(basket.by_class[tax_class]) for basket in baskets if tax_class in basket.by_class]
        lowered = added(on_basket + ([one(surplus[tax_class])] if tax_class in surplus else []))
        if not lowered.terms or not tax.rates[tax_class]:
            continue
        units, owed = _taxed_by_unit(placed, shelf, tax_class)
        relief = program.variable(0, _MOST_CENTS)
        program.require(lowered.plus(one(relief), -1), low=0)
        program.require(owed.plus(one(relief), -1), low=0)
        exact = Sum({}).plus(lowered, tax.rates[tax_class]).plus(units, 100_000)
        program.require(exact.plus(one(relief), -100_000), low=0)
        if not on_basket:
            # Overage goes to one unit after the other: each but the last it pays for wholly.
            left = [way.cost for variable, way in placed if variable in units.terms and way.cost > 0]
            rounded = 50_000 if tax.treatment == "all" else 99_999  # what is left is then what is taxed
            wholly = -(-rounded // min(left, default=1))
            exact = Sum({}).plus(lowered, tax.rates[tax_class] + wholly)
            program.require(exact.plus(one(relief), -100_000), low=-99_999)
        block.tax.add(relief, -1)
