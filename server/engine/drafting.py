"""Steps 1 and 2 of the planner: a plan that is good, and how good it can be at most.

What the clusters chose (``apart.py``) is put into transactions (``placing.py``), packed, and taken through
the registers in the best order (``checkout.py``).
"""

from __future__ import annotations

import msgspec

from .apart import Answer, Answered, bought_in, bound_of, solve_apart
from .checkout import Paid, RefusedAtTheRegister, choose_orders, orders, settle
from .filling import Filling
from .levels import Solved
from .model import Model
from .offers import Want
from .packing import pack
from .papers import Plan, Transaction
from .placing import placed
from .reordering import cheapest_order, without_refused
from .shelves import Shelves
from .situation import Situation, house_of
from .writing import plan_value, write_plan


class Draft(msgspec.Struct, frozen=True):
    """A plan: the document, its missing units, its level-2 value by the register, and the least that
    any plan can have, where it is known; what the registers ask for and the cash, per transaction with its
    store; and the clusters that it is put together from."""

    written: Plan
    unmet: int
    value: int
    bound: int | None
    due: tuple[tuple[str, int], ...] = ()
    cash: tuple[tuple[str, int], ...] = ()
    solved: tuple[Answered, ...] = ()


def draft_of(
    situation: Situation,
    parts: Shelves,
    groups: list[list[Want]],
    answers: list[Answer] | None = None,
    wholly: bool = False,
) -> Draft | None:
    """Steps 1 and 2; None where what the clusters chose cannot be put together.

    ``answers``: what they chose, where it is not their best. ``wholly``: as in ``spreading.py``."""
    shelves = parts.by_store
    wants = sorted((want for group in groups for want in group), key=lambda want: want.id)
    if answers is None:
        answers = solve_apart(situation, parts, groups)
    solved = [(model, answer) for model, answer in answers if answer is not None]
    if len(solved) < len(answers):
        return None
    missing = {want: units for model, answer in solved for want, units in missing_in(model, answer).items()}
    bought = bought_in(solved)
    houses = placed(situation, shelves, wants, bought, wholly)
    if houses is None:
        return None
    together = [each for own in houses for each in own.filled]
    paid = paid_in(situation, together)
    other = [each for own in houses for each in own.other]
    if _contents(other) != _contents(together):
        paid = min(paid, paid_in(situation, other), key=lambda each: _rank(situation, each))
    bound = bound_of(solved)
    return Draft(
        written=write_plan(situation, paid, missing, bound),
        unmet=sum(missing.values()),
        value=plan_value(situation, paid),
        bound=bound,
        due=tuple((each.receipt.store, each.receipt.total_cents) for each in paid),
        cash=tuple((each.receipt.store, each.receipt.out_of_pocket_cents) for each in paid),
        solved=tuple(solved),
    )


def missing_in(model: Model, answer: Solved) -> dict[str, int]:
    """Missing units per want that has any."""
    return {
        want: answer.values[variable] for want, variable in model.missing.items() if answer.values[variable]
    }


def paid_in(situation: Situation, filled: list[Filling]) -> list[Paid]:
    """Transactions in checkout order, with tenders, as the register prices them."""
    packed = [
        pack(situation.trip, each.shelf, list(each.counts), each.baskets)
        for store in situation.trip.stores
        for each in filled
        if each.shelf.counter.store.id == store.id and each.counts
    ]
    try:
        return in_checkout_order(situation, packed)
    except RefusedAtTheRegister:
        # Units are packed where they mostly belong; in another order on the belt the register may take them.
        # What it refuses even so was flattered by the program, and is dearer without.
        reordered = [cheapest_order(each)[0] for each in packed]
        return in_checkout_order(situation, [without_refused(each) for each in reordered])


def _contents(filled: list[Filling]) -> list[list[tuple[str, int]]]:
    """What each transaction holds, by key."""
    return [[(column.key, count) for column, count in each.counts] for each in filled if each.counts]


def _rank(situation: Situation, paid: list[Paid]) -> tuple[int, int]:
    """What a plan is compared by where it buys the same: level-2 value, then cash."""
    return (plan_value(situation, paid), sum(each.receipt.out_of_pocket_cents for each in paid))


def in_checkout_order(situation: Situation, transactions: list[Transaction]) -> list[Paid]:
    """Transactions, those of a store in the order of the drive, with tenders and in checkout order."""
    packed: dict[str, list[Transaction]] = {}
    for transaction in transactions:
        packed.setdefault(house_of(transaction.store), []).append(transaction)
    by_house = {house: orders(situation, house, each) for house, each in packed.items()}
    chosen = choose_orders(situation, by_house, packed) if by_house else {}
    paid = [
        each for house, order in chosen.items() for each in settle(situation, house, packed[house], order)
    ]
    drive = [store.id for store in situation.trip.stores]
    return sorted(paid, key=lambda each: drive.index(each.transaction.store.id))
