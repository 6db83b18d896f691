"""What was planned before saves time and changes no plan."""

from __future__ import annotations

import pytest

from counterfoil.engine import apart, placing, planner
from counterfoil.engine.filling import Filling
from counterfoil.engine.history import situation_after
from counterfoil.engine.levels import Solved, solve_counts
from counterfoil.engine.model import Model
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import CouponCopies, Happened, InTrolley, Plan, ShelfEmpty, TransactionDone
from counterfoil.engine.planner import home_units, plan, plan_situation
from counterfoil.engine.spreading import Spread, put_in_place
from tests.bench.week_sizes import week
from tests.engine.made_up_trips import made_up_trip


def as_planned(trip: Trip, home: Plan) -> Happened:
    """The first transaction through the register and some of what is left in the trolley, all as planned."""
    first, *others = home.transactions
    entries: list[tuple[str, TransactionDone | InTrolley]] = [
        ("done", TransactionDone(transaction=first.transaction))
    ]
    for planned in others:
        line = planned.transaction.lines[0]
        entries.append((line.product, InTrolley(store=planned.store, product=line.product, units=1)))
    return Happened(tuple(entries))


@pytest.mark.parametrize("prove", [False, True])
@pytest.mark.parametrize("seed", [2, 4, 6, 10, 12, 14, 16, 18, 20, 22])
def test_a_trip_that_goes_as_planned_has_the_same_plan_whether_the_first_one_is_remembered_or_not(
    seed: int, prove: bool
) -> None:
    trip = made_up_trip(seed)
    home = plan(trip, None, prove)
    situations = [
        situation_after(trip, Happened(entries), home_units(home))
        for entries in (as_planned(trip, home).entries, as_planned(trip, home).entries[1:])
    ]
    for situation in situations:
        planner.forget()
        anew = plan_situation(situation, prove)
        planner.forget()
        plan(trip, None, prove)

        assert plan_situation(situation, prove) == anew


@pytest.fixture
def week_at_home() -> tuple[Trip, Plan]:
    """An invented week of many clusters, and its plan, which is all that is remembered."""
    trip = week(20, 30, 2, 2)
    planner.forget()
    return trip, plan(trip, None, prove=False)


def test_a_coupon_left_at_home_asks_only_the_clusters_whose_goods_it_names(
    week_at_home: tuple[Trip, Plan], monkeypatch: pytest.MonkeyPatch
) -> None:
    trip, home = week_at_home
    used = {use.coupon for planned in home.transactions for use in planned.transaction.uses}
    coupon = next(each for each in trip.coupons if each.id in used)
    named = {product for ask in coupon.asks for product in ask.products}
    asked: list[Model] = []

    def counted(model: Model) -> Solved | None:
        asked.append(model)
        return solve_counts(model)

    monkeypatch.setattr(apart, "solve_counts", counted)
    report = CouponCopies(coupon=coupon.id, copies=-coupon.copies)
    after = plan(trip, Happened((("left", report),)), prove=False)

    assert asked
    assert len(asked) < len(apart.groups_apart(situation_after(trip, Happened()), list(trip.wants)))
    for model in asked:
        assert any(named & set(shelf.products) for shelf in model.shelves.values())
    planner.forget()
    assert plan(trip, Happened((("left", report),)), prove=False) == after


def test_an_empty_shelf_puts_only_what_it_changed_into_other_transactions(
    week_at_home: tuple[Trip, Plan], monkeypatch: pytest.MonkeyPatch
) -> None:
    trip, home = week_at_home
    places = {planned.store for planned in home.transactions}
    assert len(places) == 2
    asked: list[set[str]] = []

    def counted(spreading: Spread) -> list[Filling] | None:
        asked.append({store for store, _ in spreading.bought})
        return put_in_place(spreading)

    monkeypatch.setattr(placing, "put_in_place", counted)
    for planned in home.transactions:
        for line in planned.transaction.lines:
            asked.clear()
            empty = ShelfEmpty(store=planned.store, product=line.product)
            after = plan(trip, Happened((("empty", empty),)), prove=False)
            before_and_after = (home_units(home), home_units(after))
            changed = {
                store
                for store, product in {*before_and_after[0], *before_and_after[1]}
                if before_and_after[0].get((store, product)) != before_and_after[1].get((store, product))
            }
            assert {store for stores in asked for store in stores} <= changed
