"""Spreading: what is bought is known; in which transaction does each unit go?

Slips earned early pay later, tax is rounded per transaction, basket coupons want a spend, a
further transaction has its price. Houses (a store and its channels) do not touch each other here
unless a rebate asks for a least receipt or a basket coupon is good at several, so each is a small
program of its own.
"""

from __future__ import annotations

import msgspec

from .block import Shelf
from .claiming import claim_bonuses, claim_rebates
from .levels import Solved, solve_levels
from .limits import keep_copies, keep_offer_transactions, keep_reward_times
from .model import Model, all_cash, build_blocks, build_tendering
from .objective import value_of
from .offers import BasketOff, Want
from .program import Program, Sum, added, one
from .situation import Situation, house_of, taken_at
from .ways import Column

Bought = dict[tuple[str, str], tuple[Column, int]]


def spread(situation: Situation, shelves: dict[str, Shelf], wants: list[Want], bought: Bought) -> list[Model]:
    """Programs that spread the bought columns over transactions, one per group of houses.

    ``bought``: (store, column key) -> column, and how many of it in all.
    """
    stores = situation.trip.stores
    houses = list(dict.fromkeys(house_of(store) for store in stores))
    groups = [{house} for house in houses]
    shared = [
        coupon
        for coupon in situation.trip.coupons
        if isinstance(coupon.gives, BasketOff)
        and len({house_of(store) for store in stores if taken_at(coupon, store)}) > 1
    ]
    if shared or any(rebate.from_receipt_cents for rebate in situation.trip.rebates):
        groups = [set(houses)]
    found: list[Model] = []
    for group in groups:
        own = {store.id for store in stores if house_of(store) in group}
        held = {spot: each for spot, each in bought.items() if spot[0] in own}
        if held:
            found.append(_spread_in(situation, shelves, wants, held))
    return found


def _spread_in(situation: Situation, shelves: dict[str, Shelf], wants: list[Want], bought: Bought) -> Model:
    program = Program([], [], [])
    shelves = {store: _only(shelf, store, bought) for store, shelf in shelves.items()}
    blocks = build_blocks(program, situation, shelves, apart=False)
    for store, each in blocks.items():
        for place, column in enumerate(shelves[store].columns):
            count = bought[(store, column.key)][1]
            program.require(added(one(block.columns[place]) for block in each), low=count, high=count)
    # Of the limits that span transactions the spread can change only these three: basket coupons
    # are no columns, so their copies are still to be given out.
    keep_copies(program, situation, blocks)
    keep_offer_transactions(program, situation, blocks)
    keep_reward_times(program, situation, blocks)
    claims = claim_rebates(program, situation, wants, blocks, apart=False)
    bonuses = claim_bonuses(program, situation, claims)
    tendering = build_tendering(program, situation, shelves, blocks)
    every = [block for each in blocks.values() for block in each]
    return Model(
        program=program,
        shelves=shelves,
        blocks=blocks,
        missing={},
        unmet=Sum({}),
        value=value_of(situation, shelves, blocks, tendering, claims, bonuses, {}, "whole"),
        units=Sum({}),
        cash=all_cash(tendering),
        transactions=added(one(block.used) for block in every),
        changes=Sum({}),
        preferences=Sum({}),
        most_units=0,
        whole=all(shelf.whole for shelf in shelves.values()),
        scale=1,
    )


def put_in_place(model: Model, bought: Bought) -> Solved | None:
    """The best spread of a model; without asking the solver where each store has one transaction
    and no basket coupon: then everything lies where it must, and tenders are the checkout's."""
    several = any(len(blocks) > 1 for blocks in model.blocks.values())
    if several or any(block.basket_uses for blocks in model.blocks.values() for block in blocks):
        return solve_levels(model)
    values = [0] * len(model.program.lower)
    for store, blocks in model.blocks.items():
        for variable, column in zip(blocks[0].columns, model.shelves[store].columns, strict=True):
            values[variable] = bought[(store, column.key)][1]
    return Solved(values, 0, 0, 0)


def _only(shelf: Shelf, store: str, bought: Bought) -> Shelf:
    """The shelf with only the bought columns. A pair fills two units, a bundle as many as it has."""
    own = [column for (place, _), (column, _) in sorted(bought.items()) if place == store]
    names = {way.product for column in own for way in column.ways}
    most = sum(count * len(column.ways) for (place, _), (column, count) in bought.items() if place == store)
    return msgspec.structs.replace(
        shelf,
        columns=own,
        products={name: each for name, each in shelf.products.items() if name in names},
        tags={name: tag for name, tag in shelf.tags.items() if name in names},
        most_units=most,
    )
