"""What is worked out beside a plan, one whole plan after the other, in the background.

Without each deal (what the deal adds), the other ways with stores and transactions, and the plan that
phones carry; for one deal its alternatives and its price table. Both sides of a comparison are planned
without the last proof, like with like.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from ...engine.offers import Trip
from ...engine.papers import Deal, Happened, Plan, PriceRow
from ...home.outcomes import Outcome, outcome
from ...home.scenarios import Scenario, not_here, scenarios_of_deal, scenarios_of_trip
from ...plans import Comparison, PlanShelf, content_of, plan_in_thread
from .at_hand import AtHand

AGAINST_PHONES = "against-phones"
PRICES = "prices"


def compare_trip(
    shelf: PlanShelf, at: AtHand, trip: Trip, plan: Plan, sent: Trip | None
) -> tuple[Comparison[Outcome], list[Scenario]]:
    """Without each deal, beside other stores and transactions, and against ``sent``, the trip that phones
    carry; and the scenarios to take."""
    scenarios = scenarios_of_trip(at.snapshot, at.draft, trip, plan)
    calls: dict[str, Callable[[], Outcome]] = {}
    if sent is not None:
        calls[AGAINST_PHONES] = _against(sent, trip)
    for scenario in (*(not_here(at.draft, deal) for deal in plan.deals), *scenarios):
        calls[scenario.key] = _judged(at, trip, scenario)
    content = _content(trip, plan) + ("" if sent is None else content_of(sent))
    return shelf.compare(at.draft.id, content, calls), scenarios


def compare_deal(
    shelf: PlanShelf, at: AtHand, trip: Trip, plan: Plan, deal: Deal
) -> tuple[Comparison[Outcome], list[Scenario]]:
    """The other ways with one deal."""
    scenarios = scenarios_of_deal(at.draft, trip, plan, deal)
    calls = {scenario.key: _judged(at, trip, scenario) for scenario in scenarios}
    owner = f"{at.draft.id} {deal.store} {deal.product}"
    return shelf.compare(owner, _content(trip, plan), calls), scenarios


def compare_prices(
    shelf: PlanShelf, at: AtHand, trip: Trip, store: str, product: str
) -> Comparison[Sequence[PriceRow]]:
    """The price table of a product at a store, as one answer."""
    owner = f"{at.draft.id} {store} {product} {PRICES}"
    calls: Mapping[str, Callable[[], Sequence[PriceRow]]] = {PRICES: lambda: _prices(trip, store, product)}
    return shelf.compare(owner, content_of(trip), calls)


def _content(trip: Trip, plan: Plan) -> str:
    """What the comparisons are of: a proof may bring another plan of the same trip."""
    return f"{content_of(trip)} {[(deal.store, deal.product, deal.units) for deal in plan.deals]}"


def _judged(at: AtHand, trip: Trip, scenario: Scenario) -> Callable[[], Outcome]:
    def judge() -> Outcome:
        other = at.build(scenario.draft).trip
        before = plan_in_thread(trip, prove=False)
        return outcome(trip, before, other, plan_in_thread(other, prove=False))

    return judge


def _against(sent: Trip, trip: Trip) -> Callable[[], Outcome]:
    def judge() -> Outcome:
        before = plan_in_thread(sent, prove=False)
        return outcome(sent, before, trip, plan_in_thread(trip, prove=False))

    return judge


def _prices(trip: Trip, store: str, product: str) -> Sequence[PriceRow]:
    # Loading the solver takes a moment, which a server that nobody asks can spare.
    from ...engine.alternatives import price_table

    return price_table(trip, Happened(), store, product)
