"""One transaction of the program: how many of each column, and what the register forces.

Every row here says one rule of the register for one store and one place in the order of
checkout: deals count units, slots of a coupon use go together, limits hold, thresholds are
reached. Sums that other parts need (units per product, uses per coupon, cents due) are kept.
"""

from __future__ import annotations

import msgspec

from .money import round_half_up
from .offers import (
    BasketOff,
    BuyOneGetOne,
    Coupon,
    FreeItem,
    Measure,
    NForM,
    Product,
    RewardOffer,
    ShelfPrice,
)
from .program import Program, Sum, added, one
from .ways import Column, Counter, OfferOn, Slot, Way, asks_for, parts, units_asked

_MOST_CENTS = 2**30
MEASURES: tuple[Measure, ...] = ("before_coupons", "after_store_coupons", "after_all_coupons")


class Block(msgspec.Struct):
    """The variables and sums of one transaction.

    ``columns``: variable per column, in the counter's order. ``units``: per product; ``at_tag``: those
    that no rain check pays for. ``uses``: per coupon, multiplied or not. ``earned``: per reward and
    tier, times. ``merchandise``: cents; ``tax``: 1/``scale`` cents.
    """

    columns: list[int]
    units: dict[str, Sum]
    at_tag: dict[str, Sum]
    uses: dict[str, Sum]
    offers: dict[str, Sum]
    rain_checks: dict[str, Sum]
    earned: dict[tuple[str, int], int]
    basket_uses: dict[str, Sum]
    merchandise: Sum
    tax: Sum
    used: int

    scale: int

    def due(self) -> Sum:
        """What the register asks for, in parts of a cent where the block stands apart."""
        return Sum({}).plus(self.merchandise, self.scale).plus(self.tax)


class Shelf(msgspec.Struct, frozen=True):
    """What a component buys from at one store: its counter, tags, products, columns and rewards.

    ``whole``: whether every way to buy is among the columns."""

    counter: Counter
    tags: dict[str, ShelfPrice | None]
    products: dict[str, Product]
    columns: list[Column]
    rewards: tuple[RewardOffer, ...]
    most_units: int
    whole: bool


# Apart from the rest of its transaction a cluster's tax cannot be rounded yet: it is reckoned in
# sixteenths of a cent, rounded down per column, so that it never exceeds the exact tax.
APART_SCALE = 16


def build_block(program: Program, shelf: Shelf, apart: bool) -> Block:
    """Adds one transaction at the shelf's store to the program.

    ``apart``: what other clusters put into the transaction is not known. Whatever looks at the
    whole of it (the surplus of overage, rounding of tax) is left open, each in the shopper's
    favour, so that the optimum is a bound. All that a basket coupon counts is in one cluster.
    """
    counts = [program.variable(0, shelf.most_units) for _ in shelf.columns]
    placed = [
        (variable, way) for variable, column in zip(counts, shelf.columns, strict=True) for way in column.ways
    ]
    block = Block(
        columns=counts,
        units=_per_product(placed, shelf),
        at_tag=_per_product([each for each in placed if not each[1].level.rain_check], shelf),
        uses={},
        offers={},
        rain_checks={},
        earned={},
        basket_uses={},
        merchandise=Sum({}),
        tax=Sum({}),
        used=program.variable(0, 1),
        scale=APART_SCALE if apart else 1,
    )
    _used(program, block, shelf)
    _deals(program, placed, shelf)
    _percent_offers(program, block, placed, shelf)
    _line_rounding(program, placed, shelf)
    _coupons(program, block, placed, shelf)
    _rain_checks(block, placed, shelf)
    baskets = _basket_coupons(program, block, placed, shelf, apart)
    _coupons_within_items(program, block, shelf, apart)
    if apart:
        _reckoned_apart(program, block, placed, shelf, baskets)
    else:
        surplus = _merchandise(program, block, placed, shelf, baskets)
        _tax(program, block, placed, shelf, baskets, surplus)
    _rewards(program, block, placed, shelf, baskets, apart)
    return block


