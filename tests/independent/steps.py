"""One step of the register, in which papers come one after the other: what each of them finds."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence

from .belt import Unit
from .sums import Sums, Term, Var, total

# What is left of a unit when a paper comes to it.
Finds = Callable[[Unit], Term]


class Step:
    """Papers by number, in handing-over order, each on units of its own.

    Where a unit takes at most one of them, each finds the unit as the step before left it. Where it takes
    more (``together``), a paper finds what those before it have left, and who is before whom is the
    shopper's choice: ``places`` are the papers' numbers in handing-over order. Of two ``plain`` papers
    on a unit either may be first, which changes nothing.
    """

    def __init__(
        self, sums: Sums, on: Sequence[Iterable[Unit]], together: bool, plain: Collection[int] = ()
    ) -> None:
        self.sums, self.together, self._plain = sums, together, plain
        self.places = [sums.number(max(0, len(on) - 1)) for _ in on] if together else []
        self._on: list[dict[int, Unit]] = [{id(unit): unit for unit in units} for units in on]
        self._given: list[dict[int, Term]] = [
            {unit: sums.number() for unit in units} if together else {} for units in self._on
        ]
        self._before: dict[tuple[int, int], Var] = {}
        self._found: dict[tuple[int, int], Term] = {}
        self._gifts: list[tuple[int, Unit, str, Term]] = []

    def before(self, first: int, second: int) -> Var:
        """Whether one paper is handed over before another (of a step where that matters)."""
        if first in self._plain and second in self._plain:
            return self.sums.fact(first < second)
        if (first, second) not in self._before:
            flag, places = self.sums.flag(), self.places
            self.sums.when(places[first] + 1 <= places[second], flag)
            self.sums.when(places[second] + 1 <= places[first], ~flag)
            self._before[first, second] = flag
            self._before[second, first] = ~flag
        return self._before[first, second]

    def finds(self, paper: int) -> Finds:
        """What the paper finds."""
        return lambda unit: self._left(paper, unit)

    def _left(self, paper: int, unit: Unit) -> Term:
        if not self.together:
            return unit.left
        if (paper, id(unit)) not in self._found:
            earlier: list[Term] = [
                self.sums.if_so(self.before(other, paper), given[id(unit)])
                for other, given in enumerate(self._given)
                if other != paper and id(unit) in given
            ]
            self._found[paper, id(unit)] = self.sums.amount(unit.left - total(earlier))
        return self._found[paper, id(unit)]

    def give(self, paper: int, unit: Unit, cents: Term, into: str) -> None:
        """The paper takes ``cents`` off a unit; ``into``: the unit's list of whose money it is."""
        self._gifts.append((paper, unit, into, cents))

    def end(self) -> None:
        """Everything is taken off."""
        off: dict[int, tuple[Unit, list[Term]]] = {}
        for paper, units in enumerate(self._given):
            for unit, given in units.items():
                gifts = [
                    cents for giver, taker, _, cents in self._gifts if giver == paper and id(taker) == unit
                ]
                self.sums.model.add(given == total(gifts))
        for _, unit, into, cents in self._gifts:
            getattr(unit, into).append(cents)
            off.setdefault(id(unit), (unit, []))[1].append(cents)
        for unit, gifts in off.values():
            unit.left = self.sums.amount(unit.left - total(gifts))
