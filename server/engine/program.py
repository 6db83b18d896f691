"""An integer program as plain data: variables, rows, and objectives as sums of terms.

Nothing here knows shops or solvers. All coefficients are whole numbers, so every level's
optimum is one too. A *sum* maps a variable's index to its coefficient; the constant stands
beside it.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

INFINITE = float("inf")


class Sum(msgspec.Struct):
    """coefficient x variable, added up, plus a constant."""

    terms: dict[int, int] = {}
    constant: int = 0

    def add(self, variable: int, coefficient: int) -> None:
        """Adds ``coefficient x variable``."""
        self.terms[variable] = self.terms.get(variable, 0) + coefficient

    def plus(self, other: Sum, factor: int = 1) -> Sum:
        """This sum plus ``factor`` times another, as a new one."""
        total = Sum(dict(self.terms), self.constant + factor * other.constant)
        for variable, coefficient in other.terms.items():
            total.add(variable, factor * coefficient)
        return total

    def value(self, values: list[int]) -> int:
        """What the sum comes to."""
        return self.constant + sum(each * values[variable] for variable, each in self.terms.items())


class Row(msgspec.Struct, frozen=True):
    """``low <= terms <= high``."""

    terms: dict[int, int]
    low: float
    high: float


class Program(msgspec.Struct):
    """Variables with bounds (all of them whole numbers) and rows."""

    lower: list[int] = []
    upper: list[float] = []
    rows: list[Row] = []

    def variable(self, low: int, high: float) -> int:
        """A new whole-number variable; the answer is its index."""
        self.lower.append(low)
        self.upper.append(high)
        return len(self.lower) - 1

    def require(self, total: Sum, low: float = -INFINITE, high: float = INFINITE) -> None:
        """``low <= total <= high``, the total's constant counted in."""
        self.rows.append(Row(dict(total.terms), low - total.constant, high - total.constant))


def one(variable: int, coefficient: int = 1) -> Sum:
    """A sum of one term."""
    return Sum({variable: coefficient})


def added(sums: Iterable[Sum]) -> Sum:
    """The sum of sums."""
    total = Sum({}, 0)
    for each in sums:
        total.constant += each.constant
        for variable, coefficient in each.terms.items():
            total.add(variable, coefficient)
    return total