def _per_product(placed: list[tuple[int, Way]], shelf: Shelf) -> dict[str, Sum]:
    units = {product: Sum({}) for product in shelf.products}
    for variable, way in placed:
        units[way.product].add(variable, 1)
    return units


def _used(program: Program, block: Block, shelf: Shelf) -> None:
    """A transaction exists when a unit is in it; limits per transaction of each product."""
    everything = added(block.units.values())
    program.require(everything.plus(one(block.used), -shelf.most_units), high=0)
    program.require(everything.plus(one(block.used), -1), low=0)
    for product, total in block.at_tag.items():
        tag = shelf.tags[product]
        if tag is not None and tag.per_transaction is not None:
            program.require(total, high=tag.per_transaction)


def _role_sums(placed: list[tuple[int, Way]], products: set[str]) -> dict[str, Sum]:
    """Units of some products per role that their deal gives them."""
    roles: dict[str, Sum] = {}
    for variable, way in placed:
        if way.product in products:
            roles.setdefault(way.level.role, Sum({})).add(variable, 1)
    return roles


def _deals(program: Program, placed: list[tuple[int, Way]], shelf: Shelf) -> None:
    """Step 1: which units get which price is the register's to say."""
    pairs: dict[str, list[tuple[int, str, int]]] = {}
    for product, tag in shelf.tags.items():
        match tag.deal if tag is not None else None:
            case NForM() as deal:
                _n_for_m(program, _role_sums(placed, {product}), deal)
            case BuyOneGetOne(mix=mix, off_bp=off_bp) if tag is not None:
                pairs.setdefault(f"mix {mix}" if mix else f"only {product}", []).append(
                    (tag.cents, product, off_bp)
                )
            case _:
                pass
    for members in pairs.values():
        # Among the units at or above any price, the register reduces every second one.
        for price in sorted({cents for cents, _, _ in members}, reverse=True):
            roles = _role_sums(placed, {product for cents, product, _ in members if cents >= price})
            unpaired = roles.get("full", Sum({})).plus(roles.get("reduced", Sum({})), -1)
            program.require(unpaired, low=0, high=1)


def _n_for_m(program: Program, roles: dict[str, Sum], deal: NForM) -> None:
    """Odd cents on the first units; with must-buy whole groups, and less than a group beside them."""
    odd = deal.cents % deal.n
    first, group = roles.get("first", Sum({})), roles.get("group", Sum({}))
    if not deal.must_buy:
        if odd:
            together = first.plus(group)
            program.require(Sum({}).plus(first, deal.n).plus(together, -odd), low=0, high=deal.n - 1)
        return
    groups = program.variable(0, 10_000)
    program.require(first.plus(one(groups), -odd), low=0, high=0)
    program.require(group.plus(one(groups), odd - deal.n), low=0, high=0)
    program.require(roles.get("rest", Sum({})), high=deal.n - 1)


def _percent_offers(program: Program, block: Block, placed: list[tuple[int, Way]], shelf: Shelf) -> None:
    for offer in shelf.counter.offers:
        total = Sum({})
        for variable, way in placed:
            if any(each.source == offer.id for each in way.percents):
                total.add(variable, 1)
        block.offers[offer.id] = total
        if offer.units_per_transaction is not None and total.terms:
            program.require(total, high=offer.units_per_transaction)


