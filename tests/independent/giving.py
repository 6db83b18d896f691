"""What one use of a coupon gives to the units that it claims: spread, fixed price, free item."""

from __future__ import annotations

from counterfoil.engine.offers import FixedPrice, FreeItem

from .belt import Belt, Unit, nth_share
from .claims import Use
from .steps import Finds
from .sums import Sums, Term, Var, total

Given = list[tuple[Unit, Term]]


def shares(sums: Sums, belt: Belt, use: Use, value: int) -> list[tuple[Unit, Var, Term]]:
    """Per claim its share of ``value``, spread in belt order (not 0 where unclaimed)."""
    claims = use.flat()
    parts = sum(asks.units for asks in use.coupon.asks)
    if value % parts == 0:
        return [(unit, claimed, value // parts) for unit, claimed in claims]
    table = [nth_share(value, parts, k) for k in range(parts)] + [0] * len(claims)
    found: list[tuple[Unit, Var, Term]] = []
    for unit, claimed in claims:
        ahead: list[Term] = []
        for other, taken in claims:
            if other is not unit:
                ahead.append(sums.both(taken, belt.before(other, unit)))
        index = sums.number(len(table) - 1)
        sums.model.add(index == total(ahead))
        share = sums.number()
        sums.model.add_element(index, table, share)
        found.append((unit, claimed, share))
    return found


def spread(sums: Sums, belt: Belt, use: Use, value: int, finds: Finds) -> Given:
    """``value`` over the claimed units; what one has no room for passes to the others, in belt order."""
    parts = sum(asks.units for asks in use.coupon.asks)
    if parts == 1:
        return [(unit, sums.if_so(flag, sums.least(value, finds(unit)))) for unit, flag in use.flat()]
    first: list[tuple[Unit, Term, Term]] = []
    missed: list[Term] = []
    for unit, claimed, share in shares(sums, belt, use, value):
        mine = sums.if_so(claimed, share)
        taken = sums.least(mine, finds(unit))
        missed.append(mine - taken)
        first.append((unit, taken, sums.if_so(claimed, sums.amount(finds(unit) - taken))))
    passed = sums.amount(total(missed))
    given: Given = []
    for unit, taken, room in first:
        rest: Term = passed
        if parts > 2:
            ahead = [
                sums.if_so(belt.before(other, unit), space) for other, _, space in first if other is not unit
            ]
            rest = sums.above_zero(passed - total(ahead))
        given.append((unit, taken + sums.least(room, rest)))
    return given


def fixed_price(sums: Sums, belt: Belt, use: Use, gives: FixedPrice, finds: Finds) -> Given:
    """Each claimed unit comes down to its share of the price, never up."""
    return [
        (unit, sums.if_so(claimed, sums.above_zero(finds(unit) - share)))
        for unit, claimed, share in shares(sums, belt, use, gives.cents)
    ]


def free_item(sums: Sums, belt: Belt, use: Use, gives: FreeItem, finds: Finds) -> Given:
    """The claimed unit with the least left is reduced; of equals the last on the belt."""
    any_leg = gives.leg is None or gives.leg >= len(use.claims)
    claims = use.flat() if any_leg else use.claims[gives.leg or 0]
    chosen = [(unit, claimed, sums.flag()) for unit, claimed in claims]
    sums.model.add(total([pick for _, _, pick in chosen]) == use.used)
    given: Given = []
    for unit, claimed, pick in chosen:
        sums.model.add_implication(pick, claimed)
        for other, taken, _ in chosen:
            if other is not unit:
                tie = belt.before(unit, other)
                sums.when(finds(unit) + tie <= finds(other), pick, taken)
        reduced = sums.least(
            sums.half_up(finds(unit), gives.off_bp, 10_000),
            sums.most if gives.up_to_cents is None else gives.up_to_cents,
        )
        given.append((unit, sums.if_so(pick, reduced)))
    return given
