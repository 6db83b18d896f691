"""What a plan as good could buy: asking for no more gives the plan that asking for everything gives."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from counterfoil.engine import better, planner
from counterfoil.engine.apart import Answered
from counterfoil.engine.near import Counts, counts_as_good
from counterfoil.engine.offers import Trip
from tests.bench.week_sizes import week
from tests.engine.made_up_trips import made_up_trip

# Of the first 1,400, those on which something is known of the counts, and among the rest the whole program
# finds a better plan than the clusters'.
BETTER_AS_A_WHOLE = (457, 468, 714, 1010, 1012, 1336)
WEEKS = ((8, 18, 2, 2), (20, 31, 3, 2), (24, 36, 4, 2))


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[Counts]:
    """What the planner found out about the counts of a plan as good."""
    found: list[Counts] = []

    def counts(solved: Sequence[Answered], value: int) -> Counts:
        found.append(counts_as_good(solved, value))
        return found[-1]

    monkeypatch.setattr(better, "counts_as_good", counts)
    return found


def asked_for_everything(trip: Trip, monkeypatch: pytest.MonkeyPatch) -> object:
    """The plan where nothing is known of those as good."""
    planner.forget()
    monkeypatch.setattr(better, "counts_as_good", lambda solved, value: {})  # pyright: ignore[reportUnknownLambdaType, reportUnknownArgumentType]
    return planner.plan(trip)


@pytest.mark.parametrize("seed", BETTER_AS_A_WHOLE)
def test_a_better_plan_is_found_among_the_counts_that_are_left(
    seed: int, asked: list[Counts], monkeypatch: pytest.MonkeyPatch
) -> None:
    planner.forget()
    plan = planner.plan(made_up_trip(seed))
    assert asked == [asked[0]]
    assert asked[0], "the trip is not one that this is asked of"
    assert plan == asked_for_everything(made_up_trip(seed), monkeypatch)


@pytest.mark.parametrize("size", WEEKS)
def test_most_counts_of_a_week_are_known_and_the_plan_is_the_same(
    size: tuple[int, int, int, int], asked: list[Counts], monkeypatch: pytest.MonkeyPatch
) -> None:
    planner.forget()
    plan = planner.plan(week(*size))
    (counts,) = asked
    assert counts
    assert sum(least == most for least, most in counts.values()) > len(counts) / 2
    assert plan.proof.optimal
    assert plan == asked_for_everything(week(*size), monkeypatch)