def _line_rounding(program: Program, placed: list[tuple[int, Way]], shelf: Shelf) -> None:
    """Where the house rounds a percent per line: the line's discount is the rounded sum.

    A line's first unit takes what its own percentage rounds to, so some unit does; and where the deal
    says which price comes first, some unit of that price, if not a rain check's."""
    if shelf.counter.store.rules.percent_rounding != "line":
        return
    lines: dict[tuple[str, str], list[tuple[int, Way, OfferOn]]] = {}
    for variable, way in placed:
        for each in way.percents:
            lines.setdefault((way.product, each.source), []).append((variable, way, each))
    for (product, _), units in lines.items():
        given, exact = Sum({}), Sum({})
        able, unable = Sum({}), Sum({})
        leading = _leading_role(shelf.tags[product])
        ahead = _role_sums(placed, {product}).get(leading, Sum({}))
        behind = Sum({})
        for variable, way, each in units:
            given.add(variable, 10_000 * each.cents)
            exact.add(variable, each.base * each.bp)
            if way.level.rain_check:
                ahead.add(variable, 1)
            # Of several percentages one may find too little left; then what it takes tells nothing.
            if len(way.percents) > 1 or each.cents == round_half_up(each.base * each.bp, 10_000):
                able.add(variable, 1)
                continue
            unable.add(variable, 1)
            if way.level.role == leading:
                ahead.add(variable, -1)
                behind.add(variable, 1)
        if any(given.terms[variable] != exact.terms[variable] for variable in given.terms):
            program.require(given.plus(exact, -1), low=-4_999, high=5_000)
        for before, after in ((able, unable), (ahead, behind)):
            if after.terms:
                program.require(Sum({}).plus(before, shelf.most_units).plus(after, -1), low=0)


def _leading_role(tag: ShelfPrice | None) -> str:
    """The part in the deal of the first of a product's units on the belt; empty where any may lie first."""
    match tag.deal if tag is not None else None:
        case NForM(n=n, cents=cents):
            return "first" if cents % n else ""
        case BuyOneGetOne(mix=""):
            return "full"
        case _:
            return ""


def _coupons(program: Program, block: Block, placed: list[tuple[int, Way]], shelf: Shelf) -> None:
    """Slots of a use go together; limits per transaction; how many the house multiplies."""
    rules = shelf.counter.store.rules
    slots: dict[tuple[str, bool], list[tuple[int, Slot]]] = {}
    for variable, way in placed:
        for slot in way.slots:
            if slot.part >= 0:
                slots.setdefault((slot.coupon, slot.multiplied), []).append((variable, slot))
    wholes: dict[tuple[str, bool], Sum] = {}
    for variable, column in zip(block.columns, shelf.columns, strict=True):
        for use in column.whole_uses:
            wholes.setdefault(use, Sum({})).add(variable, 1)
    multiplied = Sum({})
    for coupon in shelf.counter.coupons:
        if isinstance(coupon.gives, BasketOff):
            continue
        total = Sum({})
        for variant in (False, True):
            uses = wholes.get((coupon.id, variant), Sum({}))
            own = slots.get((coupon.id, variant))
            if own is not None:
                uses = uses.plus(_uses(program, coupon, variant, own, shelf))
            total = total.plus(uses)
            if variant:
                multiplied = multiplied.plus(uses)
        if not total.terms:
            continue
        block.uses[coupon.id] = total
        limits = [
            each for each in (coupon.per_transaction, rules.like_coupons_per_transaction) if each is not None
        ]
        if limits and min(limits) < coupon.copies:
            program.require(total, high=min(limits))
    if rules.multiplying is not None and rules.multiplying.per_transaction is not None and multiplied.terms:
        program.require(multiplied, high=rules.multiplying.per_transaction)


def _uses(
    program: Program, coupon: Coupon, multiplied: bool, slots: list[tuple[int, Slot]], shelf: Shelf
) -> Sum:
    """How many times the coupon is used (multiplied or not), its slots tied together."""
    if units_asked(coupon) == 1:
        single = Sum({})
        for variable, _ in slots:
            single.add(variable, 1)
        return single
    uses = program.variable(0, coupon.copies)
    for index, part in enumerate(parts(coupon, shelf.counter, multiplied)):
        filled = Sum({})
        for variable, slot in slots:
            filled.add(variable, int(slot.part == index))
        program.require(filled.plus(one(uses), -part.count), low=0, high=0)
    for leg, ask in enumerate(coupon.asks if len(coupon.asks) > 1 else ()):
        filled = Sum({})
        for variable, slot in slots:
            filled.add(variable, int(slot.leg == leg))
        program.require(filled.plus(one(uses), -ask.units), low=0, high=0)
    if isinstance(coupon.gives, FreeItem):
        _cheapest_is_free(program, coupon, coupon.gives, slots)
    return one(uses)


