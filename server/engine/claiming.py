"""Rebates and set bonuses in the program: how often each can be claimed after the trip."""

from __future__ import annotations

from .block import Block
from .offers import Rebate, Want
from .program import Program, Sum, added, one
from .shelf import holds_on
from .situation import Situation
from .ways import asks_for


def claim_rebates(
    program: Program, situation: Situation, wants: list[Want], blocks: dict[str, list[Block]], apart: bool
) -> dict[str, Sum]:
    """Times each rebate is claimed; with a least receipt, on each receipt that reaches it.

    A rebate that only history counts for stands with its times, so that a set bonus may need it."""
    claims: dict[str, Sum] = {}
    names = {product for want in wants for product in want.products}
    for rebate in situation.trip.rebates:
        if not holds_on(situation.trip.day, rebate.from_date, rebate.until):
            continue
        by_receipt = rebate.from_receipt_cents > 0
        before = bought_for(situation, rebate)
        done = min(claims_done(situation, rebate) if by_receipt else before // rebate.units, rebate.limit)
        if not any(asks_for(rebate.products, name) for name in names):
            if done:
                claims[rebate.id] = Sum({}, done)
            continue
        if by_receipt and not apart:
            claims[rebate.id] = _claims_by_receipt(program, rebate, blocks, rebate.limit - done)
            claims[rebate.id].constant = done
            continue
        if by_receipt:
            before = done * rebate.units
        times = program.variable(0, rebate.limit)
        units = Sum({}, before)
        for store, each in blocks.items():
            if rebate.stores and store not in rebate.stores:
                continue
            for block in each:
                units = units.plus(added(_units_for(block, rebate)))
        program.require(units.plus(one(times), -rebate.units), low=0)
        claims[rebate.id] = one(times)
    return claims


def _units_for(block: Block, rebate: Rebate) -> list[Sum]:
    return [units for product, units in block.units.items() if asks_for(rebate.products, product)]


def bought_for(situation: Situation, rebate: Rebate) -> int:
    """Units bought so far that count for a rebate."""
    return sum(
        line.units
        for done in situation.done
        if not rebate.stores or done.transaction.store.id in rebate.stores
        for line in done.transaction.lines
        if asks_for(rebate.products, line.product)
    )


def claims_done(situation: Situation, rebate: Rebate) -> int:
    """Claims that the receipts so far carry, each receipt by itself."""
    total = 0
    for done in situation.done:
        if rebate.stores and done.transaction.store.id not in rebate.stores:
            continue
        if done.receipt.merchandise_cents < rebate.from_receipt_cents:
            continue
        units = sum(line.units for line in done.transaction.lines if asks_for(rebate.products, line.product))
        total += units // rebate.units
    return total


def _claims_by_receipt(program: Program, rebate: Rebate, blocks: dict[str, list[Block]], limit: int) -> Sum:
    total = Sum({})
    for store, each in blocks.items():
        if rebate.stores and store not in rebate.stores:
            continue
        for block in each:
            units = added(_units_for(block, rebate))
            if not units.terms:
                continue
            times = program.variable(0, limit)
            reached = program.variable(0, 1)
            program.require(one(times).plus(one(reached), -limit), high=0)
            program.require(block.merchandise.plus(one(reached), -rebate.from_receipt_cents), low=0)
            program.require(units.plus(one(times), -rebate.units), low=0)
            total.add(times, 1)
    program.require(total, high=limit)
    return total


def claim_bonuses(program: Program, situation: Situation, claims: dict[str, Sum]) -> dict[str, int]:
    """Each set bonus whose every rebate can be claimed."""
    found: dict[str, int] = {}
    for bonus in situation.trip.set_bonuses:
        if not all(rebate in claims for rebate in bonus.rebates):
            continue
        if not any(claims[rebate].terms for rebate in bonus.rebates):
            continue
        won = program.variable(0, 1)
        for rebate in bonus.rebates:
            program.require(claims[rebate].plus(one(won), -1), low=0)
        found[bonus.id] = won
    return found
