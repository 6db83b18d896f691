"""Promise kept here: the phone plans as the server does, to the cent, the unit and the word.

Whole plans are compared, with every default written out: for every shared story, the demo's trips
with what may happen on them, and 1,100 trips made up from seeds: 800 tiny ones, 100 to houses that take
two coupons on an item, and 200 as large as a shopper's stop. ``COUNTERFOIL_MADE_UP_TRIPS`` asks for more of
the latter.
"""

from __future__ import annotations

import json
import os
from typing import Any

import msgspec
import pytest
from msgspec.structs import replace
from playwright.sync_api import Page

from counterfoil.engine.check import check_trip
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Happened, Plan, Report, Swap, TransactionDone
from counterfoil.engine.planner import plan
from counterfoil.engine.receipts import check_receipt
from counterfoil.engine.replan import break_even, swaps
from tests.bench.week_sizes import week
from tests.engine.made_up_trips import happened_on, made_up_trip
from tests.engine.test_register_twin import asked, written_out
from tests.engine.test_trip_vectors import STORIES, story
from tests.independent.families import FAMILIES
from tests.independent.stacked_trips import stacked_trip
from tests.independent.tiny_trips import tiny_trip
from tests.served import ROOT

MADE_UP = int(os.environ.get("COUNTERFOIL_MADE_UP_TRIPS", "200"))
# These are tiny but no less rich in rules.
TINY = 800
STACKED = 100
TINY_AT_ONCE = 100
# Trips asked of the browser at once: enough to keep it busy, few enough to see which one hangs.
AT_ONCE = 25


def twins_plans(page: Page, stories: list[tuple[Trip, Happened]], prove: bool = True) -> list[Any]:
    """The phone's plans."""
    documents = [
        {
            "trip": msgspec.to_builtins(trip),
            "happened": msgspec.to_builtins(happened.entries),
            "prove": prove,
        }
        for trip, happened in stories
    ]
    answers: list[Any] = []
    for start in range(0, len(documents), AT_ONCE):
        answers.extend(asked_of_plans(page, "runPlans", documents[start : start + AT_ONCE]))
    return answers


def asked_of_plans(page: Page, function: str, *arguments: object) -> Any:
    """What a function of ``run_plans.js`` answers in the browser; as text, which travels faster."""
    return asked(page, function, *arguments, runners="run_plans.js")


def as_read(answer: Plan | Swap) -> Any:
    """What the server answers as JSON has it, every default written out."""
    return json.loads(json.dumps(written_out(answer)))


def reports(*documents: dict[str, Any]) -> Happened:
    entries = [[f"event-{number}", document] for number, document in enumerate(documents)]
    return Happened(msgspec.convert(entries, tuple[tuple[str, Report], ...]))


def demo(name: str) -> Trip:
    return msgspec.json.decode((ROOT / "demo" / name).read_bytes(), type=Trip)


def test_twin_plans_every_story(module_page: Page) -> None:
    stories = [story(vector) for vector in STORIES.values()]

    answers = twins_plans(module_page, stories)

    for name, (trip, happened), answer in zip(STORIES, stories, answers, strict=True):
        assert answer == as_read(plan(trip, happened)), name


@pytest.mark.parametrize("name", ["trip.json", "small-trip.json"])
def test_twin_plans_the_demo(module_page: Page, name: str) -> None:
    trip = demo(name)

    (answer,) = twins_plans(module_page, [(trip, Happened())])

    assert answer == as_read(plan(trip))