def _cheapest_is_free(
    program: Program, coupon: Coupon, gives: FreeItem, slots: list[tuple[int, Slot]]
) -> None:
    """The free unit of a use is its cheapest: at any price, the units paid at or above it must
    be enough for the free ones at or above it."""
    rivals = [each for each in slots if gives.leg is None or each[1].leg == gives.leg]
    beside = (units_asked(coupon) if gives.leg is None else coupon.asks[gives.leg].units) - 1
    if not beside:
        return
    for price in sorted({slot.left_before for _, slot in rivals if slot.free}):
        balance = Sum({})
        for variable, slot in rivals:
            if slot.left_before >= price:
                balance.add(variable, -beside if slot.free else 1)
        program.require(balance, low=0)


def _rain_checks(block: Block, placed: list[tuple[int, Way]], shelf: Shelf) -> None:
    for check in shelf.counter.rain_checks:
        total = Sum({})
        for variable, way in placed:
            total.add(variable, int(way.level.rain_check == check.id))
        block.rain_checks[check.id] = total


class _Basket(msgspec.Struct, frozen=True):
    """A basket coupon in one transaction: the cents it takes off, and off each taxed class."""

    coupon: Coupon
    cents: int
    by_class: dict[str, int]


def _spend(way: Way, measure: Measure, products: tuple[str, ...], shelf: Shelf, apart: bool) -> int:
    """What a unit adds to a spend. The surplus of overage falls on no unit that is known here; where
    all goods count it is taken off, else it is left out in the shopper's favour."""
    everything = not apart and all(asks_for(products, each) for each in shelf.products)
    return way.cost if measure == "after_all_coupons" and everything else way.spends[MEASURES.index(measure)]


def _never_below_zero(program: Program, spend: Sum, placed: list[tuple[int, Way]], shelf: Shelf) -> Sum:
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


def _basket_coupons(
    program: Program, block: Block, placed: list[tuple[int, Way]], shelf: Shelf, apart: bool
) -> list[_Basket]:
    """Step 5: a threshold to reach, a value no larger than what is left."""
    rules = shelf.counter.store.rules
    found: list[_Basket] = []
    all_uses: list[Sum] = []
    alone = sum(isinstance(coupon.gives, BasketOff) for coupon in shelf.counter.coupons) == 1
    for coupon in shelf.counter.coupons:
        if not isinstance(coupon.gives, BasketOff) or not rules.basket_coupons_per_transaction:
            continue
        eligible = coupon.asks[0].products
        spend, left = Sum({}), Sum({})
        for variable, way in placed:
            if asks_for(eligible, way.product):
                spend.add(variable, _spend(way, coupon.gives.measure, eligible, shelf, apart))
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
        spend = _never_below_zero(program, spend, placed, shelf)
        program.require(spend.plus(one(any_use), -coupon.gives.from_cents), low=0)
        program.require(one(cents).plus(one(uses), -coupon.gives.cents), high=0)
        program.require(left.plus(one(cents), -1), low=0)
        if alone and rules.overage != "basket":
            _whole_value(program, one(cents), one(uses, coupon.gives.cents), left, shelf.most_units)
        block.basket_uses[coupon.id] = one(uses)
        block.uses[coupon.id] = one(uses)
        all_uses.append(one(uses))
        found.append(_Basket(coupon, cents, _basket_by_class(program, coupon, cents, shelf)))
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


def _coupons_within_items(program: Program, block: Block, shelf: Shelf, apart: bool) -> None:
    """No more manufacturer coupons than items, those on the basket counted in. With one coupon on a unit
    only basket coupons can be too many; apart, the items of other clusters count for them too."""
    rules = shelf.counter.store.rules
    makers = [
        coupon
        for coupon in shelf.counter.coupons
        if coupon.issuer == "manufacturer" and coupon.id in block.uses
    ]
    on_basket = any(isinstance(coupon.gives, BasketOff) for coupon in makers) and not apart
    if rules.coupons_no_more_than_items and (on_basket or rules.manufacturer_coupons_per_unit > 1):
        uses = added(block.uses[coupon.id] for coupon in makers)
        program.require(added(block.units.values()).plus(uses, -1), low=0)


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


