"""A plan beside another: what changes, to the cent, and what each deal adds to a trip.

*Value* is what the planner makes least: the net cost, less what the units are worth at her stock-up prices,
plus what each store visited and each further transaction is worth avoiding to her. A plan with fewer
needs missing goes before any value.

Worked: with the deal 12.00 net for goods worth 15.00, without it 10.00 for goods worth 12.00: values -3.00
and -2.00, so the deal adds 1.00.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import msgspec

from ..engine.offers import Trip
from ..engine.papers import Plan


class Moved(msgspec.Struct, frozen=True, kw_only=True):
    """Units of a product at a store: ``before`` and ``after``."""

    store: str
    product: str
    before: int
    after: int


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """What the trip comes to under another condition, and the changes against the plan, in cents.

    ``value_change_cents``: above 0 is worse for her. ``missing_change``: units of needs not met, more or
    fewer. ``drive_change_cents``: what the stores visited more (or fewer) are worth avoiding to her.
    ``moved``: what is bought otherwise.
    """

    net_cents: int
    out_of_pocket_cents: int
    net_change_cents: int
    pocket_change_cents: int
    value_change_cents: int
    drive_change_cents: int
    missing_change: int
    moved: tuple[Moved, ...]
    notes: tuple[str, ...]

    @property
    def rank(self) -> tuple[int, int]:
        """The smaller, the better for her."""
        return self.missing_change, self.value_change_cents


def outcome(trip: Trip, before: Plan, other: Trip, after: Plan) -> Outcome:
    """``before``: the plan of ``trip``; ``after``: that of ``other``."""
    return Outcome(
        net_cents=after.totals.net_cents,
        out_of_pocket_cents=after.totals.out_of_pocket_cents,
        net_change_cents=after.totals.net_cents - before.totals.net_cents,
        pocket_change_cents=after.totals.out_of_pocket_cents - before.totals.out_of_pocket_cents,
        value_change_cents=value_of(other, after) - value_of(trip, before),
        drive_change_cents=_drive(other, after) - _drive(trip, before),
        missing_change=_missing(after, other, trip) - _missing(before, trip, other),
        moved=moved(before, after),
        notes=tuple(note for note in after.notes if note not in before.notes),
    )


def value_of(trip: Trip, plan: Plan) -> int:
    """What the planner makes least, in cents."""
    further = sum(count - 1 for count in Counter(each.store for each in plan.transactions).values())
    return (
        plan.totals.net_cents
        - plan.totals.worth_cents
        + _drive(trip, plan)
        + trip.settings.further_transaction_cents * further
    )


def moved(before: Plan, after: Plan) -> tuple[Moved, ...]:
    """What is bought otherwise, in the order of the plans."""
    here, there = _units(before), _units(after)
    return tuple(
        Moved(store=spot[0], product=spot[1], before=here.get(spot, 0), after=there.get(spot, 0))
        for spot in dict.fromkeys((*here, *there))
        if here.get(spot, 0) != there.get(spot, 0)
    )


def ranked(adds: Iterable[tuple[int, Outcome]]) -> list[int]:
    """The places of deals by what they add to the trip, most first. ``adds``: each with the outcome of
    the trip without it."""
    return [
        place for place, _ in sorted(adds, key=lambda each: (-each[1].rank[0], -each[1].rank[1], each[0]))
    ]


def _units(plan: Plan) -> dict[tuple[str, str], int]:
    return {(deal.store, deal.product): deal.units for deal in plan.deals}


def _drive(trip: Trip, plan: Plan) -> int:
    return trip.settings.further_store_cents * len({each.store for each in plan.transactions})


def _missing(plan: Plan, mine: Trip, theirs: Trip) -> int:
    """Units of needs that a plan of ``mine`` does not meet. A want that only ``theirs`` has is among them:
    no store of ``mine`` sells it."""
    here = {want.id for want in mine.wants}
    return sum(unmet.missing for unmet in plan.unmet) + sum(
        want.need for want in theirs.wants if want.id not in here
    )
