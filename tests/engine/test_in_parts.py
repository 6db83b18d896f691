"""A trip that is small enough to be solved at once is planned in parts as well, as large trips are.

Clusters, the spread over transactions and what the whole program is asked then must come to the same plan
on every level, or say of theirs by how much it may be worse.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import pytest
from msgspec.structs import replace

from counterfoil.engine import planner
from counterfoil.engine.offers import Tax, Trip
from counterfoil.engine.papers import Happened, Plan
from tests.engine.test_trip_vectors import STORIES, story
from tests.independent.comparing import figures_of, rank
from tests.independent.families import FAMILIES

SEEDS = 100
AT_ONCE = 50
SPARED = 20

# More units for the same net (222); two wants share a coupon, of which the house takes one, in its one
# transaction (256).
MENDED = [("crowded", 222), ("crowded", 256)]


@pytest.fixture(autouse=True)
def forgetful() -> Iterator[None]:
    yield
    planner.forget()


def check(trip: Trip, happened: Happened, patched: pytest.MonkeyPatch) -> Plan:
    """Plans the trip at once and in parts; the plan in parts."""
    planner.forget()
    at_once = planner.plan(trip, happened)
    planner.forget()
    with patched.context() as patch:
        patch.setattr(planner, "SMALL_PROGRAM", 0)
        patch.setattr(planner, "CEILING_PROGRAM", 0)
        in_parts = planner.plan(trip, happened)
    if not at_once.proof.optimal:
        return in_parts
    best, found = figures_of(trip, at_once), figures_of(trip, in_parts)
    if in_parts.proof.optimal:
        assert found == best, trip.id
        return in_parts
    assert rank(found) <= rank(best), trip.id
    if found[0] == best[0] and in_parts.proof.gap_cents:
        assert best[1] - found[1] <= in_parts.proof.gap_cents, trip.id
    return in_parts


@pytest.mark.parametrize("family", ["tiny", "crowded"])
@pytest.mark.parametrize("start", range(0, SEEDS, AT_ONCE))
def test_small_trips(family: str, start: int, monkeypatch: pytest.MonkeyPatch) -> None:
    plans = [check(FAMILIES[family](seed), Happened(), monkeypatch) for seed in range(start, start + AT_ONCE)]
    # Mostly nothing is left open.
    assert sum(plan.proof.optimal for plan in plans) > 0.9 * AT_ONCE


def test_trips_on_which_the_parts_could_not_be_put_together(monkeypatch: pytest.MonkeyPatch) -> None:
    for family, seed in MENDED:
        assert check(FAMILIES[family](seed), Happened(), monkeypatch).proof.optimal


@pytest.mark.parametrize("basis", ["invoice", "item"])
@pytest.mark.parametrize("family", ["tiny", "crowded"])
def test_small_trips_where_overage_spares_tax(
    family: str, basis: Literal["invoice", "item"], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a cluster's overage spares the goods of others is known of no cluster by itself."""
    trips = [where_overage_spares_tax(FAMILIES[family](seed), basis) for seed in range(SPARED)]
    plans = [check(trip, Happened(), monkeypatch) for trip in trips]
    assert sum(plan.proof.optimal for plan in plans) > 0.9 * SPARED


def where_overage_spares_tax(trip: Trip, basis: Literal["invoice", "item"]) -> Trip:
    """The trip at houses that give overage to the basket, where every coupon lowers a tax of 8.875 %."""
    classes = sorted({product.tax_class for product in trip.products})
    tax = Tax(rates=dict.fromkeys(classes[: len(classes) // 2 + 1], 8875), treatment="all", basis=basis)
    stores = tuple(
        replace(store, tax=tax, rules=replace(store.rules, overage="basket")) for store in trip.stores
    )
    return replace(trip, stores=stores)


@pytest.mark.parametrize("name", STORIES)
def test_worked_stories(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    trip, happened = story(STORIES[name])
    check(trip, happened, monkeypatch)