def _reckoned_apart(
    program: Program, block: Block, placed: list[tuple[int, Way]], shelf: Shelf, baskets: list[_Basket]
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
    block.merchandise = block.merchandise.plus(added(one(basket.cents) for basket in baskets), -1)
    for basket in baskets:
        for tax_class, cents in basket.by_class.items():
            relief = program.variable(0, _MOST_CENTS)
            exact = one(cents, APART_SCALE * tax.rates[tax_class])
            program.require(exact.plus(one(relief), -100_000), low=-100_000)
            block.tax.add(relief, -1)


def _merchandise(
    program: Program, block: Block, placed: list[tuple[int, Way]], shelf: Shelf, baskets: list[_Basket]
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
        if way.surplus_lowers_tax:
            surplus.add(variable, max(-way.cost, 0))
    taxed = [each for each in sorted(tax.rates) if tax.rates[each]]
    if not surplus.terms or not taxed:
        return {}
    spread = {each: program.variable(0, _MOST_CENTS) for each in taxed}
    program.require(surplus.plus(added(one(each) for each in spread.values()), -1), low=0)
    return spread


def _tax(
    program: Program,
    block: Block,
    placed: list[tuple[int, Way]],
    shelf: Shelf,
    baskets: list[_Basket],
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
    baskets: list[_Basket],
    surplus: dict[str, int],
) -> None:
    """The most that basket coupons and overage can take off a tax that is rounded per unit: the
    exact part, and less than a cent for each unit. A bound in the shopper's favour."""
    tax = shelf.counter.store.tax
    for tax_class in sorted(tax.rates):
        lowered = added(
            [one(basket.by_class[tax_class]) for basket in baskets if tax_class in basket.by_class]
            + ([one(surplus[tax_class])] if tax_class in surplus else [])
        )
        if not lowered.terms or not tax.rates[tax_class]:
            continue
        units, cents = Sum({}), Sum({})
        for variable, way in placed:
            if shelf.products[way.product].tax_class == tax_class:
                units.add(variable, 1)
                cents.add(variable, round_half_up(way.taxable * tax.rates[tax_class], 100_000))
        relief = program.variable(0, _MOST_CENTS)
        program.require(lowered.plus(one(relief), -1), low=0)
        program.require(cents.plus(one(relief), -1), low=0)
        exact = Sum({}).plus(lowered, tax.rates[tax_class]).plus(units, 100_000)
        program.require(exact.plus(one(relief), -100_000), low=0)
        block.tax.add(relief, -1)


def _rewards(
    program: Program,
    block: Block,
    placed: list[tuple[int, Way]],
    shelf: Shelf,
    baskets: list[_Basket],
    apart: bool,
) -> None:
    """Step 8: progress reaches the threshold, times are limited.

    Where a basket coupon is spread over more than what the reward counts, its part is not
    known here and left out, in the shopper's favour."""
    for reward in shelf.rewards:
        progress = Sum({})
        for variable, way in placed:
            if asks_for(reward.products, way.product):
                spend = _spend(way, reward.measure, reward.products, shelf, apart)
                progress.add(variable, 1 if reward.by == "units" else spend)
        if reward.by == "spend" and reward.measure == "after_all_coupons":
            for basket in baskets:
                eligible = [each for each in shelf.products if asks_for(basket.coupon.asks[0].products, each)]
                if all(asks_for(reward.products, each) for each in eligible):
                    progress.add(basket.cents, -1)
        progress = _never_below_zero(program, progress, placed, shelf)
        if len(reward.tiers) == 1:
            most = 10_000 if reward.per_transaction is None else reward.per_transaction
            times = program.variable(0, most)
            program.require(progress.plus(one(times), -reward.tiers[0].threshold), low=0)
            block.earned[(reward.id, 0)] = times
            continue
        chosen = [program.variable(0, 1) for _ in reward.tiers]
        program.require(added(one(each) for each in chosen), high=1)
        for index, tier in enumerate(reward.tiers):
            program.require(progress.plus(one(chosen[index]), -tier.threshold), low=0)
            block.earned[(reward.id, index)] = chosen[index]
