"""Alternatives side by side, and a price table: what a planner works out before she decides.

"Without the insert", "one instead of two", "one more", "without the reward", "in one transaction",
"without the second store": each is the whole trip planned again under that condition.
Nothing is estimated. Common practice of the trade, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from .history import situation_after
from .money import show
from .offers import Coupon, ShelfPrice, Store, Trip
from .papers import Alternative, Deal, Happened, Plan, PriceRow, PriceSeen
from .planner import home_units, plan, plan_situation
from .replan import break_even, touching
from .situation import Situation, tag_at

# A price table has at most this many tags, evenly spaced over the range.
_MOST_TAGS = 9
_ONE_MORE = "one more"


def alternatives(trip: Trip, happened: Happened, store: str, product: str) -> list[Alternative]:
    """The plan as it is, then every alternative that touches a product's deal at a store.

    Empty where the plan buys none of it there.
    """
    home = home_units(plan(trip, None, prove=False)) if happened.entries else None
    situation = situation_after(trip, happened, home)
    before = plan_situation(situation, prove=False)
    units = home_units(before).get((store, product), 0)
    if not units:
        return []
    found = [_told("as planned", before, before, store, product)]
    for words, changed in _conditions(situation, before, store, product, units):
        after = plan_situation(changed, prove=False)
        if words == _ONE_MORE and home_units(after).get((store, product), 0) <= units:
            continue  # a purchase limit or the cash ceiling stands against it
        found.append(_told(words, before, after, store, product))
    return found


def _conditions(
    situation: Situation, before: Plan, store: str, product: str, units: int
) -> Iterator[tuple[str, Situation]]:
    """Each condition in words, with the situation that it makes."""
    trip = situation.trip
    coupons = {coupon.id: coupon for coupon in trip.coupons}
    for name in _coupons_on(before, store, product):
        yield f"without {coupons[name].description}", _with_coupon(situation, coupons[name], 0)
    if units > 1:
        yield f"{units - 1} instead of {units}", _at_most(situation, store, product, units - 1)
    yield _ONE_MORE, _at_least(situation, store, product, units + 1)
    earning = {earned.offer for each in before.transactions for earned in each.receipt.earned}
    for reward in trip.rewards:
        counts = not reward.products or product in reward.products
        if reward.id in earning and reward.store == store and counts:
            # No further time: what it gave for transactions done stays.
            spent = msgspec.structs.replace(reward, per_household=situation.earned.get(reward.id, 0))
            rewards = tuple(spent if each.id == reward.id else each for each in trip.rewards)
            yield f"without {reward.description}", _with_trip(situation, rewards=rewards)
    here = sum(each.store == store for each in before.transactions)
    if here > 1:
        yield "in one transaction", _transactions_left(situation, store, 1)
    if len({each.store for each in before.transactions}) > 1:
        place = next(each for each in trip.stores if each.id == store)
        yield f"without going to {place.name}", _transactions_left(situation, store, 0)


def _coupons_on(made: Plan, store: str, product: str) -> list[str]:
    """The coupons that the plan uses on a product at a store, each once."""
    found: dict[str, None] = {}
    for each in made.transactions:
        for index, unit in enumerate(each.receipt.units):
            if each.store == store and unit.product == product:
                found.update((use.coupon, None) for use in each.transaction.uses if index in use.units)
    return list(found)


def _transactions_left(situation: Situation, store: str, left: int) -> Situation:
    """No more than so many transactions at a store from now on."""

    def limited(each: Store) -> Store:
        most = situation.transactions_done(store) + left
        rules = msgspec.structs.replace(each.rules, transactions_per_visit=most)
        return msgspec.structs.replace(each, rules=rules) if each.id == store else each

    return _with_trip(situation, stores=tuple(limited(each) for each in situation.trip.stores))


def _with_trip(situation: Situation, **changes: object) -> Situation:
    return msgspec.structs.replace(situation, trip=msgspec.structs.replace(situation.trip, **changes))


def _with_coupon(situation: Situation, coupon: Coupon, copies: int) -> Situation:
    changed = msgspec.structs.replace(coupon, copies=copies)
    coupons = tuple(changed if each.id == coupon.id else each for each in situation.trip.coupons)
    return _with_trip(situation, coupons=coupons)


def _at_most(situation: Situation, store: str, product: str, units: int) -> Situation:
    """No more than so many further units, as a purchase limit of the visit. A channel that has its
    store's tag gets one of its own."""
    trip = situation.trip
    place = next(each for each in trip.stores if each.id == store)
    tag = tag_at(trip, place, product)
    if tag is None:
        return situation
    most = situation.bought(store, product) + units
    limited = msgspec.structs.replace(
        tag, per_visit=most if tag.per_visit is None else min(most, tag.per_visit)
    )
    return _with_trip(situation, prices=(*(each for each in trip.prices if each != tag), limited))


