"""The program of some wants, with every way to meet them.

Variables: how many of each column in each transaction, times each reward is earned, basket
coupons, rebates and set bonuses, missing units. Rows: what the register forces (``building.py``),
limits that span transactions (``limits.py``), tenders and cash (``cash.py``).
"""

from __future__ import annotations

import msgspec

from .block import APART_SCALE, Block, Shelf
from .building import build_block
from .cash import Tendering, tender_rows
from .claiming import claim_bonuses, claim_rebates
from .due_rows import overage_may_spare_more
from .limits import keep_limits, share_out
from .objective import Scope, changes_from_home, dues, preferences, value_of
from .offers import Want
from .program import Program, Sum, added, one
from .shelves import narrowed, one_is_enough, transactions_allowed
from .situation import Situation, house_of, most_welcome


class Model(msgspec.Struct):
    """A program and what its variables mean.

    ``shelves``/``blocks``: per store id, blocks in checkout order. ``missing``: per want.
    ``value`` and ``cash``: 1/``scale`` cents. ``whole``: False where some ways were left out, so that
    the optimum is no bound.
    """

    program: Program
    shelves: dict[str, Shelf]
    blocks: dict[str, list[Block]]
    missing: dict[str, int]
    unmet: Sum
    value: Sum
    units: Sum
    cash: Sum
    transactions: Sum
    changes: Sum
    preferences: Sum
    most_units: int
    whole: bool
    scale: int


def build_model(situation: Situation, shelves: dict[str, Shelf], wants: list[Want], scope: Scope) -> Model:
    """The program for some wants.

    ``shelves``: per store, of these wants or more (``shelves_of``).
    ``scope``: how much of the register is in it. ``whole``: everything. ``untendered``: all but
    tenders and cash ceilings. ``apart``: besides, without what looks at whole transactions. What is left
    out is decided in the shopper's favour, so that every optimum is a bound.
    """
    apart = scope == "apart"
    program = Program([], [], [])
    shelves = {store: narrowed(shelf, wants) for store, shelf in shelves.items()}
    blocks = build_blocks(program, situation, shelves, apart)
    missing = {want.id: program.variable(0, want.need) for want in wants}
    assigned = share_out(program, wants, blocks, missing)
    keep_limits(program, situation, shelves, blocks)
    claims = claim_rebates(program, situation, wants, blocks, apart)
    bonuses = claim_bonuses(program, situation, claims)
    tendering: dict[str, Tendering] = {}
    if scope == "whole":
        tendering = build_tendering(program, situation, shelves, blocks)
        keep_ceiling(program, situation, tendering)
    every = [block for each in blocks.values() for block in each]
    return Model(
        program=program,
        shelves=shelves,
        blocks=blocks,
        missing=missing,
        unmet=added(one(each) for each in missing.values()),
        value=value_of(situation, shelves, blocks, tendering, claims, bonuses, assigned, scope),
        units=added(units for block in every for units in block.units.values()),
        cash=all_cash(tendering) if scope == "whole" else dues(blocks),
        transactions=added(one(block.used) for block in every),
        changes=changes_from_home(program, situation, blocks),
        preferences=preferences(wants, shelves, blocks),
        most_units=sum(most_welcome(want) for want in wants),
        whole=all(
            shelf.whole and not (apart and overage_may_spare_more(shelf)) for shelf in shelves.values()
        ),
        scale=APART_SCALE if apart else 1,
    )


def build_blocks(
    program: Program, situation: Situation, shelves: dict[str, Shelf], apart: bool
) -> dict[str, list[Block]]:
    """The transactions of each store in checkout order; those that are not used come last."""
    blocks: dict[str, list[Block]] = {}
    for store in situation.trip.stores:
        shelf = shelves.get(store.id)
        if shelf is None or not shelf.columns:
            continue
        allowed = transactions_allowed(situation, store)
        if one_is_enough(situation, shelf, apart):
            allowed = min(allowed, 1)
        blocks[store.id] = [build_block(program, shelf, apart) for _ in range(allowed)]
        for earlier, later in zip(blocks[store.id], blocks[store.id][1:], strict=False):
            program.require(one(earlier.used).plus(one(later.used), -1), low=0)
    return blocks


def build_tendering(
    program: Program, situation: Situation, shelves: dict[str, Shelf], blocks: dict[str, list[Block]]
) -> dict[str, Tendering]:
    """Tenders per house, each store within its cash ceiling."""
    found: dict[str, Tendering] = {}
    stores = [store for store in situation.trip.stores if store.id in blocks]
    for house in dict.fromkeys(house_of(store) for store in stores):
        own = [store for store in stores if house_of(store) == house]
        line = [(store, block) for store in own for block in blocks[store.id]]
        rewards = tuple(reward for store in own for reward in shelves[store.id].rewards)
        found[house] = tender_rows(program, situation, line, rewards)
    for store in stores:
        cash = found[house_of(store)].cash.get(store.id)
        if store.cash_ceiling_cents is not None and cash is not None:
            left = store.cash_ceiling_cents - situation.cash_spent(store.id)
            program.require(cash, high=max(left, 0))
    return found


def keep_ceiling(program: Program, situation: Situation, tendering: dict[str, Tendering]) -> None:
    """The cash that the shopper is willing to put down on the trip."""
    ceiling = situation.trip.wallet.cash_cents
    if ceiling is not None and tendering:
        program.require(all_cash(tendering), high=max(ceiling - situation.cash_spent(), 0))


def all_cash(tendering: dict[str, Tendering]) -> Sum:
    """All the cash that is put down."""
    return added(cash for each in tendering.values() for cash in each.cash.values())
