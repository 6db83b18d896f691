"""What was planned before saves time and changes no plan."""

from __future__ import annotations

import pytest

from counterfoil.engine import planner
from counterfoil.engine.history import situation_after
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Happened, InTrolley, Plan, TransactionDone
from counterfoil.engine.planner import home_units, plan, plan_situation
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
