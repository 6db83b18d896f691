"""The article of a trip: each deal with its arithmetic, what else could be done, and the checkout in order.

Rows ready for a template; every cent is the engine's. What is planned is the trip for readers
(``public_trip.py``), so whoever opens the page on her phone starts from the same figures.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping

import msgspec

from ...engine.money import show
from ...engine.offers import Coupon, Trip
from ...engine.papers import Alternative, Deal, Happened, Plan, PriceRow
from ...engine.situation import tag_at
from .checkouts import Checkout, StackLine, checkout_of, stack_lines
from .steps import Step, steps_of

# Deals that get alternatives and a price table: those that save most, as each takes the planner seconds.
MOST_WEIGHED = 40

# Told with (deals that are weighed, deals to weigh).
Progress = Callable[[int, int], None]


class DealArticle(msgspec.Struct, frozen=True, kw_only=True):
    """One deal. ``bought``: how many the planner bought, 0 where she does not say.

    ``regular_cents``: all units at their regular price; ``until``: last day of the tag ("": not told);
    ``break_even_cents``: the highest tag that is right, None where none is or it was not worked out."""

    anchor: str
    name: str
    store: str
    place: str
    note: str
    units: int
    bought: int
    deal: Deal
    regular_cents: int
    steps: tuple[Step, ...]
    stacks: tuple[StackLine, ...]
    back: tuple[str, ...]
    limits: tuple[str, ...]
    until: str
    alternatives: tuple[Alternative, ...] = ()
    price_table: tuple[PriceRow, ...] = ()
    break_even_cents: int | None = None


class Claim(msgspec.Struct, frozen=True, kw_only=True):
    """A rebate to claim after the trip."""

    name: str
    times: int
    cents: int
    until: str


class Article(msgspec.Struct, frozen=True, kw_only=True):
    """A whole trip for readers. ``weighed``: how many deals, those that save most, have alternatives and a
    price table; ``weighed_as``: a digest of all that these follow from; ``unmet``: sentences about what is
    not to be had."""

    trip: Trip
    plan: Plan
    deals: tuple[DealArticle, ...]
    weighed: int
    weighed_as: str
    checkouts: tuple[Checkout, ...]
    claims: tuple[Claim, ...]
    unmet: tuple[str, ...]

    @property
    def by_store(self) -> list[tuple[str, list[DealArticle]]]:
        """The deals of each store that has any, by the store's name, in the order of the drive."""
        found = (
            (store, [each for each in self.deals if each.deal.store == store.id])
            for store in self.trip.stores
        )
        return [(store.name, deals) for store, deals in found if deals]


def article_of(
    trip: Trip,
    plan: Plan,
    bought: dict[str, int] | None = None,
    progress: Progress | None = None,
    before: Article | None = None,
) -> Article:
    """The article of the trip for readers and its plan.

    ``bought``: product id -> units that the planner bought, if she tells. ``progress``: called before each
    deal and at the end. ``before``: the article as it was; where only words have changed since, its deals
    need not be weighed again."""
    weighed_as = _weighed_as(trip, plan)
    known = before.deals if before is not None and before.weighed_as == weighed_as else ()
    spots = {(each.deal.store, each.deal.product): each for each in known}
    deals = [
        _deal(trip, plan, deal, number, (bought or {}).get(deal.product, 0))
        for number, deal in enumerate(plan.deals, start=1)
    ]
    saving = sorted(range(len(deals)), key=lambda place: -_saved(deals[place]))[:MOST_WEIGHED]
    for done, place in enumerate(sorted(saving)):
        if progress is not None:
            progress(done, len(saving))
        deals[place] = _weighed(trip, deals[place], spots)
    if progress is not None:
        progress(len(saving), len(saving))
    names = {want.id: want.name for want in trip.wants}
    return Article(
        trip=trip,
        plan=plan,
        deals=tuple(deals),
        weighed=len(saving),
        weighed_as=weighed_as,
        checkouts=tuple(checkout_of(trip, plan, planned) for planned in plan.transactions),
        claims=tuple(_claims(trip, plan)),
        unmet=tuple(f"{each.missing} × {names[each.want]}: {each.because}." for each in plan.unmet),
    )


def _deal(trip: Trip, plan: Plan, deal: Deal, number: int, bought: int) -> DealArticle:
    product = next(each for each in trip.products if each.id == deal.product)
    store = next(each for each in trip.stores if each.id == deal.store)
    tag = tag_at(trip, store, product.id)
    steps = steps_of(trip, product, store, deal)
    stacks = [
        stack
        for planned in plan.transactions
        if planned.store == deal.store
        for stack in planned.stacks
        if deal.product in stack.products
    ]
    return DealArticle(
        anchor=f"deal-{number}",
        name=product.description,
        store=store.name,
        place=deal.place,
        note=" ".join(text for text in (product.note, tag.place_note if tag else "") if text),
        units=deal.units,
        bought=bought,
        deal=deal,
        regular_cents=steps[0].cents,
        steps=_telling(steps),
        stacks=stack_lines(trip, stacks),
        back=tuple(_back(trip, plan, deal)),
        limits=tuple(_limits(trip, plan, deal)),
        until=(tag.until or "") if tag is not None else "",
    )


