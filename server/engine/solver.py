"""The one door to the solver: HiGHS, to proven optimality, on one thread.

The twin speaks to HiGHS's WebAssembly build. Both must give the same optimum, so callers
make it unique (``levels.py``) before they read the variables.
"""

from __future__ import annotations

import hashlib
import os
from collections import OrderedDict
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from itertools import chain, islice
from threading import Lock, local
from typing import TypeVar

import highspy
import msgspec
import numpy as np

from .program import Program, Sum

Item = TypeVar("Item")
Answer = TypeVar("Answer")

# Objectives are whole numbers: a gap under one is none.
_GAP_BELOW_ONE = 0.9

# Up to so many variables a search begun anew takes a quarter longer; a whole trip's takes half as long.
_SEARCHED_ONCE = 300


class Solution(msgspec.Struct, frozen=True):
    """``values`` per variable (whole numbers), the objective's ``value``, and the ``bound`` that no
    values can go below."""

    values: list[int]
    value: int
    bound: int


class Relaxed(msgspec.Struct, frozen=True):
    """A program without whole numbers: ``values`` per variable, the least ``value`` of the objective, and
    what each variable adds to it per unit away from its bound (above zero at the lower one, below at the
    upper)."""

    values: list[float]
    value: float
    reduced_costs: list[float]


# What was solved lately: a replan after one report asks mostly what was asked before.
_REMEMBERED: OrderedDict[bytes, Solution | None] = OrderedDict()
_MOST_REMEMBERED = 2_000
_REMEMBERING = Lock()

# Programs that do not touch are few and short: more threads would only wait for one another.
_MOST_THREADS = 4


def minimize(program: Program, goal: Sum) -> Solution | None:
    """The least of ``goal``, or None where no values satisfy the rows; remembered by content."""
    question = _question(program, goal)
    with _REMEMBERING:
        if question in _REMEMBERED:
            _REMEMBERED.move_to_end(question)
            return _REMEMBERED[question]
    answer = _solve(program, goal)
    with _REMEMBERING:
        _REMEMBERED[question] = answer
        if len(_REMEMBERED) > _MOST_REMEMBERED:
            _REMEMBERED.popitem(last=False)
    return answer


def side_by_side(work: Callable[[Item], Answer], items: Iterable[Item]) -> list[Answer]:
    """The work on each item, in the items' order, on as many cores as there are: HiGHS leaves Python's own
    lock alone while it solves. The next item is made while the ones before it are worked on.

    The work must not touch what other items' work changes, nor call this in its turn."""
    every = iter(items)
    few = list(islice(every, 2))
    if len(few) < 2:
        return [work(item) for item in few]
    return list(_threads().map(work, chain(few, every)))


@cache
def _threads() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(min(os.cpu_count() or 1, _MOST_THREADS), "solver")


def _question(program: Program, goal: Sum) -> bytes:
    """What is asked, as a short key."""
    return hashlib.blake2b(
        msgspec.msgpack.encode(
            (program.lower, program.upper, [(row.terms, row.low, row.high) for row in program.rows], goal)
        )
    ).digest()


def forget() -> None:
    """Nothing solved before is remembered: for benches, and where memory is short."""
    _REMEMBERED.clear()


def _solve(program: Program, goal: Sum, seconds: float | None = None) -> Solution | None:
    """Asks HiGHS.

    No starting values are handed over: HiGHS 1.16 was seen to call a start optimal that was not.
    ``seconds``: stop then with the best found; ``bound`` tells how far it may be from the least.
    Raises RuntimeError when HiGHS gives no answer at all.
    """
    count = len(program.lower)
    if not count:  # nothing to decide, and HiGHS calls an empty program an error
        return Solution([], goal.constant, goal.constant)
    model = _as_model(program, goal)
    model.lp_.integrality_ = [highspy.HighsVarType.kInteger] * count
    highs = _asked(model, seconds)
    highs.run()
    status = highs.getModelStatus()
    if status in (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible):
        return None
    info = highs.getInfo()
    if info.primal_solution_status != 2:  # no feasible point was reached in time
        raise RuntimeError(f"the solver gave no plan: {highs.modelStatusToString(status)}")
    values = [round(value) for value in highs.getSolution().col_value]
    reached = goal.value(values)
    if status == highspy.HighsModelStatus.kOptimal:
        return Solution(values, reached, reached)
    bound = int(np.ceil(info.mip_dual_bound - 1e-6)) + goal.constant
    return Solution(values, reached, min(bound, reached))


def relax(program: Program, goal: Sum) -> Relaxed | None:
    """The least of ``goal`` over fractions too, or None where HiGHS finds none."""
    if not program.lower:
        return None
    highs = _asked(_as_model(program, goal))
    highs.run()
    if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    value = highs.getInfo().objective_function_value + goal.constant
    solution = highs.getSolution()
    return Relaxed(list(solution.col_value), value, list(solution.col_dual))


def _as_model(program: Program, goal: Sum) -> highspy.HighsModel:
    """The program in the solver's own arrays, row by row."""
    count = len(program.lower)
    costs = np.zeros(count)
    for variable, coefficient in goal.terms.items():
        costs[variable] = coefficient
    starts: list[int] = [0]
    indexes: list[int] = []
    coefficients: list[int] = []
    for row in program.rows:
        indexes.extend(row.terms.keys())
        coefficients.extend(row.terms.values())
        starts.append(len(indexes))
    model = highspy.HighsModel()
    lp = model.lp_
    lp.num_col_ = count
    lp.num_row_ = len(program.rows)
    lp.col_cost_ = costs
    lp.col_lower_ = np.array(program.lower, dtype=float)
    lp.col_upper_ = np.array(program.upper, dtype=float)
    lp.row_lower_ = np.array([row.low for row in program.rows], dtype=float)
    lp.row_upper_ = np.array([row.high for row in program.rows], dtype=float)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.array(starts, dtype=np.int32)
    lp.a_matrix_.index_ = np.array(indexes, dtype=np.int32)
    lp.a_matrix_.value_ = np.array(coefficients, dtype=float)
    return model


class _OfThread(local):
    """A solver for each thread: to make one takes as long as a small question."""

    def __init__(self) -> None:
        self.highs = highspy.Highs()
        self.highs.setOptionValue("output_flag", False)
        self.highs.setOptionValue("threads", 1)
        self.highs.setOptionValue("mip_rel_gap", 0.0)
        self.highs.setOptionValue("mip_abs_gap", _GAP_BELOW_ONE)
        # A search for a first solution that takes a third of the time here and finds none sooner.
        self.highs.setOptionValue("mip_heuristic_run_feasibility_jump", False)


_THREAD = _OfThread()


def _asked(model: highspy.HighsModel, seconds: float | None = None) -> highspy.Highs:
    """The solver with its options and a model; nothing of the question before is left in it."""
    highs = _THREAD.highs
    highs.clearModel()
    highs.setOptionValue("mip_allow_restart", model.lp_.num_col_ > _SEARCHED_ONCE)
    highs.setOptionValue("time_limit", highspy.kHighsInf if seconds is None else seconds)
    highs.passModel(model)
    return highs
