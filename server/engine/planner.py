"""The planner: a pure function from a trip and what happened to the plan.

Three steps, each an integer program (``model.py``, ``levels.py``):

1. Clusters of wants that touch (``clusters.py``) are solved apart (``apart.py``), with everything
   that looks at whole transactions decided in the shopper's favour. That gives what to buy, and
   a bound that no plan can beat.
2. What was chosen is put together (``placing.py``): how it is spread over transactions, basket
   coupons, slips that pay later, cash (``spreading.py``); then rounding of tax (``rounding.py``).
3. The whole program is asked for anything better, or as good for less cash (``better.py``). It either
   has none (the plan is proven) or gives the best.

A trip whose whole program is small goes to step 3 at once. One whose draft passes a cash ceiling is
drafted anew with less to spend (``under_ceilings.py``). Then the checkout order is made exact
(``checkout.py``), and the register's figures alone are shown.
"""

from __future__ import annotations

from collections import OrderedDict

import msgspec

from . import apart, checkout, parts, placing, solver
from .apart import groups_apart
from .better import best_as_a_whole, may_buy_more, most_questions
from .block import Shelf
from .checkout import over_ceilings
from .drafting import draft_of
from .history import situation_after
from .laid_out import best_by_the_register, equals_open, may_take_less_cash
from .levels import solve_levels
from .model import build_model
from .offers import Trip, Want
from .papers import Happened, Plan
from .shelves import shelves_in_parts, transactions_allowed
from .situation import Situation, Spot, has_ceilings, most_welcome, without_ceilings
from .under_ceilings import draft_under_ceilings

# A trip with up to this many columns, counted once for each transaction, is solved at once. Both
# twins use the same figure.
SMALL_PROGRAM = 120
# Up to this many, where a cash ceiling is passed, the proof asks the whole program at once too.
CEILING_PROGRAM = 300

# Up to this many, where there is no draft, the whole program is asked all the same.
ASKED_AT_ONCE = 600


def plan(trip: Trip, happened: Happened | None = None, prove: bool = True) -> Plan:
    """The best plan for a trip after what happened; pure, the same on every machine.

    ``prove``: whether to take step 3 where it is needed; without it the plan tells its gap.
    Raises nothing for a sound trip: a need that cannot be met is part of the answer.
    """
    if happened is None or not happened.entries:
        return plan_situation(situation_after(trip, Happened()), prove)
    home = home_units(plan(trip, None, prove))
    return plan_situation(situation_after(trip, happened, home), prove)


def home_units(home: Plan) -> dict[Spot, int]:
    """Units per (store, product) of a plan."""
    units: dict[Spot, int] = {}
    for planned in home.transactions:
        for line in planned.transaction.lines:
            spot = (planned.store, line.product)
            units[spot] = units.get(spot, 0) + line.units
    return units


def plan_situation(situation: Situation, prove: bool) -> Plan:
    """The best plan from a situation.

    Where the plan would buy what lies in the trolley anyway, the trolley decides nothing: the
    plan is that of the trip without it. So checking off what was planned asks the solver nothing. Nor
    does the plan that she left home with, where a plan that was made without it buys the same.
    """
    # Beside an empty shelf the trolley is all that can be had, so there it counts.
    held = {spot: units for spot, units in situation.trolley.items() if spot in situation.empty}
    if situation.home is not None:
        written = _PLANS.get(_key(msgspec.structs.replace(situation, trolley=held, home=None), prove))
        if written is not None and _buys_as_at_home(situation, home_units(written)):
            return written
    if held != situation.trolley:
        written = _remembered(msgspec.structs.replace(situation, trolley=held), prove)
        planned = home_units(written)
        if all(planned.get(spot, 0) >= units for spot, units in situation.trolley.items()):
            return written
    return _remembered(situation, prove)


def _buys_as_at_home(situation: Situation, planned: dict[Spot, int]) -> bool:
    """Whether a plan buys what lies in the trolley, and in all what the plan that she left home with did."""
    home = situation.home or {}
    return all(planned.get(spot, 0) >= units for spot, units in situation.trolley.items()) and all(
        planned.get(spot, 0) == home.get(spot, 0) - situation.bought(*spot) for spot in {*home, *planned}
    )


