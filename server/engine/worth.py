"""What the bought units are worth to the household, by the wants that they meet.

A product that several wants accept is shared out among them as the plan means it: every unit to a want that
has room for it, no more needs missing than must be, then the greatest worth. Where each product has one taker
that is a plain sum.

Worked: one jam and one tea bought; want a takes either and needs one, want b takes only jam, worth
0.90: the tea is a's and the jam b's, so the worth is 90, though a would have taken the jam.
"""

from __future__ import annotations

from .checkout import Paid
from .measure import worth_cents
from .offers import Product, Want
from .program import Program, Sum, added, one
from .situation import Situation, most_welcome, product_by_id
from .solver import minimize


def stock_worth(situation: Situation, stops: list[Paid]) -> int:
    """The worth of all units of planned transactions, in whole cents."""
    bought: dict[str, int] = {}
    for each in stops:
        for line in each.transaction.lines:
            bought[line.product] = bought.get(line.product, 0) + line.units
    takers = {product: _takers(situation, product) for product in sorted(bought)}
    goods = product_by_id(situation.trip)
    if all(len(wants) == 1 for wants in takers.values()):
        return sum(
            units * _worth(want, goods[product])
            for product, units in bought.items()
            for want in takers[product]
        )
    return _shared_out(situation, bought, takers, goods)


def _takers(situation: Situation, product: str) -> list[Want]:
    return [want for want in situation.trip.wants if product in want.products]


def _worth(want: Want, product: Product) -> int:
    """One unit's worth to a want; 0 where it has no stock-up price."""
    if want.stock_up is None:
        return 0
    return worth_cents(product, want.stock_up)


def _shared_out(
    situation: Situation, bought: dict[str, int], takers: dict[str, list[Want]], goods: dict[str, Product]
) -> int:
    """The greatest worth of any sharing out that leaves out the fewest units and misses the fewest needs."""
    program = Program([], [], [])
    met: dict[str, Sum] = {}
    shared = Sum({})
    worth = Sum({})
    for product, wants in takers.items():
        given = Sum({})
        for want in wants:
            variable = program.variable(0, min(bought[product], most_welcome(want)))
            given.add(variable, 1)
            met.setdefault(want.id, Sum({})).add(variable, 1)
            worth.add(variable, _worth(want, goods[product]))
        program.require(given, high=bought[product])
        shared = added((shared, given))
    missing = Sum({})
    for want in situation.trip.wants:
        if want.id in met:
            program.require(met[want.id], high=most_welcome(want))
            short = program.variable(0, want.need)
            missing.add(short, 1)
            program.require(added((met[want.id], one(short))), low=want.need)
    # A unit left out would make room for one that is worth more, and still be bought.
    needed = sum(want.need for want in situation.trip.wants)
    goal = missing.plus(shared, -(needed + 1))
    first = minimize(program, goal)
    # Nothing given and every need missing satisfies the rows.
    assert first is not None
    program.require(goal, high=first.value + 0.5)
    best = minimize(program, Sum({}).plus(worth, -1))
    assert best is not None
    return -best.value
