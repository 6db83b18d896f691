"""Step 1 of the planner: each cluster of wants by itself, remembered by what it was asked.

A report in the aisle changes one cluster; the others are answered as in the plan before, without their
programs being written again.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Sequence
from typing import ClassVar

import msgspec

from .clusters import clusters
from .levels import Solved, solve_counts
from .limits import spot_sums
from .model import Model, build_model
from .objective import dues
from .offers import Want
from .program import Sum
from .shelves import Shelves
from .situation import Situation, without_ceilings
from .solver import side_by_side
from .spreading import Bought

Answered = tuple[Model, Solved]
Answer = tuple[Model, Solved | None]

_ANSWERS: OrderedDict[bytes, Answer] = OrderedDict()
_MOST_ANSWERS = 600


class Price(msgspec.Struct, frozen=True):
    """What a cent that the registers ask for costs besides: ``eighths`` of a cent, at some ``stores`` or
    (None) at all. ``spared``: a unit is left missing where that spares the registers more than so many cents;
    None: only where there is no other way."""

    CENT: ClassVar[int] = 8

    eighths: int
    stores: tuple[str, ...] | None
    spared: int | None = None


def groups_apart(situation: Situation, wants: list[Want]) -> list[list[Want]]:
    """The groups to solve apart. A price on further stores or transactions is paid once for all
    wants together, so then they stay together."""
    settings = situation.trip.settings
    if settings.further_store_cents or settings.further_transaction_cents:
        return [wants] if wants else []
    return clusters(situation, wants)


def solve_apart(
    situation: Situation,
    shelves: Shelves,
    groups: list[list[Want]],
    price: Price | None = None,
    places: Sequence[int] | None = None,
) -> list[Answer]:
    """The best plan of each group, or of those at ``places``, at a price on what the registers ask for.

    A group that was solved lately without what lies in the trolley, or without the plan that she left
    home with, and whose answer has it all in the same, is answered so: what was asked of it more
    decides nothing. Beside an empty shelf the trolley is all that can be had, so there it counts.
    """
    shared = _shared_by_all(situation)
    held = {spot: units for spot, units in situation.trolley.items() if spot in situation.empty}
    eased = [
        msgspec.structs.replace(situation, trolley=trolley, home=home)
        for trolley in (held, situation.trolley)
        for home in (None, situation.home)
    ]
    asked: list[bytes] = []
    unknown: dict[bytes, tuple[int, bytes]] = {}
    for place in range(len(groups)) if places is None else places:
        group = groups[place]
        questions = [_key(each, shared, shelves, place, group) for each in eased]
        keys = [_at(key, price) for key in questions]
        key = next((each for each in keys[:-1] if _holds(situation, group, each)), keys[-1])
        asked.append(key)
        if key not in _ANSWERS:
            unknown[key] = (place, questions[-1])

    def model_of(place: int, question: bytes) -> Model:
        # The same program is asked at every price.
        before = _ANSWERS.get(_at(question, None))
        return before[0] if before else build_model(situation, shelves.by_store, groups[place], "apart")

    models = (model_of(place, question) for place, question in unknown.values())
    answers = side_by_side(lambda model: (model, _best_at(model, price)), models)
    found = {key: _ANSWERS[key] for key in asked if key in _ANSWERS}
    found.update(zip(unknown, answers, strict=True))
    for key, answer in found.items():
        _ANSWERS[key] = answer
        _ANSWERS.move_to_end(key)
    while len(_ANSWERS) > _MOST_ANSWERS:
        _ANSWERS.popitem(last=False)
    return [found[key] for key in asked]


def _best_at(model: Model, price: Price | None) -> Solved | None:
    """A group's best at a price."""
    if price is None:
        return solve_counts(model)
    due = dues(model.blocks, price.stores)
    value = Sum({}).plus(model.value, Price.CENT).plus(due, price.eighths)
    priced = msgspec.structs.replace(model, value=value)
    if price.spared is not None:
        value = value.plus(model.unmet, price.spared * model.scale * price.eighths)
        priced = msgspec.structs.replace(priced, value=value, missing={}, unmet=Sum({}))
    answer = solve_counts(priced)
    if answer is None:
        return None
    unmet, value = model.unmet.value(answer.values), model.value.value(answer.values)
    return msgspec.structs.replace(answer, unmet=unmet, value=value)


