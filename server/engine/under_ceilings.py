"""A draft within the cash ceilings of a large trip, where the best without them costs too much cash.

A price on what the registers ask for makes each cluster look for what asks for less; the higher the price,
the less. Of what the clusters chose at the prices around the one at which the cash fits, the best that fits
is put together. Where no price is enough, needs must stay unmet, and all clusters are asked together which.
"""

from __future__ import annotations

import msgspec

from .apart import Answer, Answered, Price, bought_in, solve_apart
from .checkout import over_each_ceiling
from .drafting import Draft, draft_of
from .levels import fixed, fixed_weight, solve_levels
from .model import Model, build_model
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
    for _ in range(_MOST_STEPS):
        answers = _cheaper_apart(situation, parts, groups, limits)
        if answers is None:
            answers = _cheaper_together(situation, parts, groups, limits)
        lowered = draft_of(situation, parts, groups, answers)
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


def _cheaper_together(
    situation: Situation, parts: Shelves, groups: list[list[Want]], limits: Limits
) -> list[Answer]:
    """All clusters in one program, within the limits."""
    wants = sorted((want for group in groups for want in group), key=lambda want: want.id)
    model = build_model(situation, parts.by_store, wants, "apart")
    for scope, most in limits.items():
        model.program.require(_dues(model, scope), high=model.scale * most)
    return [(model, solve_levels(model))]


def _cheaper_apart(
    situation: Situation, parts: Shelves, groups: list[list[Want]], limits: Limits
) -> list[Answer] | None:
    """What each cluster chose at one of the prices, within the limits together; None where they are beyond
    them at the highest."""
    asked: dict[int, list[Answered]] = {}
    stores = None if None in limits else tuple(sorted(scope for scope in limits if scope is not None))

    def fits(eighths: int) -> bool:
        price = Price(eighths, stores) if eighths else None
        answers = solve_apart(situation, parts, groups, price)
        found = asked[eighths] = [(model, answer) for model, answer in answers if answer is not None]
        return len(found) == len(answers) and all(
            sum(_dues(model, scope).value(answer.values) for model, answer in found)
            <= found[0][0].scale * most
            for scope, most in limits.items()
        )

    if not fits(_PRICES[-1]):
        return None
    too_low, enough = 0, len(_PRICES) - 1
    while enough - too_low > 1:
        middle = (too_low + enough) // 2
        too_low, enough = (too_low, middle) if fits(_PRICES[middle]) else (middle, enough)
    fits(_PRICES[too_low])
    choices = [_different(each) for each in zip(*asked.values(), strict=True)]
    return list(_best_of(choices, limits))


def _different(answers: tuple[Answered, ...]) -> list[Answered]:
    """Of a cluster's answers those that buy something else than the ones before."""
    found: list[Answered] = []
    for each in answers:
        bought = bought_in([each])
        if all(bought_in([other]) != bought for other in found):
            found.append(each)
    return found


def _best_of(choices: list[list[Answered]], limits: Limits) -> list[Answered]:
    """One answer of each cluster, so that all are within the limits and worth the most."""
    program, value, weights = Program([], [], []), Sum({}), Sum({})
    due = {scope: Sum({}) for scope in limits}
    places: list[list[int]] = []
    for cluster, answers in enumerate(choices):
        places.append([program.variable(0, 1) for _ in answers])
        program.require(added(one(each) for each in places[-1]), low=1, high=1)
        for place, (model, answer) in enumerate(answers):
            variable = places[-1][place]
            value.add(variable, answer.value)
            weights.add(variable, fixed_weight(f"{cluster}#{place}"))
            for scope, total in due.items():
                total.add(variable, _dues(model, scope).value(answer.values))
    for scope, most in limits.items():
        program.require(due[scope], high=choices[0][0][0].scale * most)
    best = minimize(program, value)
    assert best is not None  # the answers at one of the prices fit
    best = minimize(fixed(program, value, best.value), weights)
    assert best is not None
    return [
        answers[next(place for place, variable in enumerate(own) if best.values[variable])]
        for answers, own in zip(choices, places, strict=True)
    ]