def _at_least(situation: Situation, store: str, product: str, units: int) -> Situation:
    """At least so many units, as if they lay in the trolley; a want's ceiling rises with them."""
    wants = list(situation.trip.wants)
    for place, want in enumerate(wants):
        if product in want.products:
            wants[place] = msgspec.structs.replace(want, welcome=max(want.need, want.welcome) + 1)
            break
    trolley = {**situation.trolley, (store, product): units}
    return msgspec.structs.replace(_with_trip(situation, wants=tuple(wants)), trolley=trolley)


def _told(words: str, before: Plan, after: Plan, store: str, product: str) -> Alternative:
    deal = _deal(after, store, product)
    return Alternative(
        words=words,
        units=0 if deal is None else deal.units,
        net_cents=0 if deal is None else deal.net_cents,
        unit_price="" if deal is None else deal.unit_price,
        trip_net_change_cents=after.totals.net_cents - before.totals.net_cents,
        trip_value_change_cents=_value(after) - _value(before),
    )


def _value(made: Plan) -> int:
    return made.totals.net_cents - made.totals.worth_cents


def _deal(made: Plan, store: str, product: str) -> Deal | None:
    return next((deal for deal in made.deals if (deal.store, deal.product) == (store, product)), None)


def price_table(trip: Trip, happened: Happened, store: str, product: str) -> list[PriceRow]:
    """What the product's deal comes to over the tag's low-high range, with the break-even tag.

    Rows rise by tag; at each, the wants that touch are planned again. Without a range: the tag
    alone and the break-even.
    """
    home = home_units(plan(trip, None, prove=False))
    situation = touching(situation_after(trip, happened, home), product)
    place = next(each for each in situation.trip.stores if each.id == store)
    tag = tag_at(situation.trip, place, product)
    if tag is None:
        return []
    edge = break_even(trip, happened, store, product)
    tags = {*_spaced(tag), *(() if edge is None else (edge,))}
    rows: list[PriceRow] = []
    for cents in sorted(tags):
        seen = PriceSeen(store=store, product=product, cents=cents)
        changed = situation_after(situation.trip, Happened((("", seen),))).trip
        made = plan_situation(msgspec.structs.replace(situation, trip=changed), prove=False)
        deal = _deal(made, store, product)
        rows.append(
            PriceRow(
                tag_cents=cents,
                units=0 if deal is None else deal.units,
                register_cents=0 if deal is None else deal.register_cents,
                net_cents=0 if deal is None else deal.net_cents,
                unit_price="" if deal is None else deal.unit_price,
                verdict="not bought" if deal is None else deal.verdict,
                is_break_even=cents == edge,
            )
        )
    return rows


def _spaced(tag: ShelfPrice) -> list[int]:
    """Tags from the low to the high end of the range, evenly spaced, the tag itself among them."""
    low = tag.cents if tag.low_cents is None else tag.low_cents
    high = tag.cents if tag.high_cents is None else tag.high_cents
    steps = min(high - low, _MOST_TAGS - 1)
    spaced = [low + (high - low) * step // steps for step in range(steps + 1)] if steps else [low]
    return sorted({*spaced, tag.cents})


def in_words(trip: Trip, alternative: Alternative) -> str:
    """One alternative in a line: "without the insert: 2 for $4.98, 24.9¢/roll; the trip costs $1.20 more"."""
    change = alternative.trip_net_change_cents
    money = show(abs(change), trip.currency, trip.exponent)
    trip_words = (
        f"the trip costs {money} {'more' if change > 0 else 'less'}" if change else "the trip costs the same"
    )
    if not alternative.units:
        return f"{alternative.words}: none; {trip_words}"
    net = show(alternative.net_cents, trip.currency, trip.exponent)
    return f"{alternative.words}: {alternative.units} for {net}, {alternative.unit_price}; {trip_words}"
