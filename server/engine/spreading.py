"""Spreading: what is bought is known; in which transaction does each unit go?

Slips earned early pay later, tax is rounded per transaction, basket coupons want a spend, a
further transaction has its price. Houses (a store and its channels) do not touch each other here
unless a rebate asks for a least receipt or a basket coupon is good at several, so each is a small
program of its own.

Most of what is bought touches no rule of a single transaction: it may lie in any. Where nothing looks at
the whole of a transaction, that *rest* stands in the program as one unit, tax is left out, and
afterwards goods of the rest change places so that tax is rounded down (``rounding.py``). To find such a
rounding by the program took longer than everything else together.
"""

from __future__ import annotations

import msgspec

from .block import Shelf
from .building import build_block
from .claiming import claim_bonuses, claim_rebates
from .filling import Filling, fillings
from .levels import solve_levels
from .limits import keep_copies, keep_offer_transactions, keep_reward_times
from .model import Model, all_cash, build_blocks, build_tendering
from .objective import value_of
from .offers import BasketOff, Store, Want
from .program import Program, Sum, added, one
from .situation import Situation, house_of, taken_at
from .ways import Column

Bought = dict[tuple[str, str], tuple[Column, int]]
_REST = "rest"


class Spread(msgspec.Struct, frozen=True):
    """The program of some houses and how many of each of its columns there are. ``shelves``: per
    store, with every bought column; ``rest``: per store, the columns that stand in the program as
    one unit, and how many of each."""

    model: Model
    bought: Bought
    shelves: dict[str, Shelf]
    rest: dict[str, list[tuple[Column, int]]]


def by_houses(situation: Situation, bought: Bought) -> list[Bought]:
    """What is bought, per group of houses that do not touch. ``bought``: (store, column key) -> column, and
    how many of it in all."""
    stores = situation.trip.stores
    houses = list(dict.fromkeys(house_of(store) for store in stores))
    groups = [{house} for house in houses]
    shared = [
        coupon
        for coupon in situation.trip.coupons
        if isinstance(coupon.gives, BasketOff)
        and len({house_of(store) for store in stores if taken_at(coupon, store)}) > 1
    ]
    if shared or _by_receipt(situation):
        groups = [set(houses)]
    named = [{store.id for store in stores if house_of(store) in group} for group in groups]
    held = [{spot: each for spot, each in bought.items() if spot[0] in names} for names in named]
    return [each for each in held if each]


def spread(
    situation: Situation, shelves: dict[str, Shelf], wants: list[Want], bought: Bought, wholly: bool = False
) -> Spread:
    """The program that spreads what is bought at a group of houses (``by_houses``) over transactions.

    ``wholly``: nothing is drawn together and tax is in the program: slower, and no cent of rounding is
    missed.
    """
    names = {store for store, _ in bought}
    full = {name: _only(shelves[name], name, bought) for name in shelves if name in names}
    if wholly or _by_receipt(situation) or any(map(_looks_at_the_whole, full.values())):
        return Spread(_placing(situation, full, wants, bought), bought, full, {})
    return _with_rest(situation, full, bought)


def _by_receipt(situation: Situation) -> bool:
    """Whether some rebate asks for a least receipt."""
    return any(rebate.from_receipt_cents for rebate in situation.trip.rebates)


def _looks_at_the_whole(shelf: Shelf) -> bool:
    """Whether a rule of the store looks at all that is in a transaction, beside its tax and its sum."""
    rules = shelf.counter.store.rules
    return (
        any(isinstance(coupon.gives, BasketOff) for coupon in shelf.counter.coupons)
        or any(way.cost < 0 for column in shelf.columns for way in column.ways)
        or (rules.slip_counts_as_manufacturer_coupon and rules.coupons_no_more_than_items)
    )


def _with_rest(situation: Situation, full: dict[str, Shelf], bought: Bought) -> Spread:
    rest: dict[str, list[tuple[Column, int]]] = {}
    small: dict[str, Shelf] = {}
    counts = dict(bought)
    for store, shelf in full.items():
        untaxed = _untaxed(shelf)
        bound = _bound_columns(situation, untaxed)
        rest[store] = [
            (each, bought[(store, each.key)][1]) for each in shelf.columns if each.key not in bound
        ]
        columns = [each for each in shelf.columns if each.key in bound]
        if rest[store]:
            whole = _as_one(rest[store])
            counts[(store, _REST)] = (whole, 1)
            columns.append(whole)
        small[store] = msgspec.structs.replace(untaxed, columns=columns)
    return Spread(_placing(situation, small, [], counts), counts, full, rest)


def _untaxed(shelf: Shelf) -> Shelf:
    store = shelf.counter.store
    free: Store = msgspec.structs.replace(store, tax=msgspec.structs.replace(store.tax, rates={}))
    return msgspec.structs.replace(shelf, counter=msgspec.structs.replace(shelf.counter, store=free))


def _bound_columns(situation: Situation, shelf: Shelf) -> set[str]:
    """The keys of the columns that some rule of a transaction names, beside there being one."""
    scratch = Program([], [], [])
    block = build_block(scratch, shelf, apart=False)
    named = {variable for row in scratch.rows if block.used not in row.terms for variable in row.terms}
    limited = {offer.id for offer in situation.trip.percent_offers if offer.transactions is not None}
    return {
        column.key
        for variable, column in zip(block.columns, shelf.columns, strict=True)
        if variable in named
        or variable in block.gift_cards.terms
        or any(each.source in limited for way in column.ways for each in way.percents)
    }


def _as_one(rest: list[tuple[Column, int]]) -> Column:
    """The rest as one unit that costs what it comes to."""
    cost = sum(count * way.cost for column, count in rest for way in column.ways)
    way = msgspec.structs.replace(
        rest[0][0].ways[0], percents=(), slots=(), cost=cost, taxable=0, spends=(cost, cost, cost)
    )
    return Column(_REST, (way,))


def _placing(situation: Situation, shelves: dict[str, Shelf], wants: list[Want], bought: Bought) -> Model:
    """The program of where everything bought goes; ``wants``: whose rebates depend on that."""
    program = Program([], [], [])
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


def put_in_place(placing: Spread) -> list[Filling] | None:
    """The best spread, or None where there is none; without asking the solver where each store has one
    transaction and no basket coupon: then everything lies where it must, and tenders are the checkout's."""
    model = placing.model
    several = any(len(blocks) > 1 for blocks in model.blocks.values())
    if several or any(block.basket_uses for blocks in model.blocks.values() for block in blocks):
        answer = solve_levels(model)
        return None if answer is None else [_with_all(each, placing) for each in fillings(model, answer)]
    return [
        Filling(shelf, tuple((each, placing.bought[(store, each.key)][1]) for each in shelf.columns), {})
        for store, shelf in placing.shelves.items()
        if shelf.columns
    ]


def _with_all(filling: Filling, placing: Spread) -> Filling:
    """The transaction with every column that the program saw as the rest, as the store taxes it."""
    store = filling.shelf.counter.store.id
    counts = [
        each
        for column, count in filling.counts
        for each in (placing.rest[store] if column.key == _REST else [(column, count)])
    ]
    return Filling(
        placing.shelves[store], tuple(sorted(counts, key=lambda each: each[0].key)), filling.baskets
    )


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
