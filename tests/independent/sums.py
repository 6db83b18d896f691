"""Whole-cent arithmetic inside a CP-SAT model: the least of two, quotients, "this if that".

Everything is an integer; a quotient is floored by the solver's own division, so that the
rounding of a percentage or of a tax is the solver's and not an approximation.
"""

from __future__ import annotations

from ortools.sat.python import cp_model

Term = cp_model.LinearExprT
Var = cp_model.IntVar


class Sums:
    """A CP-SAT model and the few operations that a receipt is made of. ``most``: no amount is larger."""

    def __init__(self, most: int) -> None:
        self.model = cp_model.CpModel()
        self.most = most
        self.always = self.model.new_constant(1)

    def number(self, top: int | None = None) -> Var:
        """A new amount from 0 to ``top``."""
        return self.model.new_int_var(0, self.most if top is None else top, "")

    def flag(self) -> Var:
        """A new yes or no."""
        return self.model.new_bool_var("")

    def amount(self, term: Term) -> Var:
        """``term`` (0 to ``most``) as a variable of its own."""
        if isinstance(term, cp_model.IntVar):
            return term
        made = self.number()
        self.model.add(made == term)
        return made

    def least(self, *terms: Term) -> Var:
        """The smallest of ``terms``, all at least 0."""
        made = self.number()
        self.model.add_min_equality(made, terms)
        return made

    def above_zero(self, term: Term) -> Var:
        """``term``, or 0 where it is negative."""
        made = self.number()
        self.model.add_max_equality(made, [term, 0])
        return made

    def quotient(self, number: Term, divisor: Term, top: int | None = None) -> Var:
        """floor(number / divisor) of a number at least 0."""
        made = self.number(top)
        self.model.add_division_equality(made, number, divisor)
        return made

    def half_up(self, number: Term, parts: int, whole: int) -> Term:
        """number * parts / whole, rounded half up."""
        if isinstance(number, int):
            return (2 * number * parts + whole) // (2 * whole)
        return self.quotient(2 * parts * number + whole, 2 * whole)

    def product(self, first: Term, second: Term, top: int) -> Var:
        """first * second."""
        made = self.number(top)
        self.model.add_multiplication_equality(made, [first, second])
        return made

    def if_so(self, flag: Var, term: Term) -> Term:
        """``term`` (at least 0) where ``flag`` holds, else 0."""
        if isinstance(term, int):
            return flag * term
        made = self.number()
        self.model.add(made == term).only_enforce_if(flag)
        self.model.add(made == 0).only_enforce_if(~flag)
        return made

    def both(self, first: Var, second: Var) -> Var:
        """Whether both hold."""
        made = self.flag()
        self.model.add_bool_and(first, second).only_enforce_if(made)
        self.model.add_bool_or(~first, ~second).only_enforce_if(~made)
        return made

    def reaches(self, term: Term, bound: int) -> Var:
        """Whether ``term`` is at least ``bound``."""
        made = self.flag()
        self.model.add(term >= bound).only_enforce_if(made)
        self.model.add(term < bound).only_enforce_if(~made)
        return made


def total(terms: list[Term]) -> Term:
    """The sum of ``terms``; 0 for none."""
    return cp_model.LinearExpr.sum(terms) if terms else 0
