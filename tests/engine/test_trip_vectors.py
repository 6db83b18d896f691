"""Promise kept here: the planner answers every shared trip with the cents worked by hand.

Each vector of ``tests/vectors/trips`` is one story: a trip, what happened so far (pairs of an
event's id and its report), and the part of the plan that the story fixes.
"""

from __future__ import annotations

from typing import Any, cast

import msgspec
import pytest

from counterfoil.engine.check import check_trip
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Happened, Plan, Report
from counterfoil.engine.planner import plan
from counterfoil.engine.receipts import check_receipt
from tests.engine.vectors import Vector, differences, vectors

STORIES = vectors("trips")


@pytest.mark.parametrize("name", STORIES)
def test_planner_plans_the_story(name: str) -> None:
    trip, happened = story(STORIES[name])

    answer = plan(trip, happened)

    assert differences(STORIES[name]["expect"], whole(answer)) == []
    assert answer.proof.optimal
    for planned in answer.transactions:
        check_receipt(planned.transaction, planned.receipt)


@pytest.mark.parametrize("name", STORIES)
def test_story_is_a_sound_trip_with_a_source(name: str) -> None:
    trip, _ = story(STORIES[name])

    assert check_trip(trip) == []
    assert STORIES[name]["story"].endswith(".")
    assert STORIES[name]["source"]


@pytest.mark.parametrize("name", STORIES)
def test_plan_is_a_document_that_can_be_read_again(name: str) -> None:
    answer = plan(*story(STORIES[name]))

    assert msgspec.json.decode(msgspec.json.encode(answer), type=Plan) == answer


@pytest.mark.parametrize("name", STORIES)
def test_order_of_input_never_changes_a_plan(name: str) -> None:
    """All lists turned round but the stores, which stand in the order of the drive, and a want's
    products, which stand in order of preference."""
    trip, happened = story(STORIES[name])
    turned = msgspec.structs.replace(
        trip,
        products=trip.products[::-1],
        prices=trip.prices[::-1],
        wants=trip.wants[::-1],
        coupons=trip.coupons[::-1],
        percent_offers=trip.percent_offers[::-1],
        rewards=trip.rewards[::-1],
        rebates=trip.rebates[::-1],
    )

    assert plan(turned, happened).totals == plan(trip, happened).totals


def story(vector: Vector) -> tuple[Trip, Happened]:
    """A vector's trip and what happened, as the engine reads them."""
    entries = msgspec.convert(vector["happened"], tuple[tuple[str, Report], ...])
    return msgspec.convert(vector["trip"], Trip), Happened(entries=entries)


def whole(document: Any) -> Any:
    """A document with every field, defaults too, so that a vector can expect a 0."""
    if isinstance(document, msgspec.Struct):
        return {field: whole(getattr(document, field)) for field in document.__struct_fields__}
    if isinstance(document, tuple):
        return [whole(item) for item in cast("tuple[object, ...]", document)]
    return document
