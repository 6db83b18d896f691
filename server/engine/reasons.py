"""Why a need cannot be met: what is in the way, in a plain sentence, never "infeasible"."""

from __future__ import annotations

from .money import show
from .offers import Want
from .situation import Situation, counter_at, is_sold, tag_at
from .ways import holds_on


def reason(situation: Situation, want: Want, missing: int) -> str:
    """The first thing in the way of a want that ``missing`` units are short of."""
    trip = situation.trip
    counters = [counter_at(trip, store) for store in trip.stores]
    sold = [
        (counter.store, product)
        for counter in counters
        for product in want.products
        if is_sold(trip, counter, product)
    ]
    if not sold:
        dated = [tag for tag in trip.prices if tag.product in want.products]
        if dated:
            spans = ", ".join(sorted({f"{tag.from_date or '…'} to {tag.until or '…'}" for tag in dated}))
            return f"no price holds on {trip.day} (the tags hold {spans})"
        return "no store of this trip has a price for any product that would do"
    on_shelf = [(store, product) for store, product in sold if (store.id, product) not in situation.empty]
    if not on_shelf:
        return "the shelf is empty wherever it is sold"
    room = sum(_most(situation, store.id, product) for store, product in on_shelf)
    if room < want.need:
        return f"the stores' purchase limits leave {room} of {want.need} units"
    ceilings = [
        f"{show(store.cash_ceiling_cents, trip.currency, trip.exponent)} at {store.name}"
        for store, _ in on_shelf
        if store.cash_ceiling_cents is not None
    ]
    if trip.wallet.cash_cents is not None:
        ceilings.insert(0, f"{show(trip.wallet.cash_cents, trip.currency, trip.exponent)} on the trip")
    if ceilings:
        return "it would take more cash than the ceiling of " + ", ".join(dict.fromkeys(ceilings))
    closed = [
        store.name
        for store, _ in on_shelf
        if situation.transactions_done(store.id) >= store.rules.transactions_per_visit
    ]
    if closed:
        return "no transaction is left at " + ", ".join(dict.fromkeys(closed))
    return "another want or the house rules of the stores leave no way to buy them"


def _most(situation: Situation, store: str, product: str) -> int:
    """How many units the tag's limits still let one have at a store."""
    trip = situation.trip
    place = next(each for each in trip.stores if each.id == store)
    tag = tag_at(trip, place, product)
    checks = sum(
        check.units
        for check in trip.wallet.rain_checks
        if check.store == store and check.product == product and holds_on(trip.day, None, check.until)
    )
    if tag is None:
        return checks
    limits: list[int] = []
    if tag.per_visit is not None:
        limits.append(tag.per_visit - situation.bought(store, product))
    if tag.per_transaction is not None:
        left = place.rules.transactions_per_visit - situation.transactions_done(store)
        limits.append(tag.per_transaction * max(left, 0))
    return max(min(limits), 0) if limits else 10_000
