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
from .model import Model
from .papers import Plan, Proof
from .reordering import cheapest_order
from .situation import Situation
from .writing import plan_value, write_plan

_EQUALS_OPEN = (
    "Nothing is better in net cost: proven. Whether the same would buy more, or take less cash or fewer "
    "transactions, is not known."
)

# How often the program is asked for less cash, where the register does not bear it out.
_LESS_CASH_QUESTIONS = 6

# What plans are compared by: cents over the cash ceilings, missing units, level 2, units as less than none,
# cash, transactions.
_Levels = tuple[int, int, int, int, int, int]


def best_by_the_register(situation: Situation, model: Model, answer: Solved, questions: int) -> Draft:
    """The best plan by the register's figures, from the program's best ``answer`` on.

    In a few places the program flatters a plan by some cents (``building.py``). Where the register's
    figures fall short of the optimum in any order on the belt, that answer is forbidden and the program
    asked again, until nothing that is left can be better, or as good for less cash or in fewer
    transactions. An answer forbidden before every order was tried still counts for the bound. Where all that
    meet as many needs pass a cash ceiling at the register, more stay unmet."""
    paid, sure = _laid_out(situation, model, answer)
    floors = [] if sure else [answer.value]
    best = _at_the_register(situation, model, answer, paid)
    kept, missing = paid, missing_in(model, answer)
    bound, promised = answer.value, _by_the_program(model, answer)
    for _ in range(questions):
        if best <= promised:
            break
        model = without(model, answer)
        further = solve_levels(model)
        over, unmet, value, *_ = best
        if further is None or (further.unmet > unmet and not over):
            bound, promised = value, best
            break
        floors, bound = (floors, min(further.value, value)) if further.unmet == unmet else ([], further.value)
        answer, promised = further, _by_the_program(model, further)
        if best <= promised:
            break
        paid, sure = _laid_out(situation, model, answer)
        floors.extend([] if sure else [answer.value])
        found = _at_the_register(situation, model, answer, paid)
        if found < best:
            best, kept, missing = found, paid, missing_in(model, answer)
    least = certain(model, min([bound, *floors]))
    written = write_plan(situation, kept, missing, least)
    if best > promised:
        written = equals_open(written)
    return Draft(written, best[1], best[2], least)


def _by_the_program(model: Model, answer: Solved) -> _Levels:
    """An answer as the program reckons it, which is never more than the register does."""
    values = answer.values
    transactions = model.transactions.value(values)
    return 0, answer.unmet, answer.value, -model.units.value(values), answer.cash, transactions


def _at_the_register(situation: Situation, model: Model, answer: Solved, paid: list[Paid]) -> _Levels:
    """The same as the register reckons it."""
    cash = sum(each.receipt.out_of_pocket_cents for each in paid)
    units = model.units.value(answer.values)
    return _over(situation, paid), answer.unmet, plan_value(situation, paid), -units, cash, len(paid)


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


def units_in(plan: Plan) -> int:
    """How many units a plan buys."""
    return sum(line.units for each in plan.transactions for line in each.transaction.lines)


def may_take_less_cash(situation: Situation, draft: Draft, shelves: dict[str, Shelf]) -> bool:
    """Whether a plan puts down cash while a slip or a gift card is in hand or may be earned, or pays more
    than once at a store."""
    wallet = situation.trip.wallet
    earned = {reward.kind for shelf in shelves.values() for reward in shelf.rewards}
    pays_otherwise = wallet.slips or wallet.gift_cards or earned - {"points"}
    several = len(draft.cash) > len({store for store, _ in draft.cash})
    return several or (bool(pays_otherwise) and any(cents for _, cents in draft.cash))


def equals_open(written: Plan) -> Plan:
    """A plan of which it is not known whether another one that is worth as much takes less."""
    proof = Proof(optimal=False, net_optimal=True, words=_EQUALS_OPEN)
    return msgspec.structs.replace(written, proof=proof) if written.proof.optimal else written


def with_least_cash(situation: Situation, draft: Draft, whole: Model) -> Plan:
    """The draft's plan, or the one as good for the least cash, or for as much in fewest transactions.

    ``whole``: the whole program. Where the register does not bear an answer out, it is forbidden and the
    program asked again."""
    least, written = (sum(cents for _, cents in draft.cash), len(draft.cash)), draft.written
    units = units_in(written)
    for _ in range(_LESS_CASH_QUESTIONS):
        answer = less_cash(whole, draft.unmet, draft.value, units, *least)
        if answer is None:
            return written
        paid, _ = _laid_out(situation, whole, answer)
        found = (sum(each.receipt.out_of_pocket_cents for each in paid), len(paid))
        if found < least and not _over(situation, paid) and plan_value(situation, paid) <= draft.value:
            least, written = found, write_plan(situation, paid, missing_in(whole, answer), draft.bound)
        if least <= (answer.cash, whole.transactions.value(answer.values)):
            return written
        whole = without(whole, answer)
    return equals_open(written)
