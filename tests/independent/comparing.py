"""The planner beside the second opinion: both asked about the same seeds, and what differs.

CP-SAT works in processes of its own while the planner plans in this one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass

import msgspec

from counterfoil.engine.check import check_trip
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Plan, Receipt, Transaction
from counterfoil.engine.planner import plan
from counterfoil.engine.register import price

from .answer import Best, ask, processes

# How long CP-SAT may take over one trip, in its own seconds, which do not hang on how busy the machine
# is; seeds where it is not done by then are counted apart.
LONGEST = 60.0
# Trips that wait for CP-SAT ahead of the planner.
AHEAD = 32

# Missing, value, units, cash, transactions.
Figures = tuple[int, int, int, int, int]


@dataclass(frozen=True)
class Compared:
    """One trip: what each says by level; ``best`` None: not proven in time.

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
        return None if self.best is None else found_by(self.best)

    def difference(self) -> str | None:
        """What is wrong, in a sentence with the seed; None where both agree."""
        if self.refused:
            return f"{self.trip.id}: {self.refused}"
        if self.found is None or self.found == self.planned:
            return None
        if rank(self.found) > rank(self.planned):
            claim = "said to be optimal" if self.optimal else f"with a gap of {self.gap}"
            better = f"{self.trip.id}: {self.found} is better than the plan's {self.planned}, {claim}"
            doubt = self.refusal()
            return f"{better}; but the register says: {doubt}" if doubt else better
        return f"{self.trip.id}: the plan's {self.planned} is more than any rule allows: {self.found}"

    @property
    def is_owned(self) -> bool:
        """Whether the plan said that a better one may be found: it claimed no bound, or one that holds."""
        if self.refused or self.found is None or self.optimal or rank(self.found) < rank(self.planned):
            return False
        return self.gap == 0 or self.found[1] - self.planned[1] <= self.gap

    def refusal(self) -> str | None:
        """What the register says against CP-SAT's transactions; None where it takes them at that cost."""
        assert self.best is not None
        cash = 0
        for transaction in msgspec.json.decode(self.best.papers, type=list[Transaction]):
            receipt = price(transaction)
            if not isinstance(receipt, Receipt):
                return receipt.sentence
            cash += receipt.out_of_pocket_cents
        return None if cash == self.best.cash else f"{cash} cents of cash"


def rank(figures: Figures) -> Figures:
    """The levels as an order: the greater the better."""
    missing, value, units, cash, transactions = figures
    return (-missing, value, units, -cash, -transactions)


def found_by(best: Best) -> Figures:
    """CP-SAT's figures, of an answer with the cash."""
    assert best.cash is not None
    assert best.transactions is not None
    return (best.missing, best.value, best.units, best.cash, best.transactions)


def figures_of(trip: Trip, made: Plan) -> Figures:
    """The figures of a plan, by its own totals."""
    value = made.totals.worth_cents - made.totals.net_cents
    stores = [each.store for each in made.transactions]
    for store in set(stores):
        value -= trip.settings.further_store_cents
        value -= trip.settings.further_transaction_cents * (stores.count(store) - 1)
    missing = sum(unmet.missing for unmet in made.unmet)
    units = sum(len(each.receipt.units) for each in made.transactions)
    return (missing, value, units, made.totals.out_of_pocket_cents, len(stores))


def asked_both(pool: ProcessPoolExecutor, trip: Trip, seed: int = 0) -> Compared:
    """One trip planned and asked about. It must be sound."""
    return _compared(seed, trip, pool.submit(ask, msgspec.json.encode(trip), LONGEST))


def compare(seeds: range, made_up: Callable[[int], Trip], workers: int) -> Iterator[Compared]:
    """Every seed's trip planned and asked about, in order. Each trip must be sound."""
    with processes(workers) as pool:
        for start in range(seeds.start, seeds.stop, AHEAD):
            trips = [(seed, made_up(seed)) for seed in range(start, min(start + AHEAD, seeds.stop))]
            answers = [pool.submit(ask, msgspec.json.encode(trip), LONGEST) for _, trip in trips]
            for (seed, trip), answer in zip(trips, answers, strict=True):
                yield _compared(seed, trip, answer)


def _compared(seed: int, trip: Trip, answer: Future[Best | None]) -> Compared:
    found = check_trip(trip)
    assert found == [], f"{trip.id}: {found}"
    try:
        made = plan(trip)
    except ValueError as wrong:
        return Compared(seed, trip, (0, 0, 0, 0, 0), False, 0, answer.result(), str(wrong))
    return Compared(
        seed=seed,
        trip=trip,
        planned=figures_of(trip, made),
        optimal=made.proof.optimal,
        gap=made.proof.gap_cents,
        best=answer.result(),
    )
