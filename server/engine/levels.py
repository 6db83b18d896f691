"""The levels of the objective, solved one after the other, to one plan and no other.

1 fewest missing units; 2 least net cost less worth; 3 most units; 4 least out of pocket;
5 fewest transactions, then fewest changes, then preferences; 6 a fixed pseudo-random weight
for every choice, so that among equals every machine takes the same. Levels 2 and 3, and the
three of 5, are drawn together by whole-number weights; each level is fixed before the next.
"""

from __future__ import annotations

import msgspec

from .model import Model
from .program import Program, Sum, added, one
from .relaxing import least_of
from .solver import Solution, minimize

# Weights of the last level: wide enough that two different plans hardly ever weigh the same,
# narrow enough that a trip's sum stays under 2^31.
_WEIGHTS = 2**20

# With fewer variables, to ask without whole numbers first takes longer than it spares.
_RELAXED_FIRST = 60


class Solved(msgspec.Struct, frozen=True):
    """One plan of a model: ``values`` per variable, missing units, and ``value`` and ``cash`` in the
    model's parts of a cent."""

    values: list[int]
    unmet: int
    value: int
    cash: int


def solve_levels(model: Model) -> Solved | None:
    """The best plan of a model by all levels, or None where no plan satisfies its rows even
    with every need missing."""
    at_once = least_of(met_in(model), goal_of(model), _RELAXED_FIRST)
    if at_once is not None:
        return _lower_levels(model, *at_once)
    fewest = minimize(model.program, model.unmet)
    if fewest is None:
        return None
    best = least_of(fixed(model.program, model.unmet, fewest.value), goal_of(model), _RELAXED_FIRST)
    assert best is not None
    return _lower_levels(model, *best)


def solve_counts(model: Model) -> Solved | None:
    """The best plan of a model, by all levels as far as it says how many of each column are bought in all;
    in which transaction they lie is left open.

    Where nothing is missing and no other counts reach the same level 2 and 3, the levels below have
    nothing to choose. That is mostly so, and one question shows it.
    """
    least = least_of(met_in(model), goal_of(model))
    if least is None:
        return solve_levels(model)
    held, best = least
    if counts_differ(model, fixed(held, goal_of(model), best.value), best.values):
        return _lower_levels(model, held, best)
    return _solved(model, best)


def counts_differ(model: Model, program: Program, values: list[int]) -> bool:
    """Whether other counts of some column than those of ``values`` satisfy the program, whose first variables
    are the model's."""
    asked = Program(list(program.lower), list(program.upper), list(program.rows))
    unbought, differs = Sum({}), Sum({})
    for store, blocks in model.blocks.items():
        for column in range(len(model.shelves[store].columns)):
            places = [block.columns[column] for block in blocks]
            count = sum(values[variable] for variable in places)
            if all(program.lower[variable] == program.upper[variable] for variable in places):
                continue
            total = added(one(variable) for variable in places)
            if not count:
                unbought = unbought.plus(total)
                continue
            most = max(int(sum(program.upper[variable] for variable in places)), count)
            differs = added([differs, _passes(asked, total, count, most)])
    if not differs.terms and not unbought.terms:
        return False
    other = asked.variable(0, 1)
    asked.require(unbought.plus(one(other), -1), low=0)
    asked.require(differs.plus(one(other)), low=1)
    # Any answer will do, so there is nothing to minimize.
    return minimize(asked, Sum({})) is not None


def _passes(program: Program, total: Sum, count: int, most: int) -> Sum:
    """Two yes or no: whether a total is more than a count, or less; at ``most`` so many."""
    more, fewer = program.variable(0, 1), program.variable(0, 1)
    program.require(total.plus(one(more), -(count + 1)), low=0)
    program.require(total.plus(one(fewer), most - count + 1), high=most)
    return one(more).plus(one(fewer))


def met_in(model: Model) -> Program:
    """The program with every need met."""
    met = Program(list(model.program.lower), list(model.program.upper), list(model.program.rows))
    for variable in model.missing.values():
        met.upper[variable] = 0
    return met


def better_than(model: Model, unmet: int, value: int, units: int) -> Solved | None:
    """The best plan of a model by all levels if it has fewer missing units than ``unmet``, a lower level-2
    value than ``value``, or that value and more than ``units``; else None: nothing is better."""
    if unmet:
        fewest = minimize(model.program, model.unmet)
        if fewest is not None and fewest.value < unmet:
            return solve_levels(model)
    program = fixed(model.program, model.unmet, unmet)
    best = minimize(program, goal_of(model))
    if best is None or goal_of(model).value(best.values) >= value * (model.most_units + 1) - units:
        return None
    return _lower_levels(model, program, best)


