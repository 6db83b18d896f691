"""What a plan that is better than the one in hand, or as good, could buy at all.

Each cluster of wants was solved apart, and no plan's part of a cluster is worth more than the cluster's
best. So a plan that is as good as a whole falls short of the best, in each cluster, by no more than the plan
in hand does in all. That is mostly some cents, and then one question to a cluster shows that it can buy
nothing else.
The whole program is left with the clusters of which that is not so.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from .apart import Answered, slack_of
from .levels import counts_differ, fixed, goal_of, met_in
from .model import Model
from .program import Program, added, one
from .relaxing import tightened
from .solver import relax, side_by_side

# Per (store, column key): the least and the most units in all that such a plan can have.
Counts = dict[tuple[str, str], tuple[int, int]]


def counts_as_good(solved: Sequence[Answered], value: int) -> Counts:
    """The counts that a plan of ``value`` at level 2 or less can have, of those columns where it is known.

    ``solved``: every cluster with its best. The plan misses no more needs than these in all, so no more than
    its own in each."""
    if not all(model.whole for model, _ in solved):
        return {}  # where ways were left out, the best is no bound
    scale = solved[0][0].scale
    room = scale * value + slack_of(solved) - sum(answer.value for _, answer in solved)
    counts: Counts = {}
    for each in side_by_side(lambda answered: _near_counts(answered, room), solved):
        counts.update(each)
    return counts


def _near_counts(answered: Answered, room: int) -> Counts:
    """The counts of a cluster's columns in all plans that fall short of its best by at most ``room``."""
    model, answer = answered
    met = fixed(model.program, model.unmet, answer.unmet) if answer.unmet else met_in(model)
    limit = answer.value + room
    relaxed = relax(met, goal_of(model))
    held = met if relaxed is None else tightened(met, relaxed, limit * (model.most_units + 1))
    differ = counts_differ(model, fixed(held, model.value, limit), answer.values)
    counts: Counts = {}
    for store, blocks in model.blocks.items():
        for place, column in enumerate(model.shelves[store].columns):
            variables = [block.columns[place] for block in blocks]
            if differ:
                most = int(sum(held.upper[variable] for variable in variables))
                counts[(store, column.key)] = (sum(held.lower[variable] for variable in variables), most)
            else:
                count = sum(answer.values[variable] for variable in variables)
                counts[(store, column.key)] = (count, count)
    return counts


def within(whole: Model, counts: Counts) -> Model:
    """The whole program with no other counts."""
    program = Program(list(whole.program.lower), list(whole.program.upper), list(whole.program.rows))
    for store, blocks in whole.blocks.items():
        for place, column in enumerate(whole.shelves[store].columns):
            known = counts.get((store, column.key))
            if known is None:
                continue
            least, most = known
            variables = [block.columns[place] for block in blocks]
            for variable in variables:
                program.upper[variable] = min(program.upper[variable], most)
            if least or len(variables) > 1:
                program.require(added(one(variable) for variable in variables), low=least, high=most)
    return msgspec.structs.replace(whole, program=program)


def variables_left(model: Model) -> int:
    """How many variables of a program have a choice."""
    return sum(low < high for low, high in zip(model.program.lower, model.program.upper, strict=True))
