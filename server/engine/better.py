"""Step 3 of the planner: is anything better than what the clusters gave?

``near.py`` first shows what a plan as good could buy at all; the whole program is asked for that, and the
register has the last word on its answer (``laid_out.py``).
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from .apart import is_reached
from .block import Shelf
from .drafting import Draft
from .laid_out import (
    best_by_the_register,
    certain,
    equals_open,
    may_take_less_cash,
    units_in,
    with_least_cash,
)
from .levels import better_than
from .model import Model, build_model
from .near import counts_as_good, variables_left, within
from .offers import Want
from .papers import Plan
from .situation import Situation
from .writing import proven

# Where a better plan could differ in more variables than this, step 3 is not asked: it may take minutes. The
# plan tells its gap, mostly cents. The phone's figure is a quarter of it: it takes so much longer there.
PROVABLE_PROGRAM = 4_000

# The same for less cash, where ways are left out and nothing is proven by it.
UNPROVABLE_PROGRAM = 300

# How often a program of so many columns, or fewer, is asked again where the register's figure falls short of
# its optimum; a larger one the less often, since each question takes the longer.
MOST_QUESTIONS = 24
ASKED_MOST = 120


def most_questions(columns: int) -> int:
    """How often a program of so many columns is asked again at most."""
    return MOST_QUESTIONS * ASKED_MOST**2 // max(columns, ASKED_MOST) ** 2


def best_as_a_whole(
    situation: Situation,
    shelves: dict[str, Shelf],
    wants: list[Want],
    draft: Draft,
    is_lowered: bool,
    questions: int,
) -> Plan:
    """Step 3: a plan that is better than the draft on any level, or the draft and what is known of it.

    ``is_lowered``: whether the draft is worth less for a cash ceiling. ``questions``: how often the program
    is asked again where the register does not bear its answer out."""
    asks_for_cash, asks_for_more = may_take_less_cash(situation, draft, shelves), may_buy_more(draft)
    if draft.written.proof.optimal and not asks_for_cash and not asks_for_more:
        return draft.written
    counts = counts_as_good(draft.solved, draft.value) if _misses_the_fewest(draft) else {}
    whole = within(build_model(situation, shelves, wants, "whole"), counts)
    if variables_left(whole) > PROVABLE_PROGRAM:
        return equals_open(draft.written)
    if asks_for_more:
        # Without tenders the question is easier, and mostly answered: nothing is better. But without them
        # there is no ceiling either.
        easier = [] if is_lowered else [within(build_model(situation, shelves, wants, "untendered"), counts)]
        better = _anything_better(situation, [*easier, whole], draft, questions)
        if isinstance(better, Plan):
            return better
        draft = better
    asks_for_cash = asks_for_cash and (whole.whole or variables_left(whole) <= UNPROVABLE_PROGRAM)
    return with_least_cash(situation, draft, whole) if asks_for_cash else draft.written


def may_buy_more(draft: Draft) -> bool:
    """Whether a plan could be worth more than the draft, or buy more for the same."""
    return not (_misses_the_fewest(draft) and is_reached(draft.solved, draft.value))


def _misses_the_fewest(draft: Draft) -> bool:
    """Whether no plan can miss fewer units: the clusters by themselves miss as many."""
    return draft.unmet == sum(answer.unmet for _, answer in draft.solved)


def _anything_better(
    situation: Situation, asked: Sequence[Model], draft: Draft, questions: int
) -> Plan | Draft:
    """A plan that is better than the draft or buys more for the same, or the draft with what is known of it.

    ``asked``: the last is the whole program; where an earlier one has none, it has none either."""
    units, whole, best = units_in(draft.written), asked[-1], None
    for model in asked:
        best = better_than(model, draft.unmet, draft.value, units)
        if best is None:
            break
    if best is None:
        bound = certain(whole, draft.value)
        known = proven(situation, draft.written, bound, draft.value)
        return msgspec.structs.replace(draft, written=known, bound=bound)
    found = best_by_the_register(situation, whole, best, questions)
    if _rank(found) < _rank(draft):
        return found.written
    # The clusters' bound holds too.
    bound = found.bound if found.bound is None or draft.bound is None else max(found.bound, draft.bound)
    known = proven(situation, draft.written, bound, draft.value)
    if not found.written.proof.optimal:
        known = equals_open(known)
    return msgspec.structs.replace(draft, written=known, bound=bound)


def _rank(draft: Draft) -> tuple[int, int, int, int, int]:
    """What drafts are compared by: missing units, level 2, units as less than none, cash, transactions."""
    totals = draft.written.totals
    return (
        draft.unmet,
        draft.value,
        -units_in(draft.written),
        totals.out_of_pocket_cents,
        totals.transactions,
    )
