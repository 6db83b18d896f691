"""The smallest trip on which the plan and the second opinion still differ: ``smallest``.

Whatever can be left out of a trip is, one thing after another, as long as ``differs`` says so. A trip that
is no longer sound is never asked about.

    python -m tests.independent.smallest stacked 67     # prints the trip of this seed, made small

From the top of a checkout, with ``.dev`` on ``PYTHONPATH``.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from typing import Any, cast

import msgspec

from counterfoil.engine.check import check_trip
from counterfoil.engine.offers import Trip

COUNTS = ("copies", "units", "limit", "need", "welcome")


def smallest(trip: Trip, differs: Callable[[Trip], bool]) -> Trip:
    """A trip that still ``differs`` and does not any more with any one thing less."""
    again = True
    while again:
        again = False
        for smaller in _smaller(trip):
            if check_trip(smaller) == [] and differs(smaller):
                trip, again = smaller, True
                break
    return trip


def _smaller(trip: Trip) -> Iterator[Trip]:
    replace = msgspec.structs.replace
    for store in trip.stores:
        tags = tuple(tag for tag in trip.prices if tag.store != store.id)
        yield replace(trip, stores=tuple(each for each in trip.stores if each is not store), prices=tags)
    for product in trip.products:
        tags = tuple(tag for tag in trip.prices if tag.product != product.id)
        kept = tuple(each for each in trip.products if each is not product)
        yield replace(trip, products=kept, prices=tags)
    for document in _less(msgspec.json.decode(msgspec.json.encode(trip))):
        try:
            yield msgspec.convert(document, Trip)
        except msgspec.ValidationError:
            continue


def _less(document: object) -> Iterator[Any]:
    """Copies of a document, each with one field, part of a list or one of a count less; large ones first."""
    if isinstance(document, dict):
        fields = cast("dict[str, Any]", document)
        for name, value in fields.items():
            yield {key: kept for key, kept in fields.items() if key != name}
            if name in COUNTS and value > 1:
                yield fields | {name: value - 1}
        for name, value in fields.items():
            for simpler in _less(value):
                yield fields | {name: simpler}
    elif isinstance(document, list):
        parts = cast("list[Any]", document)
        for at in range(len(parts)):
            yield [*parts[:at], *parts[at + 1 :]]
        for at, value in enumerate(parts):
            for simpler in _less(value):
                yield [*parts[:at], simpler, *parts[at + 1 :]]


def main(arguments: list[str]) -> int:
    # Here and not above: the processes of CP-SAT load this file too, and must not load the planner.
    from .answer import processes
    from .comparing import asked_both
    from .families import FAMILIES

    family, seed = arguments
    with processes(1) as pool:
        trip = smallest(
            FAMILIES[family](int(seed)),
            lambda trip: asked_both(pool, trip).difference() is not None,
        )
        print(msgspec.json.format(msgspec.json.encode(trip)).decode())
        print(asked_both(pool, trip).difference())
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
