"""A draft within the cash ceilings of a large trip, where the best without them costs too much cash.

A price on what the registers ask for makes each cluster look for what asks for less; the higher the price,
the less. Where no price is enough, needs must stay unmet: then each is left where that spares the registers
more than so much for a unit. Of what the clusters chose at the prices around the one at which the cash fits,
the best that fits is put together.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec

from .apart import Answered, Price, bought_in, solve_apart
from .checkout import over_each_ceiling
from .drafting import Draft, draft_of
from .levels import fixed, fixed_weight
from .model import Model
from .objective import dues
from .offers import Want
from .program import Program, Sum, added, one
from .shelves import Shelves
from .situation import Situation
from .solver import minimize
from .writing import proven, unproven

# What the registers may ask for at most, in cents: per store, and under None in all.
Limits = dict[str | None, int]

# Eighths of a cent that a cent asked for costs besides.
_PRICES = (0, 1, 2, 4, 6, 8, 12, 16, 32, 64)
# At the highest: cents that a missing unit must spare the registers.
_SPARED = (None, 3200, 1600, 1200, 800, 600, 400, 300, 200, 100, 50, 1)
_MOST_STEPS = 12
_MORE_UNMET = "Good, but not proven: the cash ceiling leaves needs unmet, and fewer might be possible."


def draft_under_ceilings(
    situation: Situation, free: Draft, parts: Shelves, groups: list[list[Want]]
) -> Draft | None:
    """A draft within the cash ceilings, or None where lowering what may be spent leads to none.

    ``free``: the draft without them; its clusters and bound hold with them too. Each step lowers what the
    registers may ask for by what the plan before was over. Where more needs stay unmet than without the
    ceilings, that bound is none."""
    limits = _lowered({}, free, over_each_ceiling(situation, free.cash))
    if not limits:
        return free
    for _ in range(_MOST_STEPS):
        cheaper = _Cheaper(situation, parts, groups, limits)
        if not cheaper.found():
            return None
        lowered = draft_of(situation, parts, groups, list(cheaper.best()))
        over = {} if lowered is None else over_each_ceiling(situation, lowered.cash)
        if lowered is None:
            # A store's own ceiling may leave no spread at all: then by a tenth.
            limits = {scope: most * 9 // 10 for scope, most in limits.items()}
        elif over:
            limits = _lowered(limits, lowered, over)
        else:
            if lowered.unmet > free.unmet:
                written, bound = unproven(lowered.written, _MORE_UNMET), None
            else:
                written, bound = proven(situation, lowered.written, free.bound, lowered.value), free.bound
            return msgspec.structs.replace(lowered, written=written, bound=bound, solved=free.solved)
    return None


def _lowered(limits: Limits, draft: Draft, over: Limits) -> Limits:
    """The limits, with those that the draft passes by so much lowered."""
    lower = {
        scope: sum(cents for store, cents in draft.due if scope in (None, store)) - cents_over
        for scope, cents_over in over.items()
    }
    return limits | lower


def _dues(model: Model, scope: str | None) -> Sum:
    """What the registers ask for, at a store or in all."""
    return dues(model.blocks, None if scope is None else (scope,))


class _Cheaper:
    """What the clusters choose at some prices, until it is within the limits."""

    def __init__(
        self, situation: Situation, parts: Shelves, groups: list[list[Want]], limits: Limits
    ) -> None:
        self._situation, self._parts, self._groups, self._limits = situation, parts, groups, limits
        self._stores = None if None in limits else tuple(sorted(filter(None, limits)))
        self._asked: list[list[Answered]] = []

    def found(self) -> bool:
        """Whether there is a price at which it is. No need is left unmet for what a price alone can do."""
        prices = [Price(eighths, self._stores) if eighths else None for eighths in _PRICES]
        if self._search(prices, lambda each: dues(each[0].blocks, self._stores).value(each[1].values)):
            return True
        spared = [Price(_PRICES[-1], self._stores, cents) for cents in _SPARED]
        return self._search(spared, lambda each: each[1].unmet)

    def _search(self, prices: Sequence[Price | None], chosen: Callable[[Answered], int]) -> bool:
        """Asks at the first price at which it is within the limits and at the one before, by halves.

        ``chosen``: what the prices are on. A cluster that chooses as much of it at a lower and at a higher
        price would choose the same between, and is not asked."""
        low, high = 0, len(prices) - 1
        first, last = self._ask(prices[low]), self._ask(prices[high])
        if first is None or last is None or not self._fits(last):
            return False
        while high - low > 1:
            middle = (low + high) // 2
            same = {
                place: before
                for place, (before, after) in enumerate(zip(first, last, strict=True))
                if chosen(before) == chosen(after)
            }
            between = self._ask(prices[middle], same)
            assert between is not None  # as at the prices around it
            if self._fits(between):
                high, last = middle, between
            else:
                low, first = middle, between
        return True

    def _ask(self, price: Price | None, same: dict[int, Answered] | None = None) -> list[Answered] | None:
        """What each cluster chooses at a price, as far as it is not known to be the ``same``; None where one
        finds nothing."""
        known = same or {}
        places = [place for place in range(len(self._groups)) if place not in known]
        found = dict(known)
        for place, (model, answer) in zip(
            places, solve_apart(self._situation, self._parts, self._groups, price, places), strict=True
        ):
            if answer is None:
                return None
            found[place] = (model, answer)
        self._asked.append([found[place] for place in range(len(self._groups))])
        return self._asked[-1]

    def _fits(self, answers: list[Answered]) -> bool:
        return all(
            sum(_dues(model, scope).value(answer.values) for model, answer in answers)
            <= answers[0][0].scale * most
            for scope, most in self._limits.items()
        )

    def best(self) -> list[Answered]:
        """The best within the limits of what was chosen at one of the prices."""
        return _best_of([_different(each) for each in zip(*self._asked, strict=True)], self._limits)


def _different(answers: tuple[Answered, ...]) -> list[Answered]:
    """Of a cluster's answers those that buy something else than the ones before."""
    found: list[Answered] = []
    for each in answers:
        bought = bought_in([each])
        if all(bought_in([other]) != bought for other in found):
            found.append(each)
    return found


def _best_of(choices: list[list[Answered]], limits: Limits) -> list[Answered]:
    """One answer of each cluster, so that all are within the limits, and the best by the plan's levels."""
    program, unmet, value, weights = Program([], [], []), Sum({}), Sum({}), Sum({})
    due = {scope: Sum({}) for scope in limits}
    places: list[list[int]] = []
    for cluster, answers in enumerate(choices):
        places.append([program.variable(0, 1) for _ in answers])
        program.require(added(one(each) for each in places[-1]), low=1, high=1)
        for place, (model, answer) in enumerate(answers):
            variable = places[-1][place]
            unmet.add(variable, answer.unmet)
            value.add(variable, answer.value)
            weights.add(variable, fixed_weight(f"{cluster}#{place}"))
            for scope, total in due.items():
                total.add(variable, _dues(model, scope).value(answer.values))
    for scope, most in limits.items():
        program.require(due[scope], high=choices[0][0][0].scale * most)
    values: list[int] = []
    for level in (unmet, value, weights):
        if any(level.terms.values()):
            best = minimize(program, level)
            assert best is not None  # the answers at one of the prices fit
            program, values = fixed(program, level, best.value), best.values
    return [
        answers[next(place for place, variable in enumerate(own) if values[variable])]
        for answers, own in zip(choices, places, strict=True)
    ]
