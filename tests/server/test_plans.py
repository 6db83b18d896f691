"""Plans are worked out once, proven apart from the server, and given up when nobody waits."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Awaitable, Callable
from typing import TypeVar

import msgspec
import pytest

from counterfoil import plans
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Plan, Proof
from counterfoil.engine.planner import plan
from counterfoil.plans import PlanShelf, prove_apart
from counterfoil.store.interface import StoredTrip

from .conftest import small_trip

T = TypeVar("T")


def with_shelf(work: Callable[[PlanShelf], Awaitable[T]]) -> T:
    """The answer of ``work`` over a shelf."""

    async def run() -> T:
        shelf = PlanShelf()
        try:
            return await work(shelf)
        finally:
            shelf.close()

    return asyncio.run(run())


def stored(trip: Trip) -> StoredTrip:
    document = msgspec.json.encode(trip)
    return StoredTrip(
        id=trip.id,
        version=trip.version,
        title=trip.title,
        day=trip.day,
        content=plans.content_of(trip),
        document=document,
        saved_at="",
    )


@pytest.fixture
def unproven(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """A planner whose plans are not known to be best, and a proof that notes when it is asked."""
    proofs: list[str] = []

    def found(trip: Trip, *, prove: bool) -> Plan:
        return msgspec.structs.replace(plan(trip), proof=Proof(optimal=False, gap_cents=5))

    async def proof(trip: Trip) -> Plan:
        proofs.append(trip.id)
        return plan(trip)

    monkeypatch.setattr(plans, "plan_in_thread", found)
    monkeypatch.setattr(plans, "prove_apart", proof)
    return proofs


def test_a_proof_in_a_process_of_its_own_is_the_planners_own_plan() -> None:
    trip = small_trip()
    assert asyncio.run(prove_apart(trip)) == plan(trip)


def test_a_proof_that_is_given_up_ends_its_process() -> None:
    async def give_up() -> list[bool]:
        proving = asyncio.create_task(prove_apart(small_trip()))
        await asyncio.sleep(0)
        proving.cancel()
        return [proving.cancelled() for _ in await asyncio.gather(proving, return_exceptions=True)]

    assert asyncio.run(give_up()) == [True]


def test_what_was_proven_at_the_desk_is_not_proven_again_for_the_phone(unproven: list[str]) -> None:
    async def work(shelf: PlanShelf) -> None:
        planning = await shelf.planning(small_trip(version=1), 30)
        assert (planning.step, planning.improved) == ("done", False)
        carried = await shelf.plan_of(stored(small_trip(version=4)))
        assert (carried.trip_version, carried.proof.optimal) == (4, True)

    with_shelf(work)
    assert unproven == ["oats-week"]


def test_a_plan_is_there_with_its_gap_while_it_is_being_proven(
    unproven: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    async def work(shelf: PlanShelf) -> None:
        go = asyncio.Event()

        async def waiting(trip: Trip) -> Plan:
            await go.wait()
            return plan(trip)

        monkeypatch.setattr(plans, "prove_apart", waiting)
        planning = await shelf.planning(small_trip())
        while planning.found is None:
            await asyncio.sleep(0)
        assert (planning.step, planning.found.proof.gap_cents) == ("proving", 5)
        go.set()
        await shelf.plan_of(stored(small_trip()))
        assert (planning.step, planning.found.proof.optimal) == ("done", True)

    with_shelf(work)


def test_comparisons_arrive_one_by_one_and_one_that_fails_holds_up_no_other() -> None:
    async def work(shelf: PlanShelf) -> None:
        def fails() -> int:
            raise ValueError("a fault of ours")

        comparison = shelf.compare("week", "as it is", {"one": lambda: 1, "two": fails, "three": lambda: 3})
        while not comparison.complete:
            await asyncio.sleep(0)
        assert (comparison.answers, comparison.failed) == ({"one": 1, "three": 3}, {"two"})
        assert shelf.compare("week", "as it is", {"one": lambda: 9}) is comparison

    with_shelf(work)


def test_a_change_drops_what_was_still_to_be_compared() -> None:
    async def work(shelf: PlanShelf) -> None:
        go, asked = threading.Event(), list[str]()

        def first() -> str:
            go.wait(30)
            return "first"

        def never() -> str:
            asked.append("never")
            return "never"

        old = shelf.compare("week", "before", {"first": first, "never": never})
        await asyncio.sleep(0)
        new = shelf.compare("week", "after", {"new": lambda: "new"})
        go.set()
        while not new.complete:
            await asyncio.sleep(0)
        assert (new.answers, old.complete, asked) == ({"new": "new"}, False, [])

    with_shelf(work)