def _saved(told: DealArticle) -> int:
    """Cents between the regular price of all units and the net."""
    return told.regular_cents - told.deal.net_cents


def _telling(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """The steps that change something: the first, and each that differs from the one before it."""
    return tuple(
        step for place, step in enumerate(steps) if not place or step.cents != steps[place - 1].cents
    )


def _weighed_as(trip: Trip, plan: Plan) -> str:
    """A digest of what the alternatives and price tables follow from: the trip without words that are only
    shown, and its plan."""
    plain = msgspec.structs.replace(
        trip,
        id="trip",
        title="",
        stores=tuple(msgspec.structs.replace(each, note="") for each in trip.stores),
        products=tuple(msgspec.structs.replace(each, note="") for each in trip.products),
        prices=tuple(msgspec.structs.replace(each, place_note="") for each in trip.prices),
        coupons=tuple(msgspec.structs.replace(each, where="") for each in trip.coupons),
    )
    bought = [(deal.store, deal.product, deal.units, deal.net_cents) for deal in plan.deals]
    whole = msgspec.json.encode((plain, bought, plan.totals, MOST_WEIGHED), order="deterministic")
    return hashlib.sha256(whole).hexdigest()[:16]


def _weighed(trip: Trip, told: DealArticle, known: Mapping[tuple[str, str], DealArticle]) -> DealArticle:
    from ...engine.alternatives import alternatives, price_table  # brings the solver

    spot = (told.deal.store, told.deal.product)
    if spot in known:
        before = known[spot]
        return msgspec.structs.replace(
            told,
            alternatives=before.alternatives,
            price_table=before.price_table,
            break_even_cents=before.break_even_cents,
        )
    rows = price_table(trip, Happened(), *spot)
    return msgspec.structs.replace(
        told,
        alternatives=tuple(alternatives(trip, Happened(), *spot)),
        price_table=tuple(rows),
        break_even_cents=next((row.tag_cents for row in rows if row.is_break_even), None),
    )


def _back(trip: Trip, plan: Plan, deal: Deal) -> Iterator[str]:
    """The rewards and rebates that count units of the deal."""
    earned = {
        each.offer
        for planned in plan.transactions
        if planned.store == deal.store
        for each in planned.receipt.earned
    }
    if deal.reward_cents:
        for reward in trip.rewards:
            if reward.id in earned and (not reward.products or deal.product in reward.products):
                yield reward.description
    claimed = {claim.rebate for claim in plan.rebates}
    if deal.rebate_cents:
        for rebate in trip.rebates:
            if rebate.id in claimed and (not rebate.products or deal.product in rebate.products):
                yield rebate.description
        for bonus in trip.set_bonuses:
            of_deal = {each.id for each in trip.rebates if deal.product in each.products}
            if bonus.id in claimed and of_deal.intersection(bonus.rebates):
                yield bonus.description


def _limits(trip: Trip, plan: Plan, deal: Deal) -> Iterator[str]:
    """What stands against buying more of it: the tag's limits, then those of the coupons in its stacks."""
    store = next(each for each in trip.stores if each.id == deal.store)
    tag = tag_at(trip, store, deal.product)
    if tag is not None:
        if tag.per_transaction:
            yield f"at most {tag.per_transaction} in a transaction"
        if tag.per_visit:
            yield f"at most {tag.per_visit} in a visit"
        if tag.low_cents is not None and tag.high_cents is not None:
            low, high = (
                show(cents, trip.currency, trip.exponent) for cents in (tag.low_cents, tag.high_cents)
            )
            yield f"the tag differs by town, from {low} to {high}"
    used = {
        use.coupon
        for planned in plan.transactions
        if planned.store == deal.store
        for use in planned.transaction.uses
        if any(planned.receipt.units[unit].product == deal.product for unit in use.units)
    }
    for coupon in trip.coupons:
        if coupon.id in used:
            yield from _coupon_limits(coupon)


def _coupon_limits(coupon: Coupon) -> Iterator[str]:
    if coupon.per_transaction:
        yield f"{coupon.description}: at most {coupon.per_transaction} in a transaction"
    if coupon.per_day:
        yield f"{coupon.description}: at most {coupon.per_day} a day"
    if coupon.per_household:
        yield f"{coupon.description}: at most {coupon.per_household} in a household"
    if not coupon.may_multiply:
        yield f"{coupon.description}: no store multiplies it"


def _claims(trip: Trip, plan: Plan) -> Iterator[Claim]:
    names = {rebate.id: rebate.description for rebate in trip.rebates}
    names |= {bonus.id: bonus.description for bonus in trip.set_bonuses}
    for claim in plan.rebates:
        yield Claim(name=names[claim.rebate], times=claim.times, cents=claim.cents, until=claim.until or "")
