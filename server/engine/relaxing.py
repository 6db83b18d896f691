"""What a program without whole numbers says of the one with them: which variables are far from the best.

A program is asked in whole numbers only for the rest, to the same answer.
"""

from __future__ import annotations

from math import ceil

from .program import Program, Sum
from .solver import Relaxed, Solution, minimize, relax

# A reduced cost that is none, a fraction that is none: the solver's own tolerance is 1e-7.
_NO_COST = 1e-6
_NO_FRACTION = 1e-6

# The share of reduced costs that the best is guessed not to be farther than from the best in fractions: among
# those of a third, more of the guesses fail; of half, more is left to ask.
_NEAR = 0.35


def least_of(program: Program, goal: Sum, fewest: int = 0) -> tuple[Program, Solution] | None:
    """The least of ``goal``, with the program in bounds that no solution as good passes; None where no values
    satisfy the rows. With fewer than ``fewest`` variables it is asked at once.

    It is looked for without what is far from the best, first by a guess at how far the best is from the best
    in fractions. An answer within the guess is the best of all; one beyond it says what may be left out.
    """
    relaxed = None if len(program.lower) < fewest else relax(program, goal)
    if relaxed is None:
        best = minimize(program, goal)
        return None if best is None else (program, best)
    best = _rounded_up(program, goal, relaxed)
    if best is None:
        guess = relaxed.value + _near_cost(relaxed)
        best = minimize(tightened(program, relaxed, guess), goal)
        if best is None:
            best = minimize(program, goal)
        elif best.value > guess:
            best = minimize(tightened(program, relaxed, best.value), goal)
    return None if best is None else (tightened(program, relaxed, best.value), best)


def _near_cost(relaxed: Relaxed) -> float:
    """The reduced cost that so much of them lies below."""
    costs = sorted(abs(cost) for cost in relaxed.reduced_costs if abs(cost) > _NO_COST)
    return costs[int(len(costs) * _NEAR)] if costs else 0.0


def _rounded_up(program: Program, goal: Sum, relaxed: Relaxed) -> Solution | None:
    """The best in whole numbers, where it is the best in fractions rounded up: that satisfies the rows and
    costs no more. So it is in most clusters: the fractions are of transactions, and those cost nothing."""
    values = [ceil(value - _NO_FRACTION) for value in relaxed.values]
    value = goal.value(values)
    # Every whole solution's value is a whole number.
    if value > relaxed.value + 0.5:
        return None
    if any(each > most for each, most in zip(values, program.upper, strict=True)):
        return None
    for row in program.rows:
        if not row.low <= sum(each * values[variable] for variable, each in row.terms.items()) <= row.high:
            return None
    return Solution(values, value, value)


def tightened(program: Program, relaxed: Relaxed, value: float) -> Program:
    """The program with bounds that no solution passes whose goal is at most ``value``. ``relaxed``: the
    program's and the goal's.

    A variable's reduced cost in the program without whole numbers says what each unit away from its bound
    costs at least; what comes to more than the value, by a whole unit and a half, is left out.
    """
    held = Program(list(program.lower), list(program.upper), program.rows)
    room = value - relaxed.value + 1.5
    for variable, cost in enumerate(relaxed.reduced_costs):
        if abs(cost) <= _NO_COST:
            continue
        most = int(room // abs(cost))
        if cost > 0:
            held.upper[variable] = min(held.upper[variable], held.lower[variable] + most)
        elif held.upper[variable] - most > held.lower[variable]:
            held.lower[variable] = int(held.upper[variable]) - most
    return held
