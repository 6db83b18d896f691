"""The planner beside the second opinion: both asked about the same seeds, and what differs.

CP-SAT works in processes of its own while the planner plans in this one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import msgspec

from counterfoil.engine.check import check_trip
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Plan
from counterfoil.engine.planner import plan

from .answer import Best, ask, processes

# Seconds that CP-SAT may take over one trip; seeds where it is not done by then are counted apart.
LONGEST = 60.0
# Trips that wait for CP-SAT ahead of the planner.
AHEAD = 32

Figures = tuple[int, int, int, int]


@dataclass(frozen=True)
class Compared:
    """One trip: what each says by level (missing, value, units, cash); ``best`` None: not proven in time.

    ``refused``: what the register said to the plan, where it could not be written."""

    seed: int
    trip: Trip
    planned: Figures
    optimal: bool
    gap: int
    best: Best | None
    refused: str = ""

    @property
    def found(self) -> Figures | None:
        """CP-SAT's figures."""
        if self.best is None or self.best.cash is None:
            return None
        return (self.best.missing, self.best.value, self.best.units, self.best.cash)

    def difference(self) -> str | None:
        """What is wrong, in a sentence with the seed; None where both agree."""
        if self.refused:
            return f"seed {self.seed}: {self.refused}"
        if self.found is None or self.found == self.planned:
            return None
        if rank(self.found) > rank(self.planned):
            claim = "said to be optimal" if self.optimal else f"with a gap of {self.gap}"
            return f"seed {self.seed}: {self.found} is better than the plan's {self.planned}, {claim}"
        return f"seed {self.seed}: the plan's {self.planned} is more than any rule allows: {self.found}"


def rank(figures: Figures) -> Figures:
    """The levels as an order: the greater the better."""
    missing, value, units, cash = figures
    return (-missing, value, units, -cash)


def figures_of(trip: Trip, made: Plan) -> Figures:
    """Missing units, value, units and cash of a plan, by its own totals."""
    value = made.totals.worth_cents - made.totals.net_cents
    stores = [each.store for each in made.transactions]
    for store in set(stores):
        value -= trip.settings.further_store_cents
        value -= trip.settings.further_transaction_cents * (stores.count(store) - 1)
    missing = sum(unmet.missing for unmet in made.unmet)
    units = sum(len(each.receipt.units) for each in made.transactions)
    return (missing, value, units, made.totals.out_of_pocket_cents)


def compare(seeds: range, made_up: Callable[[int], Trip], workers: int) -> Iterator[Compared]:
    """Every seed's trip planned and asked about, in order. Each trip must be sound."""
    with processes(workers) as pool:
        for start in range(seeds.start, seeds.stop, AHEAD):
            trips = [(seed, made_up(seed)) for seed in range(start, min(start + AHEAD, seeds.stop))]
            answers = [pool.submit(ask, msgspec.json.encode(trip), LONGEST) for _, trip in trips]
            for (seed, trip), answer in zip(trips, answers, strict=True):
                found = check_trip(trip)
                assert found == [], f"seed {seed}: {found}"
                try:
                    made = plan(trip)
                except ValueError as wrong:
                    yield Compared(seed, trip, (0, 0, 0, 0), False, 0, answer.result(), str(wrong))
                    continue
                yield Compared(
                    seed=seed,
                    trip=trip,
                    planned=figures_of(trip, made),
                    optimal=made.proof.optimal,
                    gap=made.proof.gap_cents,
                    best=answer.result(),
                )
