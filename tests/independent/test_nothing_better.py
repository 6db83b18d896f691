"""Promise kept here: an independent solver on an independently written model finds nothing better.

``best_value`` is a model of its own, for CP-SAT, written from the rules without the planner: own units,
own receipt, own levels. On made-up small trips the plan is never worse than its proven optimum, and
never better either, which would mean that one of the two breaks a rule. ``COUNTERFOIL_TINY_TRIPS``
compares more than the 500 of an ordinary run; ``tests/bench/independent_bench.py`` takes 10,000. The register
itself is asked a second time in ``test_second_receipt.py``.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor

import msgspec
import pytest

from counterfoil.engine.offers import Trip
from counterfoil.engine.planner import plan
from tests.engine.made_up_trips import made_up_trip
from tests.engine.test_trip_vectors import STORIES, story

from .answer import Best, ask, processes
from .comparing import LONGEST, Compared, compare, figures_of, found_by
from .families import FAMILIES

TRIPS = int(os.environ.get("COUNTERFOIL_TINY_TRIPS", "500"))
# Of each hundred of them so many go to houses that take two coupons, or percent offers, on an item; and so
# many have as many papers on few units where the house takes one of each.
STACKED = 20
CROWDED = 15
# Seeds beyond those of an ordinary run where a plan once was worse: too many bundles to list, needs left
# unmet under a cash ceiling, a percentage rounded per line that no order on the belt gives, and a unit that
# two coupons over two units share and that fits both requirements of one of them; a unit that lent its
# place in a want to one worth more; and a gift card that pays the more of a second transaction, the less
# lies in the first; two transactions where one would do; as good a plan for less cash that the program
# flatters less than the dearer; an order on the belt that leaves a coupon a cent less; a rain check's units
# in an order that the register refused; a lower slip than the register gives; a cent off every unit's tax
# for the overage of one; less cash in a program that nobody asked for it; and a basket coupon that was not to
# pay for gift cards on sale, as no slip may.
MENDED = [
    *(("tiny", seed) for seed in (1964, 2431, 7448, 11592, 13511, 23070, 25255)),
    *(("crowded", seed) for seed in (521, 4149, 5924, 7321, 17824, 21303, 24149)),
    # Two transactions where one would do, and a cash ceiling that is passed at the register alone.
    *(("stacked", seed) for seed in (603, 3379)),
]
# Where two coupons go on an item the planner does not list them all: a coupon of several requirements twice,
# a share that finds less left than it is before or after another coupon. It says so of its plan, which may
# then be worse; of a hundred such trips it is so of at most so many.
WORSE_OF_100 = 8


def is_asked(name: str) -> bool:
    """Whether the second model takes a story: what happens on the way is not in it."""
    _, happened = story(STORIES[name])
    return not happened.entries


UNHAPPENED = [name for name in STORIES if is_asked(name)]


def is_small(trip: Trip) -> bool:
    """Whether the second model takes it: few units, and fewer still where two coupons go on one."""
    on_a_unit = max(
        max(each.store_coupons_per_unit, each.manufacturer_coupons_per_unit, each.percent_offers_per_unit)
        for each in (store.rules for store in trip.stores)
    )
    return sum(max(want.need, want.welcome) for want in trip.wants) <= (7 if on_a_unit < 2 else 3)


@pytest.fixture(scope="module")
def process() -> Iterator[ProcessPoolExecutor]:
    with processes(1) as pool:
        yield pool


def second_opinion(process: ProcessPoolExecutor, trip: Trip) -> Best:
    best = process.submit(ask, msgspec.json.encode(trip), LONGEST).result()
    assert best is not None
    return best


def test_nothing_better_is_found_on_made_up_trips() -> None:
    found = differences("tiny", TRIPS * (100 - STACKED - CROWDED) // 100)

    assert [each.difference() for each in found.values()] == []


def test_nothing_better_is_found_where_many_papers_meet_on_few_items() -> None:
    found = differences("crowded", TRIPS * CROWDED // 100)

    assert [each.difference() for each in found.values()] == []


def test_nothing_better_is_found_where_two_coupons_go_on_an_item() -> None:
    trips = TRIPS * STACKED // 100

    found = differences("stacked", trips)

    assert {seed: each.difference() for seed, each in found.items() if not each.is_owned} == {}
    assert len(found) <= trips * WORSE_OF_100 // 100


def differences(family: str, trips: int) -> dict[int, Compared]:
    """What differs, by seed, on so many trips, each proven by CP-SAT."""
    found: dict[int, Compared] = {}
    optimal = missing = 0
    for compared in compare(range(trips), FAMILIES[family], workers=2):
        assert compared.best is not None, compared.seed
        if compared.difference() is not None:
            found[compared.seed] = compared
        optimal += compared.optimal
        missing += compared.planned[0] > 0
    print(f"{trips} {family} trips: {optimal} proven by the plan; {missing} with units missing")
    return found


@pytest.mark.parametrize(("family", "seed"), MENDED)
def test_nothing_better_is_found_where_it_once_was(
    family: str, seed: int, process: ProcessPoolExecutor
) -> None:
    trip = FAMILIES[family](seed)

    best = second_opinion(process, trip)
    made = plan(trip)

    assert figures_of(trip, made) == found_by(best)
    assert made.proof.optimal


@pytest.mark.parametrize("seed", [seed for seed in range(200) if is_small(made_up_trip(seed))])
def test_nothing_better_is_found_on_small_trips_made_up_for_the_twins(
    seed: int, process: ProcessPoolExecutor
) -> None:
    trip = made_up_trip(seed)

    best = second_opinion(process, trip)

    assert figures_of(trip, plan(trip)) == found_by(best)


@pytest.mark.parametrize("name", UNHAPPENED)
def test_nothing_better_is_found_on_the_stories(name: str, process: ProcessPoolExecutor) -> None:
    trip, _ = story(STORIES[name])

    best = second_opinion(process, trip)

    assert figures_of(trip, plan(trip)) == found_by(best)


def test_a_cent_less_on_a_needed_tag_is_a_cent_more_in_both(process: ProcessPoolExecutor) -> None:
    """The comparison bites: the second model sees a single cent."""
    trip, _ = story(STORIES["case-01-two-coupons-and-a-slip"])
    tag = trip.prices[0]
    dearer = msgspec.structs.replace(
        trip, prices=(msgspec.structs.replace(tag, cents=tag.cents + 1), *trip.prices[1:])
    )

    before, after = second_opinion(process, trip), second_opinion(process, dearer)

    assert before.value - after.value == before.units
