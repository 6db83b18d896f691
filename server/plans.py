"""Plans, worked out once per content and kept while the server runs, and what is compared beside them.

Planning takes the solver from milliseconds to seconds, so it runs in a thread, one plan at a time and never
twice for the same content: who asks meanwhile waits for the same answer. A plan that is not yet known to
be best is proven in a process of its own, which is ended when nobody wants it any more. Comparing (a
deal's alternatives, a price table) goes on in the background, one answer after the other, and lets a
plan that somebody waits for go first.
"""

from __future__ import annotations

import asyncio
import hashlib
import logging
import sys
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, Generic, Literal, TypeVar

import msgspec

from .engine.offers import Trip
from .engine.papers import Plan
from .store.interface import StoredTrip, StoreUnavailable
from .store.kept_plans import KeptPlans

PLANS_KEPT = 32  # of the trips asked for last
COMPARISONS_KEPT = 16

log = logging.getLogger("counterfoil")
_read_trip = msgspec.json.Decoder(Trip).decode
_read_plan = msgspec.json.Decoder(Plan).decode
_encode = msgspec.json.Encoder(order="deterministic").encode
T = TypeVar("T")


def trip_of(stored: StoredTrip) -> Trip:
    """The stored document as a trip; it was checked when it was saved."""
    return _read_trip(stored.document)


def content_of(trip: Trip) -> str:
    """What names the trip's content, as the store does."""
    return hashlib.sha256(_encode(trip)).hexdigest()


class Planning:
    """A plan that is being made. ``step``: what to buy is looked for, then its proof. ``found``: the best so
    far, None until there is one; it is the plan once ``step`` is "done". ``improved``: the proof found
    another than was found first; ``failed``: it could not be made."""

    def __init__(self, trip: Trip) -> None:
        self.trip = trip
        self.step: Literal["looking", "proving", "done"] = "looking"
        self.found: Plan | None = None
        self.improved = False
        self.failed = False
        self._began = time.monotonic()

    @property
    def seconds(self) -> int:
        """How long it has been going on."""
        return int(time.monotonic() - self._began)


class Comparison(Generic[T]):
    """Answers that arrive one after the other, by name. ``failed``: names without an answer, because of a
    fault of ours."""

    def __init__(self, names: tuple[str, ...]) -> None:
        self.names = names
        self.answers: dict[str, T] = {}
        self.failed: set[str] = set()

    @property
    def complete(self) -> bool:
        """Whether nothing more is to come."""
        return len(self.answers) + len(self.failed) == len(self.names)


