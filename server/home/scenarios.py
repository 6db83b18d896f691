"""What else could be done with a trip in the making: scenarios to lay beside the plan.

Each is one decision (``draft_changes.py``) that she may take, and is judged by planning the whole trip again
with it. Of a deal: not here, without a coupon that it uses, one fewer, one more, without a reward. Of the
trip: a store less or more, fewer or more transactions, no cash ceiling.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

import msgspec

from ..engine.offers import Trip
from ..engine.papers import Deal, Plan
from .draft_changes import (
    Ceiling,
    Change,
    Forbid,
    GoTo,
    Pin,
    SetNeed,
    StayAway,
    Transactions,
    decided,
)
from .household import Forbidden, TripDraft
from .trip_building import HouseholdRecords

MOST_TRANSACTIONS = 6  # as ``offers.HouseRules``
MOST_OTHER_STORES = 5  # that are offered for a trip, so that a household with many reads on


class Scenario(msgspec.Struct, frozen=True, kw_only=True):
    """``key``: its name on a page. ``words``: the condition. ``draft``: with the decision taken."""

    key: str
    words: str
    change: Change
    draft: TripDraft


def scenarios_of_deal(draft: TripDraft, trip: Trip, plan: Plan, deal: Deal) -> list[Scenario]:
    """The other ways with one deal; the first is to do without it there."""
    return [_scenario(draft, *each) for each in _of_deal(trip, plan, deal)]


def scenarios_of_trip(records: HouseholdRecords, draft: TripDraft, trip: Trip, plan: Plan) -> list[Scenario]:
    """The other ways with the stores, the transactions and the cash."""
    return [_scenario(draft, *each) for each in _of_trip(records, draft, trip, plan)]


def not_here(draft: TripDraft, deal: Deal) -> Scenario:
    """The trip without a deal: its product is not bought at its store."""
    thing = Forbidden(what="product", id=deal.product, store=deal.store)
    return _scenario(draft, f"not-here.{deal.store}.{deal.product}", "Not here", Forbid(thing=thing))


def _scenario(draft: TripDraft, key: str, words: str, change: Change) -> Scenario:
    return Scenario(key=key, words=words, change=change, draft=decided(draft, change))


def _of_deal(trip: Trip, plan: Plan, deal: Deal) -> Iterator[tuple[str, str, Change]]:
    thing = Forbidden(what="product", id=deal.product, store=deal.store)
    yield f"not-here.{deal.store}.{deal.product}", "Not here", Forbid(thing=thing)
    described = {coupon.id: coupon.description for coupon in trip.coupons}
    for coupon in coupons_on(plan, deal.store, deal.product):
        words = f"Without the coupon “{described.get(coupon) or coupon}”"
        yield f"coupon.{coupon}", words, Forbid(thing=Forbidden(what="coupon", id=coupon))
    want = next((each for each in trip.wants if each.id == deal.want), None)
    if want is not None and deal.units > 1:
        bought = sum(each.units for each in plan.deals if each.product in want.products)
        fewer = SetNeed(staple=want.id, need=min(want.need, bought - 1), welcome=bought - 1)
        yield "one-fewer", f"{bought - 1} instead of {bought} of {want.name or want.id}", fewer
    yield (
        "one-more",
        f"{deal.units + 1} instead of {deal.units} here",
        Pin(store=deal.store, product=deal.product, units=deal.units + 1),
    )
    earning = {
        earned.offer
        for each in plan.transactions
        if each.store == deal.store
        for earned in each.receipt.earned
    }
    for reward in trip.rewards:
        if reward.id in earning and (not reward.products or deal.product in reward.products):
            words = f"Without the reward “{reward.description}”"
            yield f"reward.{reward.id}", words, Forbid(thing=Forbidden(what="reward", id=reward.id))


def _of_trip(
    records: HouseholdRecords, draft: TripDraft, trip: Trip, plan: Plan
) -> Iterator[tuple[str, str, Change]]:
    visits = Counter(each.store for each in plan.transactions)
    if len(trip.stores) > 1:
        for store in trip.stores:
            if store.id in visits:
                yield f"stay-away.{store.id}", f"Without going to {store.name}", StayAway(store=store.id)
    for store in _other_stores(records, draft, trip):
        yield f"go-to.{store}", f"Going to {records.stores[store].name} too", GoTo(store=store)
    for store in trip.stores:
        count = visits[store.id]
        for fewer in range(count - 1, 0, -1):
            words = f"In {_transactions(fewer)} at {store.name} instead of {count}"
            yield f"transactions.{store.id}.{fewer}", words, Transactions(store=store.id, most=fewer)
        if count == store.rules.transactions_per_visit < MOST_TRANSACTIONS:
            words = f"In {_transactions(count + 1)} at {store.name}, if it lets you"
            yield f"transactions.{store.id}.{count + 1}", words, Transactions(store=store.id, most=count + 1)
    if draft.cash_cents is not None:
        yield "no-ceiling", "Without the cash ceiling", Ceiling(cents=None)


def _other_stores(records: HouseholdRecords, draft: TripDraft, trip: Trip) -> Iterable[str]:
    """Stores that she does not go to and that have a tag for something wanted, those with most in front."""
    wanted = {product for want in trip.wants for product in want.products}
    tags = Counter(
        tag.store
        for tag in records.prices.values()
        if tag.product in wanted
        and tag.store not in draft.stores
        and (tag.until is None or tag.until >= draft.day)
        and (tag.from_date is None or tag.from_date <= draft.day)
    )
    return [store for store, _ in sorted(tags.items(), key=lambda each: (-each[1], each[0]))][
        :MOST_OTHER_STORES
    ]


def coupons_on(plan: Plan, store: str, product: str) -> list[str]:
    """The coupons that the plan uses on a product at a store, each once."""
    found: dict[str, None] = {}
    for each in plan.transactions:
        for index, unit in enumerate(each.receipt.units):
            if each.store == store and unit.product == product:
                found.update((use.coupon, None) for use in each.transaction.uses if index in use.units)
    return list(found)


def _transactions(count: int) -> str:
    return f"{count} transaction{'' if count == 1 else 's'}"
