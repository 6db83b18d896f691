"""Why a need cannot be met: what is in the way, in a plain sentence, never "infeasible".

Coupons are never in the way: what is needed comes home without them too. What remains are tags,
shelves, transactions, purchase limits and cash. A cash ceiling is blamed only where the need could
be met without it.

Worked: soap is limited to 2, needed are 3, and 20.00 in cash would do for 5: the limit is
in the way ("the stores' purchase limits leave 2 of 3 units"), whatever the ceiling is.
"""

from __future__ import annotations

from .money import show
from .offers import Store, Want
from .program import Program, Sum, one
from .shelf import holds_on
from .shelves import transactions_allowed
from .situation import Situation, counter_at, house_of, is_sold, tag_at
from .solver import minimize

_NO_LIMIT = 10_000


def reason(situation: Situation, want: Want, missing: dict[str, int]) -> str:
    """What is in the way of a want. ``missing``: units per want that has any in the plan."""
    trip = situation.trip
    sold = _sold(situation, want)
    if not sold:
        dated = [tag for tag in trip.prices if tag.product in want.products]
        if dated:
            spans = ", ".join(sorted({f"{tag.from_date or '…'} to {tag.until or '…'}" for tag in dated}))
            return f"no price holds on {trip.day} (the tags hold {spans})"
        return "no store of this trip has a price for any product that would do"
    empty = [store for store, product in sold if (store.id, product) in situation.empty]
    if len(empty) == len(sold):
        return "the shelf is empty wherever it is sold"
    on_shelf = [store for store, product in sold if (store.id, product) not in situation.empty]
    closed = [store for store in on_shelf if not transactions_allowed(situation, store)]
    besides = [
        *([f"no transaction is left at {_names(closed)}"] if closed else []),
        *([f"the shelf is empty at {_names(empty)}"] if empty else []),
    ]
    if len(closed) == len(on_shelf):
        return "; ".join(besides)
    alone = _fewest_missing(situation, [want], want, missing)
    if alone:
        limits = f"the stores' purchase limits leave {want.need - alone} of {want.need} units"
        return "; ".join([limits, *besides])
    needed = [each for each in trip.wants if each.need]
    if _fewest_missing(situation, needed, want, missing) >= missing[want.id]:
        others = [
            each.name or each.id
            for each in needed
            if each.id != want.id and set(each.products) & set(want.products)
        ]
        return "; ".join(
            [f"the stores' purchase limits leave too few for it beside {', '.join(others)}", *besides]
        )
    ceilings = _ceilings(situation, on_shelf)
    if ceilings:
        return "it would take more cash than the ceiling of " + ", ".join(ceilings)
    return "another want or the house rules of the stores leave no way to buy them"


def _sold(situation: Situation, want: Want) -> list[tuple[Store, str]]:
    """Where a product that would do has a price today."""
    trip = situation.trip
    return [
        (store, product)
        for store in trip.stores
        for product in want.products
        if is_sold(trip, counter_at(trip, store), product)
    ]


def _names(stores: list[Store]) -> str:
    return ", ".join(dict.fromkeys(store.name for store in stores))


def _fewest_missing(situation: Situation, wants: list[Want], want: Want, missing_now: dict[str, int]) -> int:
    """How many units of a want must stay missing among ``wants`` if cash were no matter and no
    other want went without more than in the plan (``missing_now``)."""
    program = Program([], [], [])
    spots: dict[tuple[str, str], Sum] = {}
    families: dict[tuple[str, str], tuple[int, Sum]] = {}
    missing: dict[str, int] = {}
    for each in wants:
        got = Sum({})
        for store, product in _sold(situation, each):
            units = program.variable(0, each.need)
            got.add(units, 1)
            spots.setdefault((store.id, product), Sum({})).add(units, 1)
            # A store and its channels share the limit of a visit.
            family = (house_of(store), product)
            most, of_visit = families.get(family, (_NO_LIMIT, Sum({})))
            of_visit.add(units, 1)
            families[family] = (min(most, _most_of_visit(situation, store, product)), of_visit)
        most_missing = each.need if each.id == want.id else missing_now.get(each.id, 0)
        missing[each.id] = program.variable(0, most_missing)
        program.require(got.plus(one(missing[each.id])), low=each.need)
    for (name, product), units in spots.items():
        store = next(each for each in situation.trip.stores if each.id == name)
        program.require(units, high=_most(situation, store, product))
    for (house, product), (most, units) in families.items():
        own = [store for store in situation.trip.stores if house_of(store) == house]
        checks = sum(_on_rain_checks(situation, store, product) for store in own)
        program.require(units, high=most + checks)
    fewest = minimize(program, one(missing[want.id]))
    # What the plan buys satisfies the rows.
    assert fewest is not None
    return fewest.values[missing[want.id]]


def _most(situation: Situation, store: Store, product: str) -> int:
    """How many units the shelf, the transactions left and the tag still let one have at a store."""
    left = transactions_allowed(situation, store)
    if (store.id, product) in situation.empty:
        return situation.trolley.get((store.id, product), 0) if left else 0
    tag = tag_at(situation.trip, store, product)
    checks = _on_rain_checks(situation, store, product)
    if not left or tag is None:
        return checks if left else 0
    return _NO_LIMIT if tag.per_transaction is None else tag.per_transaction * left + checks


def _most_of_visit(situation: Situation, store: Store, product: str) -> int:
    """How many units the tag's limit of a visit still lets one have, apart from rain checks."""
    tag = tag_at(situation.trip, store, product)
    if tag is None or tag.per_visit is None:
        return _NO_LIMIT
    return max(tag.per_visit - situation.bought(store.id, product), 0)


def _on_rain_checks(situation: Situation, store: Store, product: str) -> int:
    trip = situation.trip
    return sum(
        check.units
        for check in trip.wallet.rain_checks
        if check.store == store.id and check.product == product and holds_on(trip.day, None, check.until)
    )


def _ceilings(situation: Situation, stores: list[Store]) -> list[str]:
    """The cash ceilings that can be in the way at these stores. One that leaves as much as the
    trip's is not."""
    trip = situation.trip
    found: list[str] = []
    of_trip = trip.wallet.cash_cents
    if of_trip is not None:
        found.append(f"{show(of_trip, trip.currency, trip.exponent)} on the trip")
    for store in stores:
        if store.cash_ceiling_cents is None:
            continue
        left = store.cash_ceiling_cents - situation.cash_spent(store.id)
        if of_trip is None or left < of_trip - situation.cash_spent():
            found.append(f"{show(store.cash_ceiling_cents, trip.currency, trip.exponent)} at {store.name}")
    return list(dict.fromkeys(found))