def _holds(situation: Situation, group: list[Want], key: bytes) -> bool:
    """Whether a group's answer is remembered and has what lies in the trolley and the plan that she left
    home with."""
    if key not in _ANSWERS:
        return False
    model, answer = _ANSWERS[key]
    if answer is None:
        return True
    names = {product for want in group for product in want.products}
    sums = spot_sums(model.blocks)
    planned = {spot: units.value(answer.values) for spot, units in sums.items()}
    in_trolley = all(
        planned.get(spot, 0) >= units for spot, units in situation.trolley.items() if spot[1] in names
    )
    home = situation.home
    return in_trolley and (
        home is None
        or all(units == home.get(spot, 0) - situation.bought(*spot) for spot, units in planned.items())
    )


def forget() -> None:
    """No cluster is remembered: for benches."""
    _ANSWERS.clear()


def _shared_by_all(situation: Situation) -> bytes:
    """What every group's program may depend on, as a short key: all but its goods and their places, and
    what the counters of its parts hold. It is not bound by the cash ceilings."""
    trip = without_ceilings(
        msgspec.structs.replace(
            situation.trip, products=(), prices=(), wants=(), pinned=(), coupons=(), percent_offers=()
        )
    )
    everything = (
        trip,
        situation.done,
        sorted(situation.used.items()),
        sorted(situation.earned.items()),
        sorted(situation.offer_transactions.items()),
    )
    return hashlib.blake2b(msgspec.msgpack.encode(everything)).digest()


def _at(question: bytes, price: Price | None) -> bytes:
    """What a group is asked at a price."""
    return question + msgspec.msgpack.encode(price)


def _key(situation: Situation, shared: bytes, shelves: Shelves, place: int, group: list[Want]) -> bytes:
    """What a group's program is made of. The parts of the shelves hold its products and tags."""
    names = {product for want in group for product in want.products}
    held = sorted(item for item in situation.trolley.items() if item[0][1] in names)
    empty = sorted(spot for spot in situation.empty if spot[1] in names)
    home = None
    if situation.home is not None:
        home = sorted(item for item in situation.home.items() if item[0][1] in names)
    wholes = [shelf.whole for shelf in shelves.by_store.values()]
    return msgspec.msgpack.encode((shared, shelves.numbers[place], wholes, group, held, empty, home))


def bought_in(solved: list[Answered]) -> Bought:
    """How many of each column the clusters chose, over all their transactions."""
    found: Bought = {}
    for model, answer in solved:
        for store, blocks in model.blocks.items():
            for place, column in enumerate(model.shelves[store].columns):
                count = sum(answer.values[block.columns[place]] for block in blocks)
                if count:
                    found[(store, column.key)] = (column, count)
    return found


def bound_of(solved: Sequence[Answered]) -> int | None:
    """The least value that any plan can have, from the clusters' optima; None where one is no bound.

    Each transaction's tax, rounded once per class, may be half a cent less than the exact tax."""
    if not all(model.whole for model, _ in solved):
        return None
    scale = solved[0][0].scale if solved else 1
    total = sum(answer.value for _, answer in solved)
    return -((slack_of(solved) - total) // scale)


def is_reached(solved: Sequence[Answered], value: int) -> bool:
    """Whether a plan of this value that buys what the clusters chose is worth their optima to the fraction of
    a cent: then no other is as good at levels 2 and 3."""
    scale = solved[0][0].scale if solved else 1
    total = sum(answer.value for _, answer in solved)
    return all(model.whole for model, _ in solved) and slack_of(solved) == 0 and total == scale * value


def slack_of(solved: Sequence[Answered]) -> int:
    """By how much less than the clusters' optima a plan can have: what rounding of its taxes may spare.

    In the clusters' parts of a cent."""
    scale = solved[0][0].scale if solved else 1
    roundings: dict[tuple[str, str], int] = {}
    for model, _ in solved:
        for store, shelf in model.shelves.items():
            tax = shelf.counter.store.tax
            for product in shelf.products.values():
                if tax.basis == "invoice" and tax.rates.get(product.tax_class, 0):
                    spot = (store, product.tax_class)
                    roundings[spot] = shelf.counter.store.rules.transactions_per_visit
    return scale * sum(roundings.values()) // 2
