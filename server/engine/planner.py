"""The planner: a pure function from a trip and what happened to the plan.

Three steps, each an integer program (``model.py``, ``levels.py``):

1. Clusters of wants that touch (``clusters.py``) are solved apart, with everything that looks at
   whole transactions decided in the shopper's favour. That gives what to buy, and a bound
   that no plan can beat.
2. What was chosen is put together: how it is spread over transactions, basket coupons,
   slips that pay later, cash, rounding of tax.
3. Where the register's figure does not reach the bound, the whole program is asked for
   anything better. It either has none (the plan is proven) or gives the best.

A trip whose whole program is small goes to step 3 at once. Then the checkout order is made
exact (``checkout.py``), and the register's figures alone are shown.
"""

from __future__ import annotations

import msgspec

from .block import Shelf
from .checkout import choose_orders, orders, settle
from .clusters import clusters
from .history import situation_after
from .levels import Solved, better_than, solve_levels
from .model import Model, build_model, shelves_of, transactions_allowed
from .offers import Trip, Want
from .packing import pack
from .papers import Happened, Plan, Transaction
from .situation import Situation, Spot, house_of, most_welcome
from .ways import Column
from .writing import write_plan

# A trip with up to this many columns, counted once for each transaction, is solved at once. Both
# twins use the same figure.
SMALL_PROGRAM = 120


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
    """The best plan from a situation."""
    wants = [want for want in situation.trip.wants if most_welcome(want)]
    shelves = shelves_of(situation, wants)
    size = sum(
        len(shelf.columns) * transactions_allowed(situation, shelf.counter.store)
        for shelf in shelves.values()
    )
    if size <= SMALL_PROGRAM:
        return _from_whole(situation, shelves, wants, prove)
    groups = [build_model(situation, shelves, group, "apart") for group in _apart(situation, wants)]
    answers = [solve_levels(model) for model in groups]
    if None in answers:
        return plan_situation(_eased(situation), prove)
    together = build_model(situation, shelves, wants, "whole", _bought(groups, answers))
    answer = solve_levels(together)
    if answer is None:  # the cash ceilings stand against what the clusters chose
        return _from_whole(situation, shelves, wants, prove)
    written = _write(situation, together, answer, _bound(groups, answers))
    if written.proof.optimal or not prove:
        return written
    # Without tenders the question is easier, and mostly answered: nothing is better.
    whole = build_model(situation, shelves, wants, "untendered")
    best = better_than(whole, answer)
    if best is not None:
        whole = build_model(situation, shelves, wants, "whole")
        best = better_than(whole, answer)
    if best is not None:
        return _write(situation, whole, best, best.value if whole.whole else None)
    return _write(situation, together, answer, answer.value if whole.whole else None)


def _apart(situation: Situation, wants: list[Want]) -> list[list[Want]]:
    """The groups to solve apart. A price on further stores or transactions is paid once for all
    wants together, so then they stay together."""
    settings = situation.trip.settings
    if settings.further_store_cents or settings.further_transaction_cents:
        return [wants]
    return clusters(situation, wants)


def _from_whole(situation: Situation, shelves: dict[str, Shelf], wants: list[Want], prove: bool) -> Plan:
    whole = build_model(situation, shelves, wants, "whole")
    answer = solve_levels(whole)
    if answer is None:
        return plan_situation(_eased(situation), prove)
    return _write(situation, whole, answer, answer.value if whole.whole else None)


def _eased(situation: Situation) -> Situation:
    """The situation without what nothing can keep to: first the cash ceilings that the trolley
    has passed already, then the trolley's units that a purchase limit forbids.

    The plan's notes say when a ceiling is passed; the register would refuse the rest.
    """
    trip = situation.trip
    stores = tuple(msgspec.structs.replace(store, cash_ceiling_cents=None) for store in trip.stores)
    if trip.wallet.cash_cents is not None or stores != trip.stores:
        wallet = msgspec.structs.replace(trip.wallet, cash_cents=None)
        without = msgspec.structs.replace(trip, stores=stores, wallet=wallet)
        return msgspec.structs.replace(situation, trip=without)
    if situation.trolley:
        return msgspec.structs.replace(situation, trolley={})
    raise RuntimeError("even an empty plan breaks a rule of the program")


def _bought(groups: list[Model], answers: list[Solved | None]) -> dict[tuple[str, str], tuple[Column, int]]:
    """How many of each column the clusters chose, over all their transactions."""
    found: dict[tuple[str, str], tuple[Column, int]] = {}
    for model, answer in zip(groups, answers, strict=True):
        assert answer is not None
        for store, blocks in model.blocks.items():
            for place, column in enumerate(model.shelves[store].columns):
                count = sum(answer.values[block.columns[place]] for block in blocks)
                if count:
                    found[(store, column.key)] = (column, count)
    return found


def _bound(groups: list[Model], answers: list[Solved | None]) -> int | None:
    """The least value that any plan can have, from the clusters' optima; None where one is no bound.

    Each transaction's tax, rounded once per class, may be half a cent less than the exact tax."""
    if not all(model.whole for model in groups):
        return None
    scale = groups[0].scale if groups else 1
    total = sum(answer.value for answer in answers if answer is not None)
    roundings: dict[tuple[str, str], int] = {}
    for model in groups:
        for store, shelf in model.shelves.items():
            tax = shelf.counter.store.tax
            for product in shelf.products.values():
                if tax.basis == "invoice" and tax.rates.get(product.tax_class, 0):
                    spot = (store, product.tax_class)
                    roundings[spot] = shelf.counter.store.rules.transactions_per_visit
    slack = scale * sum(roundings.values()) // 2
    return -((slack - total) // scale)


def _write(situation: Situation, model: Model, answer: Solved, bound: int | None) -> Plan:
    packed = _packed(situation, model, answer)
    by_house = {house: orders(situation, house, each) for house, each in packed.items()}
    chosen = choose_orders(situation, by_house, packed) if by_house else {}
    paid = [
        each for house, order in chosen.items() for each in settle(situation, house, packed[house], order)
    ]
    drive = [store.id for store in situation.trip.stores]
    paid.sort(key=lambda each: drive.index(each.transaction.store.id))
    missing = {
        want: answer.values[variable] for want, variable in model.missing.items() if answer.values[variable]
    }
    return write_plan(situation, paid, missing, bound)


def _packed(situation: Situation, model: Model, answer: Solved) -> dict[str, list[Transaction]]:
    """The transactions that the answer's figures mean, without tenders, per house in the order of
    the drive."""
    found: dict[str, list[Transaction]] = {}
    for store in situation.trip.stores:
        for block in model.blocks.get(store.id, []):
            counts = [
                (column, answer.values[variable])
                for column, variable in zip(model.shelves[store.id].columns, block.columns, strict=True)
                if answer.values[variable]
            ]
            baskets = {coupon: uses.value(answer.values) for coupon, uses in block.basket_uses.items()}
            if counts:
                found.setdefault(house_of(store), []).append(
                    pack(situation.trip, model.shelves[store.id], counts, baskets)
                )
    return found
