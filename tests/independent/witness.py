"""The second model's answer as transactions that the register can price: who doubts it, asks there."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cmp_to_key
from typing import TypeVar

import msgspec
from ortools.sat.python import cp_model

from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import (
    Line,
    OfferUse,
    PayByCash,
    PayByGiftCard,
    PayBySlip,
    Tender,
    Transaction,
)
from counterfoil.engine.papers import Use as UsePaper

from .belt import Unit
from .claims import Use
from .counter import Transaction as Model
from .purse import Payment
from .steps import Step
from .tags import tag_of

Paper = TypeVar("Paper")


def transaction_of(
    trip: Trip, model: Model, payments: Sequence[Payment], solver: cp_model.CpSolver
) -> Transaction:
    """One transaction as it was solved, with everything in the order in which it is handed over."""
    belt = _belt_order([unit for unit in model.belt.units if solver.value(unit.here)], model, solver)
    at = {id(unit): place for place, unit in enumerate(belt)}
    (offers, offer_names), (percents, percent_names) = model.coupons.percent_steps
    uses: list[UsePaper] = []
    for name in _in_order(percents, percent_names, solver):
        copies = [use for use in model.claims.uses if use.coupon.id == name]
        uses += [_claimed(use, at, solver) for use in copies if solver.value(use.used)]
    for step, papers in model.coupons.steps:
        first = {id(mark): solver.value(flag) for mark, flag in model.coupons.marks}
        papers = _in_order(step, papers, solver, lambda use, first=first: -first.get(id(use), 0))
        uses += [_claimed(use, at, solver) for use in papers if solver.value(use.used)]
    for coupon, used in _in_order(model.basket_step, model.baskets, solver):
        if solver.value(used):
            uses.append(UsePaper(coupon=coupon.id))
    applied = [
        OfferUse(offer=name, units=tuple(sorted(at[id(unit)] for unit, flag in claims if solver.value(flag))))
        for name in _in_order(offers, offer_names, solver)
        for claims in [model.claims.offers[name]]
    ]
    tags = [(product.id, tag_of(trip, model.store.id, product.id)) for product in trip.products]
    return Transaction(
        store=model.store,
        day=trip.day,
        products=trip.products,
        prices=tuple(
            msgspec.structs.replace(tag, store=model.store.id) for _, tag in tags if tag is not None
        ),
        lines=tuple(Line(product=unit.product, units=1, rain_check=_check_of(unit, model)) for unit in belt),
        coupons=trip.coupons,
        percent_offers=trip.percent_offers,
        rewards=trip.rewards,
        rain_checks=trip.wallet.rain_checks,
        uses=tuple(uses),
        offer_uses=tuple(use for use in applied if use.units),
        tenders=_tenders(payments, solver),
        region=model.store.region or trip.region,
    )


def _belt_order(units: list[Unit], model: Model, solver: cp_model.CpSolver) -> list[Unit]:
    """As the model has them; where it never asked, group by group."""

    def compare(one: Unit, other: Unit) -> int:
        return -1 if solver.value(model.belt.before(one, other)) else 1

    return sorted(units, key=cmp_to_key(compare)) if model.belt.has_order else units


def _in_order(
    step: Step | None,
    papers: Sequence[Paper],
    solver: cp_model.CpSolver,
    otherwise: Callable[[Paper], int] = lambda paper: 0,
) -> list[Paper]:
    if step is None or not step.together:
        return sorted(papers, key=otherwise)
    places = [solver.value(place) for place in step.places]
    return [papers[paper] for paper in sorted(range(len(papers)), key=lambda paper: places[paper])]


def _claimed(use: Use, at: dict[int, int], solver: cp_model.CpSolver) -> UsePaper:
    claimed = [sorted(at[id(unit)] for unit, flag in leg if solver.value(flag)) for leg in use.claims]
    return UsePaper(coupon=use.coupon.id, units=tuple(unit for leg in claimed for unit in leg))


def _check_of(unit: Unit, model: Model) -> str | None:
    return next((check for check, units in model.belt.checks.items() if unit in units), None)


def _tenders(payments: Sequence[Payment], solver: cp_model.CpSolver) -> tuple[Tender, ...]:
    slips = [
        PayBySlip(cents=cents, id=f"slip-{number}", offer=paid.offer)
        for number, paid in enumerate(payments)
        if paid.kind == "slip" and (cents := solver.value(paid.cents)) > 0
    ]
    cards = [
        PayByGiftCard(cents=cents, id=f"card-{number}")
        for number, paid in enumerate(payments)
        if paid.kind == "gift_card" and (cents := solver.value(paid.cents)) > 0
    ]
    return (*slips, *cards, PayByCash())
