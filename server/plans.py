"""Plans of stored trips, worked out once per content and kept while the server runs.

Planning takes the solver from milliseconds to seconds, so it runs in a thread and never twice at
once for the same content: who asks meanwhile waits for the same answer.
"""

from __future__ import annotations

import asyncio
from collections import OrderedDict

import msgspec

from .engine.offers import Trip
from .engine.papers import Plan
from .store.interface import StoredTrip

PLANS_KEPT = 32  # of the trips asked for last

_read_trip = msgspec.json.Decoder(Trip).decode


def trip_of(stored: StoredTrip) -> Trip:
    """The stored document as a trip; it was checked when it was saved."""
    return _read_trip(stored.document)


class PlanShelf:
    """The plans at hand, by the trip's content."""

    def __init__(self) -> None:
        self._plans: OrderedDict[str, asyncio.Task[Plan]] = OrderedDict()

    async def plan_of(self, stored: StoredTrip) -> Plan:
        """The plan of the trip as stored. A failure is not kept: the next to ask tries again."""
        task = self._plans.get(stored.content)
        if task is None or (task.done() and (task.cancelled() or task.exception() is not None)):
            task = asyncio.create_task(asyncio.to_thread(_plan, trip_of(stored)))
            self._plans[stored.content] = task
        self._plans.move_to_end(stored.content)
        while len(self._plans) > PLANS_KEPT:
            self._plans.popitem(last=False)
        # Shielded: one asker who goes away does not take the answer from the others.
        return await asyncio.shield(task)


def _plan(trip: Trip) -> Plan:
    # Loading the solver takes a moment, which a server that nobody asks for a plan can spare.
    from .engine import planner

    return planner.plan(trip)