class PlanShelf:
    """The plans at hand, by the trip's content; those of stored trips are ``kept`` beyond a restart."""

    def __init__(self, kept: KeptPlans | None = None) -> None:
        self._kept = kept
        self._are_kept: set[str] = set()
        self._plans: OrderedDict[str, tuple[Planning, asyncio.Task[Plan]]] = OrderedDict()
        self._comparisons: OrderedDict[str, tuple[str, Comparison[Any], asyncio.Task[None]]] = OrderedDict()
        # The planner remembers what it solved, and is asked by one thread at a time.
        self._turn = asyncio.Lock()

    async def plan_of(self, stored: StoredTrip) -> Plan:
        """The plan of the trip as stored. A failure is not kept: the next to ask tries again."""
        trip = trip_of(stored)
        content = _planned_as(trip)
        if content not in self._plans:
            await self._take_kept(trip, content)
        planning, task = self._begin(trip)
        # Shielded: one asker who goes away does not take the answer from the others.
        plan = await asyncio.shield(task)
        if self._kept is not None and not planning.failed and content not in self._are_kept:
            self._are_kept.add(content)
            try:
                await self._kept.keep(trip.id, content, digest_of_planner(), _encode(plan))
            except StoreUnavailable as error:
                log.info("the plan of %s is looked for again after a restart: %s", trip.id, error)
        return msgspec.structs.replace(plan, trip_version=trip.version)

    async def planning(self, trip: Trip, patience: float = 0.0) -> Planning:
        """The planning of a trip, begun if need be, after at most ``patience`` seconds. It goes on when
        nobody waits. A fault of ours raises here, once."""
        planning, task = self._begin(trip)
        await asyncio.wait([task], timeout=patience)
        if task.done():
            task.result()
        return planning

    def stop(self, trip: Trip) -> None:
        """Nobody waits for this plan any more. What the solver is at, it ends; nothing follows."""
        kept = self._plans.pop(_planned_as(trip), None)
        if kept is not None:
            kept[1].cancel()

    def compare(self, owner: str, content: str, calls: Mapping[str, Callable[[], T]]) -> Comparison[T]:
        """Answers each call, one after the other, in a thread. Asked again with the same ``content``, it
        goes on; with another, it begins anew, and what was not answered is dropped."""
        kept = self._comparisons.get(owner)
        if kept is not None and kept[0] == content:
            self._comparisons.move_to_end(owner)
            return kept[1]
        if kept is not None:
            kept[2].cancel()
        comparison = Comparison[T](tuple(calls))
        task = asyncio.create_task(self._answer(comparison, calls))
        self._comparisons[owner] = (content, comparison, task)
        while len(self._comparisons) > COMPARISONS_KEPT:
            self._comparisons.popitem(last=False)[1][2].cancel()
        return comparison

    def close(self) -> None:
        """Begins nothing more."""
        for _, task in self._plans.values():
            task.cancel()
        for _, _, task in self._comparisons.values():
            task.cancel()

    async def _take_kept(self, trip: Trip, content: str) -> None:
        """Puts the plan on the shelf that was kept before the server started."""
        document = (
            None if self._kept is None else await self._kept.plan(trip.id, content, digest_of_planner())
        )
        if document is None or content in self._plans:
            return
        planning = Planning(trip)
        try:
            planning.found = _read_plan(document)
        except msgspec.DecodeError:
            return
        planning.step = "done"
        self._are_kept.add(content)
        self._plans[content] = (planning, asyncio.create_task(_given(planning.found)))

    def _begin(self, trip: Trip) -> tuple[Planning, asyncio.Task[Plan]]:
        content = _planned_as(trip)
        kept = self._plans.get(content)
        if kept is None or (kept[1].done() and (kept[1].cancelled() or kept[1].exception() is not None)):
            planning = Planning(trip)
            kept = self._plans[content] = (planning, asyncio.create_task(self._plan(planning)))
        self._plans.move_to_end(content)
        while len(self._plans) > PLANS_KEPT:
            self._plans.popitem(last=False)
        return kept

    async def _plan(self, planning: Planning) -> Plan:
        """What to buy first, then, where it is not yet known to be best, the proof."""
        planning.found = await self._in_turn(lambda: plan_in_thread(planning.trip, prove=False))
        if not planning.found.proof.optimal:
            planning.step = "proving"
            proven = await prove_apart(planning.trip)
            planning.failed = proven is None
            if proven is not None:
                planning.improved = proven.transactions != planning.found.transactions
                planning.found = proven
        planning.step = "done"
        return planning.found

    async def _answer(self, comparison: Comparison[T], calls: Mapping[str, Callable[[], T]]) -> None:
        for name, call in calls.items():
            try:
                comparison.answers[name] = await self._in_turn(call)
            except Exception:
                log.exception("comparing %s", name)
                comparison.failed.add(name)

    async def _in_turn(self, call: Callable[[], T]) -> T:
        async with self._turn:
            return await asyncio.to_thread(call)


async def _given(plan: Plan) -> Plan:
    return plan


@cache
def digest_of_planner() -> str:
    """Names the planner: a digest of the engine's modules, and the solver's version."""
    digest = hashlib.sha256(version("highspy").encode())
    for module in sorted((Path(__file__).parent / "engine").glob("*.py")):
        digest.update(f"{module.name}\0".encode() + module.read_bytes())
    return digest.hexdigest()[:16]


def _planned_as(trip: Trip) -> str:
    """The content that decides the plan: what was proven at the Desk is not proven again for the phone."""
    return content_of(msgspec.structs.replace(trip, version=1))


def plan_in_thread(trip: Trip, *, prove: bool) -> Plan:
    """The planner's answer, for a thread."""
    # Loading the solver takes a moment, which the start of the server does not wait for (``warming.py``).
    from .engine import planner

    return planner.plan(trip, None, prove)


async def prove_apart(trip: Trip) -> Plan | None:
    """The proven plan, from a process of its own that ends when this is cancelled; None, and a line in the
    log, where it failed: the plan found without it stands, with its gap."""
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        f"{__package__}.proving",
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
    )
    try:
        answer, _ = await process.communicate(_encode(trip))
        return _read_plan(answer)
    except msgspec.DecodeError:
        log.exception("the proof of %s ended with %s", trip.id, process.returncode)
        return None
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()