def less_cash(
    model: Model, unmet: int, value: int, units: int, cash: int, transactions: int
) -> Solved | None:
    """The best plan of a model, by the levels below, with no more missing units, no higher level-2 value and
    no fewer units than these, that puts down less than ``cash``, or as much in fewer ``transactions``; None
    where there is none."""
    program = fixed(fixed(model.program, model.unmet, unmet), model.value, value)
    program.require(model.units, low=units)
    program.require(model.cash, high=cash + 0.5)
    most = int(sum(model.program.upper[variable] for variable in model.transactions.terms))
    level = model.transactions.plus(model.cash, most + 1)
    best = minimize(program, level)
    if best is None or best.value >= cash * (most + 1) + transactions:
        return None
    program = fixed(program, level, best.value)
    goal = goal_of(model).value(best.values)
    return _lower_levels(model, program, Solution(best.values, goal, goal))


def without(model: Model, answer: Solved) -> Model:
    """The model with one more row: some count of what the answer buys, or of the basket coupons that
    it uses, must differ. What is left unbought is drawn together, for one yes or no."""
    program = Program(list(model.program.lower), list(model.program.upper), list(model.program.rows))
    every = [block for blocks in model.blocks.values() for block in blocks]
    counted = [variable for block in every for variable in block.columns]
    counted += [variable for block in every for uses in block.basket_uses.values() for variable in uses.terms]
    unbought, differs = Sum({}), Sum({})
    for variable in counted:
        count, most = answer.values[variable], int(program.upper[variable])
        if not count:
            unbought.add(variable, 1)
            continue
        differs = added([differs, _passes(program, one(variable), count, most)])
    other = program.variable(0, 1)
    program.require(unbought.plus(one(other), -1), low=0)
    program.require(differs.plus(one(other)), low=1)
    return msgspec.structs.replace(model, program=program)


def goal_of(model: Model) -> Sum:
    """Levels 2 and 3 in one: value, weighed above every count of units."""
    return Sum({}).plus(model.value, model.most_units + 1).plus(model.units, -1)


def _lower_levels(model: Model, program: Program, best: Solution) -> Solved:
    """Levels 4 to 6, each with the ones before it fixed."""
    program = fixed(program, goal_of(model), best.value)
    for level in (*_cash_and_tidiness(model), _weights(model)):
        if not level.terms:
            continue
        found = minimize(program, level)
        # The plan before satisfies every row, so there is one.
        assert found is not None
        program = fixed(program, level, found.value)
        best = found
    return _solved(model, best)


def _solved(model: Model, best: Solution) -> Solved:
    return Solved(
        values=best.values,
        unmet=model.unmet.value(best.values),
        value=model.value.value(best.values),
        cash=model.cash.value(best.values),
    )


def fixed(program: Program, level: Sum, value: int) -> Program:
    """The program with one level held at its optimum (half a unit of room for the solver's tolerance)."""
    held = Program(program.lower, program.upper, list(program.rows))
    held.require(level, high=value + 0.5)
    return held


def _cash_and_tidiness(model: Model) -> list[Sum]:
    """Levels 4 and 5, in one sum where the weights stay small."""
    tidiness = _tidiness(model)
    upper = model.program.upper
    most = sum(each * upper[variable] for variable, each in tidiness.terms.items())
    dearest = max((abs(each) for each in model.cash.terms.values()), default=0)
    if (most + 1) * dearest >= _WEIGHTS:
        return [model.cash, tidiness]
    return [tidiness.plus(model.cash, int(most) + 1)]


def _tidiness(model: Model) -> Sum:
    """Fewest transactions, then fewest changes, then her preferences, in one sum of whole weights."""
    most_preference = 15 * model.most_units + 1
    most_changes = 2 * model.most_units + 1
    return model.preferences.plus(model.changes, most_preference).plus(
        model.transactions, most_preference * most_changes
    )


def _weights(model: Model) -> Sum:
    """A fixed weight for each column and each basket coupon in each transaction."""
    total = Sum({})
    for store, blocks in model.blocks.items():
        for place, block in enumerate(blocks):
            for variable, column in zip(block.columns, model.shelves[store].columns, strict=True):
                total.add(variable, fixed_weight(f"{column.key}#{place}"))
            for coupon, uses in block.basket_uses.items():
                for variable in uses.terms:
                    total.add(variable, fixed_weight(f"{coupon}#{place}"))
    return total


def fixed_weight(key: str) -> int:
    """A number from 1 to 2^20 that only depends on the key: FNV-1a, 32 bits, folded.

    Source: the FNV hash's published offset basis 2166136261 and prime 16777619.
    """
    mixed = 2166136261
    for byte in key.encode():
        mixed = ((mixed ^ byte) * 16777619) & 0xFFFFFFFF
    return ((mixed >> 12) ^ (mixed & 0xFFF)) % _WEIGHTS + 1
