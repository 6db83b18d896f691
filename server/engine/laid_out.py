"""Answers of the whole program at the register: its figures decide, and not the program's.

In a few places the program flatters a plan by some cents (``building.py``), so it is asked again until
nothing that is left can be better; and a plan that the clusters made is asked for less cash or fewer
transactions.
"""

from __future__ import annotations

import msgspec

from .block import Shelf
from .checkout import Paid, over_ceilings
from .drafting import Draft, in_checkout_order, missing_in, paid_in
from .filling import fillings
from .levels import Solved, less_cash, solve_levels, without
from .model import Model, build_model
from .offers import Want
from .papers import Plan
from .reordering import cheapest_order
from .situation import Situation
from .writing import plan_value, write_plan


def best_by_the_register(situation: Situation, model: Model, answer: Solved, questions: int) -> Draft:
    """The best plan by the register's figures, from the program's best ``answer`` on.

    In a few places the program flatters a plan by some cents (``building.py``). Where the register's
    figure falls short of the optimum in any order on the belt, that answer is forbidden and the program
    asked again, until nothing that is left can be better. An answer forbidden before every order was
    tried still counts for the bound."""
    paid, sure = _laid_out(situation, model, answer)
    floors = [] if sure else [answer.value]
    best = (_over(situation, paid), plan_value(situation, paid), -model.units.value(answer.values))
    kept, missing, fewest = paid, missing_in(model, answer), answer.unmet
    bound = answer.value
    for _ in range(questions):
        if best[0] == 0 and best[1] <= bound:
            break
        model = without(model, answer)
        further = solve_levels(model)
        if further is None or further.unmet > fewest:
            bound = best[1]
            break
        answer, bound = further, min(further.value, best[1])
        units = -model.units.value(answer.values)
        if best[0] == 0 and (answer.value, units) >= best[1:]:
            break
        paid, sure = _laid_out(situation, model, answer)
        floors.extend([] if sure else [answer.value])
        found = (_over(situation, paid), plan_value(situation, paid), units)
        if found < best:
            best, kept, missing = found, paid, missing_in(model, answer)
    least = certain(model, min([bound, *floors]))
    return Draft(write_plan(situation, kept, missing, least), fewest, best[1], least)


def _laid_out(situation: Situation, model: Model, answer: Solved) -> tuple[list[Paid], bool]:
    """An answer at the register, and whether no other order on the belt is cheaper."""
    paid = paid_in(situation, fillings(model, answer))
    if plan_value(situation, paid) <= answer.value:
        return paid, True
    tried = [cheapest_order(each.transaction) for each in paid]
    other = in_checkout_order(
        situation, [msgspec.structs.replace(each, tenders=(), earned_before={}) for each, _ in tried]
    )
    sure = all(every for _, every in tried)
    return (other if plan_value(situation, other) < plan_value(situation, paid) else paid), sure


def _over(situation: Situation, paid: list[Paid]) -> int:
    """By how many cents the plan passes the cash ceilings."""
    return over_ceilings(situation, [(each.receipt.store, each.receipt.out_of_pocket_cents) for each in paid])


def certain(model: Model, value: int) -> int | None:
    """A model's optimum as a bound; None where ways were left out of it."""
    return value if model.whole else None


def may_take_less_cash(situation: Situation, draft: Draft, shelves: dict[str, Shelf]) -> bool:
    """Whether a plan puts down cash while a slip or a gift card is in hand or may be earned, or pays more
    than once at a store."""
    wallet = situation.trip.wallet
    earned = {reward.kind for shelf in shelves.values() for reward in shelf.rewards}
    pays_otherwise = wallet.slips or wallet.gift_cards or earned - {"points"}
    several = len(draft.cash) > len({store for store, _ in draft.cash})
    return several or (bool(pays_otherwise) and any(cents for _, cents in draft.cash))


def with_least_cash(situation: Situation, draft: Draft, shelves: dict[str, Shelf], wants: list[Want]) -> Plan:
    """The draft's plan, or one as good for less cash, or for as much in fewer transactions."""
    cash = sum(cents for _, cents in draft.cash)
    units = sum(line.units for each in draft.written.transactions for line in each.transaction.lines)
    whole = build_model(situation, shelves, wants, "whole")
    answer = less_cash(whole, draft.unmet, draft.value, units, cash, len(draft.cash))
    if answer is None:
        return draft.written
    paid, _ = _laid_out(situation, whole, answer)
    down = sum(each.receipt.out_of_pocket_cents for each in paid)
    less = (down, len(paid)) < (cash, len(draft.cash))
    if not less or _over(situation, paid) or plan_value(situation, paid) > draft.value:
        return draft.written
    return write_plan(situation, paid, missing_in(whole, answer), draft.bound)