def test_twin_replans_the_demo(module_page: Page) -> None:
    """A shelf that is empty, a dearer tag, coupons left at home, a finished transaction and its slip that
    did not print, and a report taken back."""
    trip = demo("trip.json")
    home = plan(trip)
    first = home.transactions[0]
    spots = [(deal.store, deal.product, deal.tag_cents // deal.units) for deal in home.deals]
    shown = first.receipt.total_cents + 100
    done = msgspec.to_builtins(TransactionDone(transaction=first.transaction, shown_total_cents=shown))
    rewards = [earned.offer for earned in first.receipt.earned]
    cases: list[list[dict[str, Any]]] = [
        [{"kind": "shelf_empty", "store": store, "product": product}] for store, product, _ in spots[:3]
    ]
    store, product, cents = spots[-1]
    cases.append([{"kind": "price_seen", "store": store, "product": product, "cents": cents + 60}])
    cases.append([{"kind": "coupon_copies", "coupon": first.hand_over[0], "copies": -1}])
    cases.append([{"kind": "in_trolley", "store": store, "product": product, "units": 1}])
    cases.append([{"kind": "chosen", "store": store, "product": product, "units": 2}])
    cases.append([done])
    if rewards:
        cases.append([done, {"kind": "not_printed", "done": "event-0", "offer": rewards[0]}])
    cases.append([done, {"kind": "undone", "event": "event-0"}])
    stories = [(trip, reports(*case)) for case in cases]

    answers = twins_plans(module_page, stories)

    for (_, happened), answer in zip(stories, answers, strict=True):
        assert answer == as_read(plan(trip, happened)), happened.entries


def test_twin_ranks_what_to_do_at_an_empty_shelf(module_page: Page) -> None:
    trip = demo("trip.json")
    spots = [(deal.store, deal.product) for deal in plan(trip).deals][:4]
    document: Any = msgspec.to_builtins(trip)
    shelves: list[dict[str, Any]] = [
        {"trip": document, "happened": [], "store": store, "product": product} for store, product in spots
    ]

    answers = asked_of_plans(module_page, "runAtTheShelf", shelves)

    for (store, product), answer in zip(spots, answers, strict=True):
        expected = [as_read(each) for each in swaps(trip, Happened(), store, product)]
        assert answer["swaps"] == expected, (store, product)
        assert answer["breakEven"] == break_even(trip, Happened(), store, product), (store, product)


def test_made_up_trips_are_sound() -> None:
    for seed in range(MADE_UP):
        assert check_trip(made_up_trip(seed)) == [], seed


@pytest.mark.parametrize("start", range(0, MADE_UP, AT_ONCE))
def test_twin_plans_made_up_trips(module_page: Page, start: int) -> None:
    trips = {seed: made_up_trip(seed) for seed in range(start, min(start + AT_ONCE, MADE_UP))}
    stories = [(trip, Happened()) for trip in trips.values()]
    stories += [(trip, happened_on(seed, trip, plan(trip))) for seed, trip in trips.items() if seed % 3 == 0]

    answers = twins_plans(module_page, stories)

    for (trip, happened), answer in zip(stories, answers, strict=True):
        expected = plan(trip, happened)
        for planned in expected.transactions:
            check_receipt(planned.transaction, planned.receipt)
        assert answer == as_read(expected), (trip.id, happened.entries)


@pytest.mark.parametrize("start", range(0, TINY, TINY_AT_ONCE))
def test_twin_plans_tiny_trips(module_page: Page, start: int) -> None:
    check_twin(module_page, [tiny_trip(seed) for seed in range(start, start + TINY_AT_ONCE)])


def test_twin_plans_trips_to_houses_that_take_two_coupons_on_an_item(module_page: Page) -> None:
    check_twin(module_page, [stacked_trip(seed) for seed in range(STACKED)])


@pytest.mark.parametrize("prove", [False, True])
def test_twin_keeps_cash_ceilings_of_a_large_trip(module_page: Page, prove: bool) -> None:
    """One that cheaper goods keep, one that leaves needs unmet, and one of a store."""
    trip = week(10, 20, 2, 2)
    cash = plan(trip).totals.out_of_pocket_cents
    trips = [
        replace(trip, wallet=replace(trip.wallet, cash_cents=cents)) for cents in (cash * 9 // 10, cash // 2)
    ]
    own = replace(trip.stores[0], cash_ceiling_cents=cash // 4)
    trips.append(replace(trip, stores=(own, *trip.stores[1:])))

    answers = twins_plans(module_page, [(each, Happened()) for each in trips], prove)

    for each, answer in zip(trips, answers, strict=True):
        assert answer == as_read(plan(each, None, prove))
    assert [len(answer["unmet"]) > 0 for answer in answers] == [False, True, False]


# Where a unit fits several requirements of a coupon (11592), lends its place in a want to no other (13511),
# the same is had for less cash (521, 17824 in a larger program, and 23070 where the program flatters the
# dearer) or in one transaction (4149), and another order on the belt leaves more to a coupon (5924); where
# two goods of a rain check lay in an order that the register refused (7321), and where the program took a
# lower slip than the register gives (25255).
MENDED = [
    *(("tiny", seed) for seed in (11592, 13511, 23070, 25255)),
    *(("crowded", seed) for seed in (521, 4149, 5924, 7321, 17824, 24149)),
    # Two transactions where one would do (603), a coupon that the register refuses as it is handed over
    # (2332), and a cash ceiling that is passed at the register alone (3379).
    *(("stacked", seed) for seed in (603, 2332, 3379)),
]


def test_twin_plans_trips_on_which_a_plan_once_was_worse(module_page: Page) -> None:
    check_twin(module_page, [FAMILIES[family](seed) for family, seed in MENDED])


def check_twin(page: Page, trips: list[Trip]) -> None:
    answers = twins_plans(page, [(trip, Happened()) for trip in trips])

    for trip, answer in zip(trips, answers, strict=True):
        assert answer == as_read(plan(trip)), trip.id
