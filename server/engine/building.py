"""A transaction added to the program: how many of each column, and what the register forces.

Every row says one rule of the register for one store and one place in the order of checkout: deals
count units (``deal_rows.py``), slots of a coupon use go together (``coupon_rows.py``), thresholds are
reached (``basket_rows.py``), and so much is due (``due_rows.py``). Sums that other parts need (units per
product, uses per coupon, cents due) are kept.
"""

from __future__ import annotations

from .basket_rows import Basket, basket_coupons, never_below_zero, spend_of
from .block import APART_SCALE, Block, Shelf
from .coupon_rows import coupon_uses, coupons_within_items
from .deal_rows import deals, line_rounding
from .due_rows import merchandise, reckoned_apart, tax_due
from .program import Program, Sum, added, one
from .tenders import GIFT_CARD_CATEGORY
from .ways import Way, asks_for


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
        gift_cards=_gift_cards(placed, shelf),
        merchandise=Sum({}),
        tax=Sum({}),
        used=program.variable(0, 1),
        scale=APART_SCALE if apart else 1,
    )
    _used(program, block, shelf)
    deals(program, placed, shelf)
    _percent_offers(program, block, placed, shelf)
    line_rounding(program, placed, shelf)
    coupon_uses(program, block, placed, shelf)
    _rain_checks(block, placed, shelf)
    baskets = basket_coupons(program, block, placed, shelf, apart)
    coupons_within_items(program, block, shelf, apart)
    if block.gift_cards.terms:
        block.gift_cards = _at_least_left(block.gift_cards, placed, baskets)
    if apart:
        reckoned_apart(program, block, placed, shelf, baskets)
    else:
        surplus = merchandise(program, block, placed, shelf, baskets)
        tax_due(program, block, placed, shelf, baskets, surplus)
    _rewards(program, block, placed, shelf, baskets, apart)
    return block


def _per_product(placed: list[tuple[int, Way]], shelf: Shelf) -> dict[str, Sum]:
    units = {product: Sum({}) for product in shelf.products}
    for variable, way in placed:
        units[way.product].add(variable, 1)
    return units


def _gift_cards(placed: list[tuple[int, Way]], shelf: Shelf) -> Sum:
    """What gift cards on sale come to, where slips do not pay for them."""
    total = Sum({})
    if shelf.counter.store.rules.slips_buy_gift_cards:
        return total
    for variable, way in placed:
        if shelf.products[way.product].category == GIFT_CARD_CATEGORY:
            total.add(variable, max(way.cost, 0))
    return total


def _at_least_left(gift_cards: Sum, placed: list[tuple[int, Way]], baskets: list[Basket]) -> Sum:
    """What is left of gift cards on sale at the least: basket coupons and overage may fall on them first."""
    left = gift_cards.plus(added(one(basket.cents) for basket in baskets), -1)
    for variable, way in placed:
        if way.cost < 0:
            left.add(variable, way.cost)
    return left


def _used(program: Program, block: Block, shelf: Shelf) -> None:
    """A transaction exists when a unit is in it; limits per transaction of each product."""
    everything = added(block.units.values())
    program.require(everything.plus(one(block.used), -shelf.most_units), high=0)
    program.require(everything.plus(one(block.used), -1), low=0)
    for product, total in block.at_tag.items():
        tag = shelf.tags[product]
        if tag is not None and tag.per_transaction is not None:
            program.require(total, high=tag.per_transaction)


def _percent_offers(program: Program, block: Block, placed: list[tuple[int, Way]], shelf: Shelf) -> None:
    for offer in shelf.counter.offers:
        total = Sum({})
        for variable, way in placed:
            if any(each.source == offer.id for each in way.percents):
                total.add(variable, 1)
        block.offers[offer.id] = total
        if offer.units_per_transaction is not None and total.terms:
            program.require(total, high=offer.units_per_transaction)


def _rain_checks(block: Block, placed: list[tuple[int, Way]], shelf: Shelf) -> None:
    for check in shelf.counter.rain_checks:
        total = Sum({})
        for variable, way in placed:
            total.add(variable, int(way.level.rain_check == check.id))
        block.rain_checks[check.id] = total


def _rewards(
    program: Program,
    block: Block,
    placed: list[tuple[int, Way]],
    shelf: Shelf,
    baskets: list[Basket],
    apart: bool,
) -> None:
    """Step 8: progress reaches the threshold, times are limited.

    Where a basket coupon is spread over more than what the reward counts, its part is not
    known here and left out, in the shopper's favour."""
    for reward in shelf.rewards:
        progress = Sum({})
        for variable, way in placed:
            if asks_for(reward.products, way.product):
                spend = spend_of(way, reward.measure, reward.products, shelf, apart)
                progress.add(variable, 1 if reward.by == "units" else spend)
        if reward.by == "spend" and reward.measure == "after_all_coupons":
            for basket in baskets:
                eligible = [each for each in shelf.products if asks_for(basket.coupon.asks[0].products, each)]
                if all(asks_for(reward.products, each) for each in eligible):
                    progress.add(basket.cents, -1)
        progress = never_below_zero(program, progress, placed, shelf)
        if len(reward.tiers) == 1:
            most = 10_000 if reward.per_transaction is None else reward.per_transaction
            times = program.variable(0, most)
            program.require(progress.plus(one(times), -reward.tiers[0].threshold), low=0)
            block.earned[(reward.id, 0)] = times
            continue
        chosen = [program.variable(0, 1) for _ in reward.tiers]
        program.require(added(one(each) for each in chosen), high=1)
        is_exact = reward.by == "units" or (not baskets and all(way.cost >= 0 for _, way in placed))
        for index, tier in enumerate(reward.tiers):
            program.require(progress.plus(one(chosen[index]), -tier.threshold), low=0)
            block.earned[(reward.id, index)] = chosen[index]
            higher = [each.threshold for each in reward.tiers if each.threshold > tier.threshold]
            if higher and is_exact and not apart:
                # The register gives the highest, also where a lower slip would pay what the highest cannot.
                beyond = shelf.most_units * max(progress.terms.values(), default=0)
                below = min(higher) - 1
                program.require(progress.plus(one(chosen[index]), beyond), high=below + beyond)
