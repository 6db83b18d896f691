"""Percentages: percent offers, then percent store coupons, rounded for each unit or once for a line."""

from __future__ import annotations

import itertools

from counterfoil.engine.offers import PercentOff

from .belt import Belt, Unit
from .claims import Claims
from .steps import Finds, Step
from .sums import Sums, Term, Var, total

# A unit and whether it is claimed, and claimed a second time by another copy of the same coupon.
Claim = tuple[Unit, list[Var]]


def take_percents(claims: Claims, in_order: bool) -> list[tuple[Step, list[str]]]:
    """Takes both kinds off: the steps with the ids of their papers. ``in_order``: as ``Step.together``."""
    rules, sums = claims.store.rules, claims.sums
    offers = {offer.id: offer.bp for offer in claims.trip.percent_offers if offer.id in claims.offers}
    on: dict[str, list[Claim]] = {
        name: [(unit, [flag]) for unit, flag in claims.offers[name]] for name in offers
    }
    together = in_order or rules.percent_offers_per_unit > 1
    first = Step(sums, [[unit for unit, _ in on[name]] for name in offers], together)
    for paper, (name, bp) in enumerate(offers.items()):
        for unit, cents in off(claims, bp, on[name], first.finds(paper)):
            first.give(paper, unit, cents, "store_funded")
    first.end()

    coupons = {
        coupon.id: coupon.gives.bp
        for coupon in claims.trip.coupons
        if isinstance(coupon.gives, PercentOff) and coupon.issuer == "store"
    }
    copies = {name: [use for use in claims.uses if use.coupon.id == name] for name in coupons}
    coupons = {name: bp for name, bp in coupons.items() if copies[name]}
    merged = {name: _merged(claims, name) for name in coupons}
    together = in_order or rules.store_coupons_per_unit > 1
    second = Step(sums, [[unit for unit, _ in merged[name]] for name in coupons], together)
    for paper, (name, bp) in enumerate(coupons.items()):
        for unit, cents in off(claims, bp, merged[name], second.finds(paper)):
            second.give(paper, unit, cents, "store_funded")
            copies[name][0].note(unit, cents)
    second.end()
    return [(first, [*offers]), (second, [*coupons])]


def _merged(claims: Claims, coupon: str) -> list[Claim]:
    """The claims of all copies of one coupon, which the register takes as one."""
    sums = claims.sums
    uses = [use for use in claims.uses if use.coupon.id == coupon]
    merged: list[Claim] = []
    for unit in claims.belt.units:
        by = [claimed for use in uses for claimed in use.on(unit)]
        if not by:
            continue
        most = min(len(uses), claims.store.rules.store_coupons_per_unit)
        flags = [sums.flag() for _ in range(most)]
        sums.model.add(total(flags) == total(by))
        for one, more in itertools.pairwise(flags):
            sums.model.add_implication(more, one)
        merged.append((unit, flags))
    return merged


def off(claims: Claims, bp: int, on: list[Claim], finds: Finds) -> list[tuple[Unit, Term]]:
    """What ``bp`` takes off each unit, never more than is left of it."""
    by_line = claims.store.rules.percent_rounding == "line"
    if by_line:
        return _by_line(claims.sums, claims.belt, claims.store.rules.percent_base, bp, on, finds)
    return _by_unit(claims.sums, claims.store.rules.percent_base, bp, on, finds)


def _by_unit(sums: Sums, base: str, bp: int, on: list[Claim], finds: Finds) -> list[tuple[Unit, Term]]:
    given: list[tuple[Unit, Term]] = []
    for unit, flags in on:
        left = finds(unit)
        for flag in flags:
            part = sums.half_up(unit.shelf if base == "shelf" else left, bp, 10_000)
            cents = sums.if_so(flag, sums.least(part, left))
            given.append((unit, cents))
            left = sums.amount(left - cents)
    return given


def _by_line(
    sums: Sums, belt: Belt, base: str, bp: int, on: list[Claim], finds: Finds
) -> list[tuple[Unit, Term]]:
    """Of each product the first k claims in belt order together have the rounded part of their bases."""
    bases = {id(unit): [sums.number() for _ in flags] for unit, flags in on}
    given: list[tuple[Unit, Term]] = []
    for unit, flags in on:
        ahead: list[Term] = [
            sums.if_so(belt.before(other, unit), part)
            for other, _ in on
            if other is not unit and other.product == unit.product
            for part in bases[id(other)]
        ]
        left = finds(unit)
        for flag, part in zip(flags, bases[id(unit)], strict=True):
            sums.model.add(part == sums.if_so(flag, unit.shelf if base == "shelf" else left))
            so_far = sums.half_up(total(ahead) if ahead else 0, bp, 10_000)
            with_it = sums.half_up(total([*ahead, part]), bp, 10_000)
            cents = sums.if_so(flag, sums.least(with_it - so_far, left))
            given.append((unit, cents))
            left = sums.amount(left - cents)
            ahead.append(part)
    return given
