"""Limits that span transactions: needs and ceilings of wants, copies, limits of the day, the
household and the visit, rain checks, what lies in the trolley.
"""

from __future__ import annotations

from .block import Block, Shelf
from .offers import Want
from .program import Program, Sum, added, one
from .situation import Situation, house_of, most_welcome


def spot_sums(blocks: dict[str, list[Block]], at_tag: bool = False) -> dict[tuple[str, str], Sum]:
    """Units per (store, product), over the store's transactions; ``at_tag``: without rain checks'."""
    totals: dict[tuple[str, str], Sum] = {}
    for store, each in blocks.items():
        for block in each:
            for product, units in (block.at_tag if at_tag else block.units).items():
                held = totals.get((store, product))
                totals[(store, product)] = units if held is None else held.plus(units)
    return totals


def share_out(
    program: Program,
    wants: list[Want],
    blocks: dict[str, list[Block]],
    missing: dict[str, int],
) -> dict[tuple[str, str], Sum]:
    """Needs and ceilings; a product that several wants accept is shared out among them.

    The answer: units per (want, product)."""
    per_product: dict[str, Sum] = {}
    for (_, product), units in spot_sums(blocks).items():
        held = per_product.get(product)
        per_product[product] = units if held is None else held.plus(units)
    assigned: dict[tuple[str, str], Sum] = {}
    for product, units in per_product.items():
        takers = [want for want in wants if product in want.products]
        if len(takers) == 1:
            assigned[(takers[0].id, product)] = units
            continue
        shares = Sum({})
        for want in takers:
            variable = program.variable(0, most_welcome(want))
            assigned[(want.id, product)] = one(variable)
            shares.add(variable, 1)
        program.require(units.plus(shares, -1), low=0, high=0)
    for want in wants:
        got = added(
            assigned[(want.id, product)] for product in want.products if (want.id, product) in assigned
        )
        program.require(got.plus(one(missing[want.id])), low=want.need)
        program.require(got, high=most_welcome(want))
    return assigned


def keep_limits(
    program: Program, situation: Situation, shelves: dict[str, Shelf], blocks: dict[str, list[Block]]
) -> None:
    """Copies, limits of the day and the household, purchase limits of the visit, rain checks,
    percent offers' transactions, and what lies in the trolley."""
    trip = situation.trip
    every_block = [block for each in blocks.values() for block in each]
    keep_copies(program, situation, blocks)
    keep_offer_transactions(program, situation, blocks)
    keep_reward_times(program, situation, blocks)
    for check in trip.wallet.rain_checks:
        units = added(block.rain_checks[check.id] for block in every_block if check.id in block.rain_checks)
        if units.terms:
            program.require(units, high=check.units)
    _visit_limits(program, situation, shelves, blocks)
    for (store, product), units in spot_sums(blocks).items():
        held = situation.trolley.get((store, product), 0)
        if held:
            program.require(units, low=held)
        if (store, product) in situation.empty:
            program.require(units, high=held)


def keep_copies(program: Program, situation: Situation, blocks: dict[str, list[Block]]) -> None:
    """Copies of each coupon in hand, and its limits of the day and the household."""
    every_block = [block for each in blocks.values() for block in each]
    for coupon in situation.trip.coupons:
        uses = added(block.uses[coupon.id] for block in every_block if coupon.id in block.uses)
        if not uses.terms:
            continue
        spent = situation.used.get(coupon.id, 0)
        limits = [each - spent for each in (coupon.per_day, coupon.per_household) if each is not None]
        program.require(uses, high=max(min([coupon.copies, *limits]), 0))


def keep_offer_transactions(program: Program, situation: Situation, blocks: dict[str, list[Block]]) -> None:
    """In how many transactions of the visit each percent offer may be used."""
    every_block = [block for each in blocks.values() for block in each]
    for offer in situation.trip.percent_offers:
        if offer.transactions is None:
            continue
        places = Sum({})
        for block in every_block:
            units = block.offers.get(offer.id)
            if units is not None and units.terms:
                here = program.variable(0, 1)
                places.add(here, 1)
                most = offer.units_per_transaction or 10_000
                program.require(units.plus(one(here), -most), high=0)
        left = max(offer.transactions - situation.offer_transactions.get(offer.id, 0), 0)
        program.require(places, high=left)


def keep_reward_times(program: Program, situation: Situation, blocks: dict[str, list[Block]]) -> None:
    """How often the household may earn each reward."""
    every_block = [block for each in blocks.values() for block in each]
    for reward in situation.trip.rewards:
        times = Sum({})
        for block in every_block:
            for (offer, _), variable in block.earned.items():
                times.add(variable, int(offer == reward.id))
        if reward.per_household is not None and times.terms:
            program.require(times, high=max(reward.per_household - situation.earned.get(reward.id, 0), 0))


def _visit_limits(
    program: Program, situation: Situation, shelves: dict[str, Shelf], blocks: dict[str, list[Block]]
) -> None:
    """Purchase limits of a visit; a store and its channels share one limit. They are the tag's: what
    a rain check pays for is not counted."""
    families: dict[tuple[str, str], list[tuple[int, Sum]]] = {}
    for (store, product), units in spot_sums(blocks, at_tag=True).items():
        tag = shelves[store].tags[product]
        if tag is not None and tag.per_visit is not None:
            house = house_of(shelves[store].counter.store)
            left = tag.per_visit - situation.bought(store, product)
            families.setdefault((house, product), []).append((left, units))
    for members in families.values():
        program.require(added(units for _, units in members), high=max(min(left for left, _ in members), 0))
