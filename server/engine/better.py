"""Step 3 of the planner: is anything better than what the clusters gave?

``near.py`` first shows what a better plan could buy at all; the whole program is asked for that, and the
register has the last word on its answer (``laid_out.py``).
"""

from __future__ import annotations

import msgspec

from .block import Shelf
from .drafting import Draft
from .laid_out import EQUALS_OPEN, best_by_the_register, certain, units_in
from .levels import Solved, better_than
from .model import Model, build_model
from .near import counts_of_better, variables_left, within
from .offers import Want
from .papers import Plan
from .situation import Situation
from .writing import proven, unproven

# Where a better plan could differ in more variables than this, step 3 is not asked: it may take minutes. The
# plan tells its gap, mostly cents. The phone's figure is a quarter of it: it takes so much longer there.
PROVABLE_PROGRAM = 4_000

# How often a program of so many columns, or fewer, is asked again where the register's figure falls short of
# its optimum; a larger one the less often, since each question takes the longer.
MOST_QUESTIONS = 24
ASKED_MOST = 120


def most_questions(columns: int) -> int:
    """How often a program of so many columns is asked again at most."""
    return MOST_QUESTIONS * ASKED_MOST**2 // max(columns, ASKED_MOST) ** 2


def anything_better(
    situation: Situation,
    shelves: dict[str, Shelf],
    wants: list[Want],
    draft: Draft,
    asks_for_more: bool,
    questions: int,
) -> Plan | Draft:
    """Step 3: a better plan than the draft, or the draft and what is known of it.

    ``asks_for_more``: whether one that buys more for the same is better."""
    asked = _better_in_whole(situation, shelves, wants, draft, asks_for_more)
    if asked is None:
        return draft
    whole, best = asked
    bound = certain(whole, draft.value)
    if best is None:
        known = proven(situation, draft.written, bound, draft.value)
        return msgspec.structs.replace(draft, written=known, bound=bound)
    found = best_by_the_register(situation, whole, best, questions)
    if _rank(found) < _rank(draft):
        return found.written
    # The clusters' bound holds too.
    bound = found.bound if found.bound is None or draft.bound is None else max(found.bound, draft.bound)
    known = proven(situation, draft.written, bound, draft.value)
    if known.proof.optimal and asks_for_more and not found.written.proof.optimal:
        known = unproven(known, EQUALS_OPEN)
    return msgspec.structs.replace(draft, written=known, bound=bound)


def _rank(draft: Draft) -> tuple[int, int, int]:
    """What drafts are compared by: missing units, level 2, units as less than none."""
    return draft.unmet, draft.value, -units_in(draft.written)


def _better_in_whole(
    situation: Situation, shelves: dict[str, Shelf], wants: list[Want], draft: Draft, asks_for_more: bool
) -> tuple[Model, Solved | None] | None:
    """The whole program, and its best plan where that is better than the draft; None where it is too large to
    be asked. ``asks_for_more``: as above."""
    whole = build_model(situation, shelves, wants, "untendered")
    counts = {} if draft.unmet else counts_of_better(draft.solved, draft.value + asks_for_more)
    if counts is None:
        return whole, None
    narrowed = within(whole, counts)
    if variables_left(narrowed) > PROVABLE_PROGRAM:
        return None
    # Without tenders the question is easier, and mostly answered: nothing is better.
    units = units_in(draft.written)
    best = better_than(narrowed, draft.unmet, draft.value, units)
    if best is None:
        return whole, None
    whole = build_model(situation, shelves, wants, "whole")
    return whole, better_than(within(whole, counts), draft.unmet, draft.value, units)
