"""Promise kept here: the phone asks its solver the very questions that the server asks, and hears the
same answers.

For every shared trip, the demo's and made-up ones: the same ways to buy by the same names, the same
variables, rows and objectives in the same order, and by all levels the same plan.
"""

from __future__ import annotations

import json
import math
from typing import Any

import msgspec
import pytest
from playwright.sync_api import Page

from counterfoil.engine.history import situation_after
from counterfoil.engine.levels import Solved, fixed_weight, solve_levels
from counterfoil.engine.model import Model, build_model
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Happened
from counterfoil.engine.planner import home_units, plan
from counterfoil.engine.program import Sum
from counterfoil.engine.shelves import shelves_of
from counterfoil.engine.situation import Situation, most_welcome
from counterfoil.engine.spreading import Bought, by_houses, spread
from tests.engine.made_up_trips import happened_on, made_up_trip
from tests.engine.test_register_twin import asked
from tests.engine.test_trip_vectors import STORIES, story
from tests.served import ROOT

SEEDS = range(25)
# Larger programs are compared, not solved: ``test_plan_twin.py`` compares their plans.
MOST_SOLVED = 400


def test_twin_asks_what_the_server_asks_on_every_story(module_page: Page) -> None:
    check_alike(module_page, {name: situation_of(*story(vector)) for name, vector in STORIES.items()})


@pytest.mark.parametrize("name", ["trip.json", "small-trip.json"])
def test_twin_asks_what_the_server_asks_on_the_demo(module_page: Page, name: str) -> None:
    trip = msgspec.json.decode((ROOT / "demo" / name).read_bytes(), type=Trip)

    check_alike(module_page, {name: situation_of(trip, Happened())})


def test_twin_asks_what_the_server_asks_on_made_up_trips(module_page: Page) -> None:
    situations: dict[str, Situation] = {}
    for seed in SEEDS:
        trip = made_up_trip(seed)
        situations[f"seed {seed}"] = situation_of(trip, Happened())
        situations[f"seed {seed}, on the way"] = situation_of(trip, happened_on(seed, trip))

    check_alike(module_page, situations)


def test_twin_weighs_equal_plans_alike(module_page: Page) -> None:
    keys = ["", "a", "ostrel|soap|plain:199||#0", "ostrel|thé|plain:199||#1", "x" * 1000]

    assert asked(module_page, "runWeights", keys, runners="run_programs.js") == [
        fixed_weight(key) for key in keys
    ]


def check_alike(page: Page, situations: dict[str, Situation]) -> None:
    documents = [document(situation) for situation in situations.values()]
    answers = asked(page, "runPrograms", documents, MOST_SOLVED, runners="run_programs.js")
    for (name, situation), programs in zip(situations.items(), answers, strict=True):
        expected = [read_again(told(model)) for model in models(situation)]
        assert len(programs) == len(expected), name
        for own, twins in zip(expected, programs, strict=True):
            for part, value in own.items():
                assert twins[part] == value, (name, part)


def situation_of(trip: Trip, happened: Happened) -> Situation:
    return situation_after(trip, happened, home_units(plan(trip)) if happened.entries else None)


def models(situation: Situation) -> list[Model]:
    """All wants apart, untendered and whole, then how what the first buys is spread."""
    wants = [want for want in situation.trip.wants if most_welcome(want)]
    shelves = shelves_of(situation, wants)
    apart = build_model(situation, shelves, wants, "apart")
    untendered = build_model(situation, shelves, wants, "untendered")
    whole = build_model(situation, shelves, wants, "whole")
    solved = solve_levels(apart)
    if solved is None:
        return [apart, untendered, whole]
    bought: Bought = {}
    for store, blocks in apart.blocks.items():
        for place, column in enumerate(apart.shelves[store].columns):
            count = sum(solved.values[block.columns[place]] for block in blocks)
            if count:
                bought[(store, column.key)] = (column, count)
    spreads = [spread(situation, shelves, wants, each) for each in by_houses(situation, bought)]
    return [apart, untendered, whole, *(each.model for each in spreads)]


def told(model: Model) -> dict[str, Any]:
    """A program in plain data; no bound is None."""
    program = model.program
    goals = (model.unmet, model.value, model.units, model.cash, model.transactions)
    return {
        "columns": [(store, [each.key for each in shelf.columns]) for store, shelf in model.shelves.items()],
        "lower": program.lower,
        "upper": [bounded(high) for high in program.upper],
        "rows": [(list(row.terms.items()), bounded(row.low), bounded(row.high)) for row in program.rows],
        "missing": list(model.missing.items()),
        "goals": [plain(goal) for goal in (*goals, model.changes, model.preferences)],
        "most_units": model.most_units,
        "whole": model.whole,
        "scale": model.scale,
        "plan": told_plan(model, solve_levels(model)) if len(program.lower) <= MOST_SOLVED else None,
    }


def told_plan(model: Model, solved: Solved | None) -> dict[str, Any] | None:
    """A plan as far as it is unique and read: how tenders share a payment is settled at checkout."""
    if solved is None:
        return None
    values = solved.values
    blocks = [block for each in model.blocks.values() for block in each]
    return {
        "unmet": solved.unmet,
        "value": solved.value,
        "cash": solved.cash,
        "missing": [values[variable] for variable in model.missing.values()],
        "columns": [[values[variable] for variable in block.columns] for block in blocks],
        "baskets": [[uses.value(values) for uses in block.basket_uses.values()] for block in blocks],
    }


def plain(total: Sum) -> tuple[list[tuple[int, int]], int]:
    return list(total.terms.items()), total.constant


def bounded(value: float) -> float | None:
    return value if math.isfinite(value) else None


def read_again(value: Any) -> Any:
    """As JSON has it: lists for tuples."""
    return json.loads(json.dumps(value))


def document(situation: Situation) -> dict[str, Any]:
    """A situation as the page can read it."""
    home = situation.home
    return {
        "trip": msgspec.to_builtins(situation.trip),
        "trolley": [(*spot, units) for spot, units in situation.trolley.items()],
        "empty": sorted(situation.empty),
        "done": [msgspec.to_builtins(done) for done in situation.done],
        "used": situation.used,
        "earned": situation.earned,
        "offer_transactions": situation.offer_transactions,
        "home": None if home is None else [(*spot, units) for spot, units in home.items()],
    }
