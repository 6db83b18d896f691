"""Replanning in the aisle: what to do about an empty shelf, and what a tag may cost.

Everything here asks the planner again and compares. A swap's figures are those of the whole
trip, replanned as if the shopper had done it; nothing is estimated. ``apart.py`` remembers what it
answered, so that only the wants that a change touches are solved anew.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from .clusters import clusters
from .history import situation_after
from .money import show
from .offers import Trip, Want
from .papers import Chosen, Event, Happened, NeedChanged, Plan, PriceSeen, Report, ShelfEmpty, Swap
from .planner import home_units, plan, plan_situation
from .situation import Situation, counter_at, is_sold, most_welcome, tag_at

Action = Literal["swap", "elsewhere", "leave"]


def happened_of(events: list[Event]) -> Happened:
    """The reports of a log in order, each with its event's id."""
    return Happened(tuple((event.id, event.what) for event in events))


def and_then(happened: Happened, *reports: Report) -> Happened:
    """What happened, and these besides."""
    return Happened((*happened.entries, *(("", report) for report in reports)))


def swaps(trip: Trip, happened: Happened, store: str, product: str) -> list[Swap]:
    """What can be done about an empty shelf, best for the whole trip first.

    Every other acceptable product at the store ("swap") or at another ("elsewhere"), and
    "leave it". Each with the change of the trip's net cost and of its value (net cost less worth of
    what is bought) against the plan with the shelf full, from a real replan. ``reports`` are what
    the shopper's choice adds to the log.
    """
    before = plan(trip, happened, prove=False)
    situation = situation_after(trip, happened)
    empty = ShelfEmpty(store=store, product=product)
    held = situation.trolley.get((store, product), 0)
    planned = home_units(before)
    short = max(planned.get((store, product), 0) - held, 1)
    found: list[tuple[int, int, str, Swap]] = []
    for want in situation.trip.wants:
        if product not in want.products or not most_welcome(want):
            continue
        for rank, (place, other) in enumerate(_others(situation, want, store, product)):
            units = min(short, most_welcome(want))
            # So many besides what the plan has of it anyway.
            chosen = Chosen(store=place, product=other, units=planned.get((place, other), 0) + units)
            after = plan(trip, and_then(happened, empty, chosen), prove=False)
            if home_units(after).get((place, other), 0) < chosen.units or (after.notes and not before.notes):
                continue  # a purchase limit or the cash ceiling stands against it
            action = "swap" if place == store else "elsewhere"
            swap = _swap(before, after, action, units, (empty, chosen), situation.trip)
            found.append((swap.value_change_cents, rank, f"{place} {other}", swap))
        left = NeedChanged(
            want=want.id,
            need=max(want.need - short, 0),
            welcome=max(most_welcome(want) - short, 0),
        )
        after = plan(trip, and_then(happened, empty, left), prove=False)
        swap = _swap(before, after, "leave", 0, (empty, left), situation.trip)
        found.append((swap.value_change_cents, len(want.products), "leave", swap))
    return [swap for _, _, _, swap in sorted(found, key=lambda each: each[:3])]


def _others(situation: Situation, want: Want, store: str, product: str) -> list[tuple[str, str]]:
    """(store, product) of everything else that would do, the same store first, then her order."""
    trip = situation.trip
    spots: list[tuple[str, str]] = []
    for place in sorted(trip.stores, key=lambda each: each.id != store):
        counter = counter_at(trip, place)
        spots.extend(
            (place.id, other)
            for other in want.products
            if (place.id, other) != (store, product)
            and (place.id, other) not in situation.empty
            and is_sold(trip, counter, other)
        )
    return spots


def _swap(
    before: Plan, after: Plan, action: Action, units: int, reports: tuple[Report, ...], trip: Trip
) -> Swap:
    """One thing to do, with what it does to the trip, in words. ``units``: of the swap, besides
    what was planned of it."""
    chosen = next((report for report in reports if isinstance(report, Chosen)), None)
    net = after.totals.net_cents - before.totals.net_cents
    value = net - (after.totals.worth_cents - before.totals.worth_cents)
    if chosen is None:
        what = "Leave it"
    else:
        name = next(each.description for each in trip.products if each.id == chosen.product)
        place = next(each.name for each in trip.stores if each.id == chosen.store)
        at = "" if action == "swap" else f" at {place}"
        what = f"{units} x {name}{at}"
    money = show(abs(net), trip.currency, trip.exponent)
    change = f"the trip costs {money} {'more' if net > 0 else 'less'}" if net else "the trip costs the same"
    return Swap(
        action=action,
        product=None if chosen is None else chosen.product,
        store=None if chosen is None else chosen.store,
        units=units,
        net_change_cents=net,
        value_change_cents=value,
        words=f"{what}: {change}",
        reports=reports,
    )


def break_even(trip: Trip, happened: Happened, store: str, product: str) -> int | None:
    """The highest tag at which buying as many as now is still right (one, where none is planned).

    None where no tag is low enough. Cents; found by halving, with a real replan of the wants that
    touch at each step. Where the want has
    nothing else to fall back on, what must come home is right at any price: then the answer is
    the tag itself or more, up to ten times the tag.
    """
    # Among equals the plan in hand stays, as it will when she reports the tag.
    situation = situation_after(trip, happened, home_units(plan(trip, None, prove=False)))
    near = touching(situation, product)
    place = next(each for each in situation.trip.stores if each.id == store)
    tag = tag_at(near.trip, place, product)
    if tag is None:
        return None
    planned = home_units(plan_situation(near, prove=False)).get((store, product), 0)
    units = max(planned, 1)

    def is_right(cents: int) -> bool:
        seen = PriceSeen(store=store, product=product, cents=cents)
        dearer = msgspec.structs.replace(near, trip=situation_after(near.trip, Happened((("", seen),))).trip)
        return home_units(plan_situation(dearer, prove=False)).get((store, product), 0) >= units

    # From the tag up where the tag is right, else down: a lower tag may miss a basket coupon's
    # threshold, so "right" need not hold all the way down.
    low, high = (tag.cents, max(10 * tag.cents, 100)) if is_right(tag.cents) else (-1, tag.cents - 1)
    while low < high:
        middle = (low + high + 1) // 2
        if is_right(middle):
            low = middle
        else:
            high = middle - 1
    return low if low >= 0 else None


def touching(situation: Situation, product: str) -> Situation:
    """The situation with only the wants that touch the product's: the others do not matter to it.

    Where a drive, a further transaction or a ceiling of cash is shared by all, all of them do."""
    if _shared_by_all(situation.trip):
        return situation
    wants = [want for want in situation.trip.wants if most_welcome(want)]
    near = [group for group in clusters(situation, wants) if any(product in each.products for each in group)]
    kept = tuple(want for group in near for want in group)
    spots = {each for want in kept for each in want.products}
    return msgspec.structs.replace(
        situation,
        trip=msgspec.structs.replace(situation.trip, wants=kept),
        trolley={spot: units for spot, units in situation.trolley.items() if spot[1] in spots},
    )


def _shared_by_all(trip: Trip) -> bool:
    """Whether something on the trip is paid or limited once for all wants together."""
    ceilings = (trip.wallet.cash_cents, *(store.cash_ceiling_cents for store in trip.stores))
    going_on = trip.settings.further_store_cents or trip.settings.further_transaction_cents
    return bool(going_on) or any(ceiling is not None for ceiling in ceilings)
