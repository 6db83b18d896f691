"""A cash ceiling on a trip too large to be solved at once is kept by a quick plan, and then by the best."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from counterfoil.engine import planner
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Plan
from tests.bench.week_sizes import week
from tests.independent.comparing import figures_of, rank

WEEKS = ((10, 20, 2, 2), (14, 24, 2, 2))


def cash_at(plan: Plan, store: str | None = None) -> int:
    """The cash that a plan puts down, at one store or in all."""
    receipts = [each.receipt for each in plan.transactions]
    return sum(each.out_of_pocket_cents for each in receipts if store in (None, each.store))


def check(trip: Trip) -> tuple[Plan, Plan]:
    """The plan at once and the proven one, of which the first told truly how far it may be."""
    planner.forget()
    quick = planner.plan(trip, prove=False)
    proven = planner.plan(trip)

    assert proven.proof.optimal
    best, found = figures_of(trip, proven), figures_of(trip, quick)
    assert rank(found) <= rank(best)
    if found[0] == best[0]:
        assert best[1] - found[1] <= quick.proof.gap_cents
    return quick, proven


@pytest.mark.parametrize("size", WEEKS)
@pytest.mark.parametrize("percent", [95, 80])
def test_cheaper_goods_keep_the_ceiling_of_a_trip(size: tuple[int, int, int, int], percent: int) -> None:
    trip = week(*size)
    most = cash_at(planner.plan(trip)) * percent // 100

    plans = check(replace(trip, wallet=replace(trip.wallet, cash_cents=most)))

    assert all(cash_at(plan) <= most and not plan.unmet for plan in plans)


@pytest.mark.parametrize("size", WEEKS)
def test_a_store_s_own_ceiling_moves_goods_to_the_other_store(size: tuple[int, int, int, int]) -> None:
    trip = week(*size)
    free = planner.plan(trip)
    store = trip.stores[1]
    most = cash_at(free, store.id) * 8 // 10
    stores = tuple(replace(each, cash_ceiling_cents=most) if each == store else each for each in trip.stores)

    plans = check(replace(trip, stores=stores))

    assert all(cash_at(plan, store.id) <= most and not plan.unmet for plan in plans)


def test_where_no_goods_are_cheap_enough_as_few_needs_as_can_be_stay_unmet() -> None:
    trip = week(*WEEKS[0])
    most = cash_at(planner.plan(trip)) // 4

    plans = check(replace(trip, wallet=replace(trip.wallet, cash_cents=most)))

    assert all(cash_at(plan) <= most and plan.unmet for plan in plans)
