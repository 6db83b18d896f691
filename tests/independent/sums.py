"""Whole-cent arithmetic inside a CP-SAT model: the least of two, quotients, "this if that".

Everything is an integer; a quotient is floored by the solver's own division, so that the
rounding of a percentage or of a tax is the solver's and not an approximation.
"""

from __future__ import annotations

from collections.abc import Sequence

from ortools.sat.python import cp_model, cp_model_helper

# An amount of cents or units, known or not; a yes or no that is also the number 1 or 0.
Term = cp_model.LinearExpr | int
Var = cp_model_helper.Literal


class Sums:
    """A CP-SAT model and the few operations that a receipt is made of. ``most``: no amount is larger."""

    def __init__(self, most: int) -> None:
        self.model = cp_model.CpModel()
        self.most = most
        self._facts = {True: self.model.new_constant(1), False: self.model.new_constant(0)}

    def number(self, top: int | None = None) -> cp_model.IntVar:
        """A new amount from 0 to ``top``."""
        return self.model.new_int_var(0, self.most if top is None else top, "")

    def flag(self) -> Var:
        """A new yes or no."""
        return self.model.new_bool_var("")

    def fact(self, holds: bool) -> Var:
        """A yes or no that is known."""
        return self._facts[holds]

    def when(self, fact: cp_model.BoundedLinearExpression | bool, *flags: Var) -> None:
        """``fact`` holds where all ``flags`` do."""
        self.model.add(fact).only_enforce_if(*flags)  # pyright: ignore[reportUnknownMemberType]

    def amount(self, term: Term) -> Term:
        """``term`` (0 to ``most``) as a variable of its own."""
        if isinstance(term, cp_model.IntVar):
            return term
        made = self.number()
        self.model.add(made == term)
        return made

    def least(self, *terms: Term) -> cp_model.IntVar:
        """The smallest of ``terms``, all at least 0."""
        made = self.number()
        self.model.add_min_equality(made, terms)
        return made

    def above_zero(self, term: Term) -> cp_model.IntVar:
        """``term``, or 0 where it is negative."""
        made = self.number()
        self.model.add_max_equality(made, [term, 0])
        return made

    def quotient(self, number: Term, divisor: Term, top: int | None = None) -> cp_model.IntVar:
        """floor(number / divisor) of a number at least 0."""
        made = self.number(top)
        self.model.add_division_equality(made, number, divisor)
        return made

    def half_up(self, number: Term, parts: int, whole: int) -> Term:
        """number * parts / whole, rounded half up."""
        if isinstance(number, int):
            return (2 * number * parts + whole) // (2 * whole)
        return self.quotient(2 * parts * number + whole, 2 * whole)

    def product(self, first: Term, second: Term, top: int) -> cp_model.IntVar:
        """first * second."""
        made = self.number(top)
        self.model.add_multiplication_equality(made, [first, second])
        return made

    def if_so(self, flag: Var, term: Term) -> Term:
        """``term`` (at least 0) where ``flag`` holds, else 0."""
        if isinstance(term, int):
            return flag * term
        made = self.number()
        self.when(made == term, flag)
        self.when(made == 0, ~flag)
        return made

    def both(self, first: Var, second: Var) -> Var:
        """Whether both hold."""
        made = self.flag()
        self.model.add_implication(made, first)
        self.model.add_implication(made, second)
        self.model.add_bool_or(~first, ~second, made)
        return made

    def reaches(self, term: Term, bound: int) -> Var:
        """Whether ``term`` is at least ``bound``."""
        made = self.flag()
        self.when(term >= bound, made)
        self.when(term < bound, ~made)
        return made


def total(terms: Sequence[Term]) -> Term:
    """The sum of ``terms``; 0 for none."""
    made: Term = cp_model.LinearExpr.sum(list(terms)) if terms else 0  # pyright: ignore[reportUnknownMemberType]
    return made