# Plans made lately, by what they were made from.
_PLANS: OrderedDict[bytes, Plan] = OrderedDict()
_MOST_PLANS = 32


def _remembered(situation: Situation, prove: bool) -> Plan:
    """The plan of a situation, looked up or made."""
    key = _key(situation, prove)
    if key not in _PLANS:
        _PLANS[key] = _made(situation, prove)
        if len(_PLANS) > _MOST_PLANS:
            _PLANS.popitem(last=False)
    return _PLANS[key]


def _key(situation: Situation, prove: bool) -> bytes:
    """Everything that a plan is made from, in bytes."""
    home = None if situation.home is None else sorted(situation.home.items())
    everything = (
        situation.trip,
        sorted(situation.trolley.items()),
        sorted(situation.empty),
        situation.done,
        sorted(situation.used.items()),
        sorted(situation.earned.items()),
        sorted(situation.offer_transactions.items()),
        home,
        situation.notes,
        prove,
    )
    return msgspec.msgpack.encode(everything)


def forget() -> None:
    """No plan made before is remembered, nor anything solved: for benches."""
    _PLANS.clear()
    apart.forget()
    parts.forget()
    placing.forget()
    checkout.forget()
    solver.forget()


def _made(situation: Situation, prove: bool) -> Plan:
    """The best plan from a situation, by the three steps."""
    wants = [want for want in situation.trip.wants if most_welcome(want)]
    groups = groups_apart(situation, wants)
    parts = shelves_in_parts(situation, groups)
    shelves = parts.by_store
    size = sum(
        len(shelf.columns) * transactions_allowed(situation, shelf.counter.store)
        for shelf in shelves.values()
    )
    draft = None if size <= SMALL_PROGRAM else draft_of(situation, parts, groups)
    if draft is not None and over_ceilings(situation, draft.cash):
        draft = None
    is_lowered = False
    if (
        draft is None
        and size > (CEILING_PROGRAM if prove else SMALL_PROGRAM)
        and has_ceilings(situation.trip)
    ):
        unbound = msgspec.structs.replace(situation, trip=without_ceilings(situation.trip))
        free = draft_of(unbound, parts, groups)
        draft = None if free is None else draft_under_ceilings(situation, free, parts, groups)
        is_lowered = True
    if draft is None and size > ASKED_AT_ONCE:
        return plan_situation(_eased(situation), prove)
    if draft is None:
        return _from_whole(situation, shelves, wants, prove)
    if not prove:
        asks = may_take_less_cash(situation, draft, shelves) or may_buy_more(draft)
        return equals_open(draft.written) if asks else draft.written
    # A draft that no cent of rounding is missing from spares the whole program most of its search.
    if not draft.written.proof.optimal and not is_lowered:
        exact = draft_of(situation, parts, groups, wholly=True)
        if exact is not None and not over_ceilings(situation, exact.cash) and exact.value < draft.value:
            draft = exact
    return best_as_a_whole(situation, shelves, wants, draft, is_lowered, most_questions(size))


def _from_whole(situation: Situation, shelves: dict[str, Shelf], wants: list[Want], prove: bool) -> Plan:
    whole = build_model(situation, shelves, wants, "whole")
    answer = solve_levels(whole)
    if answer is None:
        return plan_situation(_eased(situation), prove)
    return best_by_the_register(situation, whole, answer, most_questions(0) if prove else 0).written


def _eased(situation: Situation) -> Situation:
    """The situation without what nothing can keep to: first the cash ceilings that the trolley
    has passed already, then the trolley's units that a purchase limit forbids.

    The plan's notes say so."""
    if has_ceilings(situation.trip):
        note = "The cash ceiling cannot be kept: what is in the trolley or chosen costs more."
        trip = without_ceilings(situation.trip)
        return msgspec.structs.replace(situation, trip=trip, notes=(*situation.notes, note))
    if situation.trolley:
        note = "A store's purchase limit forbids some of what is in the trolley or chosen."
        return msgspec.structs.replace(situation, trolley={}, notes=(*situation.notes, note))
    raise RuntimeError("even an empty plan breaks a rule of the program")
