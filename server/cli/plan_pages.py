"""A plan as ``counterfoil plan`` prints it: what each want costs, then each transaction in order."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ..engine.money import show
from ..engine.offers import Trip
from ..engine.papers import Plan, PlannedTransaction
from .columns import columns, words

Money = Callable[[int], str]


def plan_pages(trip: Trip, plan: Plan) -> str:
    """The whole plan as text, in the order in which a planner checks it and a shopper walks it."""

    def money(cents: int) -> str:
        return show(cents, trip.currency, trip.exponent)

    parts = [words(f"{trip.title}, {trip.day}"), "", _deals(trip, plan, money)]
    parts += _unmet(trip, plan)
    for planned in plan.transactions:
        parts += ["", *_transaction(trip, planned, money)]
    parts += _rebates(trip, plan, money)
    parts += ["", _totals(plan, money), "", words(plan.proof.words or _proof(plan, money))]
    parts += [words(f"Note: {note}") for note in plan.notes]
    return "\n".join(parts)


def _deals(trip: Trip, plan: Plan, money: Money) -> str:
    """A table of each store: one row for each want, with its cents from the tag down to the net."""
    heading = ("Units", "Tag", "Register", "Tax", "Rewards", "Rebates", "Net", "Each", "Stock-up price")
    products = {product.id: product.description for product in trip.products}
    tables: list[str] = []
    for store in trip.stores:
        rows = [
            (
                products.get(deal.product, deal.product),
                str(deal.units),
                money(deal.tag_cents),
                money(deal.register_cents),
                money(deal.tax_cents),
                money(-deal.reward_cents) if deal.reward_cents else "",
                money(-deal.rebate_cents) if deal.rebate_cents else "",
                money(deal.net_cents),
                deal.unit_price,
                f"{deal.verdict} {deal.stock_up}".rstrip() if deal.stock_up else deal.verdict,
            )
            for deal in plan.deals
            if deal.store == store.id
        ]
        if rows:
            tables.append(columns(rows, right=range(1, 8), heading=(store.name, *heading)))
    return "\n\n".join(tables) or "Nothing is bought."


def _unmet(trip: Trip, plan: Plan) -> Iterator[str]:
    names = {want.id: want.name or want.id for want in trip.wants}
    if plan.unmet:
        yield ""
        yield "Not to be had:"
    for unmet in plan.unmet:
        yield words(f"{unmet.missing} x {names.get(unmet.want, unmet.want)}: {unmet.because}", indent="  ")


def _transaction(trip: Trip, planned: PlannedTransaction, money: Money) -> Iterator[str]:
    """The belt, the stacks in words, the coupons in handing-over order, the tenders, what prints back."""
    stores = {store.id: store.name for store in trip.stores}
    products = {product.id: product.description for product in trip.products}
    coupons = {coupon.id: coupon.description for coupon in trip.coupons}
    receipt = planned.receipt
    name = stores.get(planned.store, planned.store)
    yield words(f"{name}, transaction {planned.number}: {money(receipt.total_cents)} on the register")
    yield "  On the belt, in this order:"
    for line in planned.transaction.lines:
        rain_check = f" (rain check {line.rain_check})" if line.rain_check else ""
        yield words(f"{line.units} x {products.get(line.product, line.product)}{rain_check}", indent="    ")
    for stack in planned.stacks:
        times = f"{stack.times} times: " if stack.times > 1 else ""
        yield words(f"Stack: {times}{stack.words}", indent="  ")
    if planned.hand_over:
        yield "  Hand over, in this order:"
    for place, coupon in enumerate(planned.hand_over, start=1):
        yield words(f"{place}. {coupons.get(coupon, coupon)} ({coupon})", indent="    ")
    paid = [f"{tender.kind.replace('_', ' ')} {money(tender.cents)}" for tender in receipt.tenders]
    yield f"  Pay: {', '.join(paid) or 'nothing'}"
    for printed in planned.prints:
        yield words(f"Must print back: {printed}", indent="  ")


def _rebates(trip: Trip, plan: Plan, money: Money) -> Iterator[str]:
    names = {rebate.id: rebate.description for rebate in trip.rebates}
    names |= {bonus.id: bonus.description for bonus in trip.set_bonuses}
    if plan.rebates:
        yield ""
        yield "Claim after the trip:"
        rows = [
            (
                f"{claim.times} x {names.get(claim.rebate, claim.rebate)}",
                money(claim.cents),
                f"by {claim.until}" if claim.until else "",
            )
            for claim in plan.rebates
        ]
        yield columns(rows, right={1}, indent="  ")


def _totals(plan: Plan, money: Money) -> str:
    """From the tags down to the net, then what of it is cash today."""
    totals = plan.totals
    rows = [
        ("At the tags", money(totals.shelf_cents)),
        (f"At the registers ({money(totals.tax_cents)} of it tax)", money(totals.paid_cents)),
        ("Rewards, at what they are worth", money(-totals.rewards_worth_cents)),
        ("Rebates, at what they are worth", money(-totals.rebates_worth_cents)),
        ("Net cost of the trip", money(totals.net_cents)),
        ("Out of pocket today", money(totals.out_of_pocket_cents)),
        ("Slips left for later", money(totals.left_slips_cents)),
    ]
    return columns(rows, right={1})


def _proof(plan: Plan, money: Money) -> str:
    if plan.proof.optimal:
        return "No plan of this trip is better."
    if not plan.proof.gap_cents:
        return plan.proof.words
    return f"A better plan could save at most {money(plan.proof.gap_cents)}."
