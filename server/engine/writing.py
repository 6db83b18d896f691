"""The plan written down: transactions with their stacks, claims, totals, proof.

Every figure is the register's or a sum of such figures; the solver's numbers only decide
what is bought and prove that nothing better exists.
"""

from __future__ import annotations

from datetime import date, timedelta

import msgspec

from .checkout import Paid
from .deals import deals_of, wants_of_products
from .money import round_half_up, show
from .objective import lapses, reward_worth
from .offers import Trip
from .papers import (
    PayBySlip,
    Plan,
    PlannedTransaction,
    Proof,
    RebateClaim,
    Receipt,
    Totals,
    Transaction,
    Unmet,
)
from .reasons import reason
from .shelf import holds_on
from .situation import Situation
from .stacks import stacks_of
from .ways import asks_for
from .worth import stock_worth


def write_plan(situation: Situation, paid: list[Paid], missing: dict[str, int], bound: int | None) -> Plan:
    """The plan as a document.

    ``paid``: in checkout order. ``bound``: the least level-2 value that any plan can have, None
    where it is not known."""
    trip = situation.trip
    receipts = [(done.transaction, done.receipt) for done in situation.done]
    receipts += [(each.transaction, each.receipt) for each in paid]
    claims = rebate_claims(situation, receipts)
    totals = _totals(situation, paid, claims)
    by_want = {want.id: want for want in trip.wants}
    per_product = wants_of_products(trip)
    numbers = {store.id: situation.transactions_done(store.id) for store in trip.stores}
    transactions: list[PlannedTransaction] = []
    for each in paid:
        store = each.transaction.store.id
        numbers[store] += 1
        transactions.append(
            PlannedTransaction(
                store=store,
                number=numbers[store],
                transaction=each.transaction,
                receipt=each.receipt,
                stacks=stacks_of(trip, per_product, each.transaction, each.receipt),
                hand_over=tuple(use.coupon for use in each.transaction.uses),
                prints=_prints(trip, each.transaction, each.receipt),
            )
        )
    return Plan(
        trip=trip.id,
        trip_version=trip.version,
        transactions=tuple(transactions),
        deals=deals_of(situation, paid, claims),
        unmet=tuple(
            Unmet(want=want, missing=units, because=reason(situation, by_want[want], missing))
            for want, units in sorted(missing.items())
        ),
        rebates=claims,
        totals=totals,
        proof=_proof(trip, level_value(situation, paid, claims), bound),
        notes=_notes(situation, totals),
    )


def plan_value(situation: Situation, paid: list[Paid]) -> int:
    """The level-2 value of a plan, by the register's figures."""
    receipts = [(done.transaction, done.receipt) for done in situation.done]
    receipts += [(each.transaction, each.receipt) for each in paid]
    return level_value(situation, paid, rebate_claims(situation, receipts))


def proven(situation: Situation, written: Plan, bound: int | None, value: int) -> Plan:
    """A plan with its proof said anew."""
    return msgspec.structs.replace(written, proof=_proof(situation.trip, value, bound))


def unproven(written: Plan, words: str) -> Plan:
    """A plan of which it is not known how good it is, with the reason."""
    return msgspec.structs.replace(written, proof=Proof(optimal=False, words=words))


def rebate_claims(
    situation: Situation, receipts: list[tuple[Transaction, Receipt]]
) -> tuple[RebateClaim, ...]:
    """What can be claimed on these receipts, set bonuses last."""
    trip = situation.trip
    found: dict[str, RebateClaim] = {}
    for rebate in trip.rebates:
        if not holds_on(trip.day, rebate.from_date, rebate.until):
            continue
        counts = [
            sum(line.units for line in transaction.lines if asks_for(rebate.products, line.product))
            for transaction, receipt in receipts
            if (not rebate.stores or transaction.store.id in rebate.stores)
            and receipt.merchandise_cents >= rebate.from_receipt_cents
        ]
        together = sum(counts) // rebate.units
        times = sum(count // rebate.units for count in counts) if rebate.from_receipt_cents else together
        times = min(times, rebate.limit)
        if times:
            until = date.fromisoformat(trip.day) + timedelta(days=rebate.deadline_days)
            found[rebate.id] = RebateClaim(
                rebate=rebate.id, times=times, cents=times * rebate.cents, until=until.isoformat()
            )
    bonuses: list[RebateClaim] = []
    for bonus in trip.set_bonuses:
        if all(rebate in found for rebate in bonus.rebates):
            until = min(found[rebate].until or "9999-12-31" for rebate in bonus.rebates)
            bonuses.append(RebateClaim(rebate=bonus.id, times=1, cents=bonus.cents, until=until, bonus=True))
    return (*found.values(), *bonuses)


def claims_worth(trip: Trip, claims: tuple[RebateClaim, ...]) -> int:
    """What the claims are worth to the shopper: each time rounded to whole cents, half up."""
    rate = trip.settings.worth.rebate_bp
    return sum(each.times * round_half_up(each.cents // each.times * rate, 10_000) for each in claims)


def rewards_worth(situation: Situation, stops: list[Paid]) -> int:
    """What the rewards of planned transactions are worth; a lapsing slip only where it is spent."""
    trip = situation.trip
    offers = {reward.id: reward for reward in trip.rewards}
    own = {slip.id for slip in trip.wallet.slips}
    total = 0
    for each in stops:
        for earned in each.receipt.earned:
            if not lapses(offers[earned.offer], situation):
                worth = reward_worth(offers[earned.offer], earned.each_cents, trip.settings.worth)
                total += earned.times * worth
        for tender in each.transaction.tenders:
            if not isinstance(tender, PayBySlip) or tender.offer not in offers or tender.id in own:
                continue
            if lapses(offers[tender.offer], situation):
                total += reward_worth(offers[tender.offer], tender.cents, trip.settings.worth)
    return total


def _done_rewards_worth(situation: Situation) -> int:
    """The same for transactions done: what printed is real, whatever becomes of it."""
    offers = {reward.id: reward for reward in situation.trip.rewards}
    return sum(
        earned.times * reward_worth(offers[earned.offer], earned.each_cents, situation.trip.settings.worth)
        for done in situation.done
        for earned in done.receipt.earned
        if earned.offer in offers and earned.offer not in done.lost
    )


def level_value(situation: Situation, stops: list[Paid], claims: tuple[RebateClaim, ...]) -> int:
    """The plan's value of level 2 by the register's figures: net cost less worth, and going on."""
    trip = situation.trip
    settings = trip.settings
    total = sum(each.receipt.total_cents for each in stops) - rewards_worth(situation, stops)
    total -= claims_worth(trip, claims)
    counts: dict[str, int] = {}
    for each in stops:
        store = each.transaction.store.id
        seen = counts.get(store, situation.transactions_done(store))
        total += settings.further_transaction_cents if seen else settings.further_store_cents
        counts[store] = seen + 1
    return total - stock_worth(situation, stops)


def _totals(situation: Situation, stops: list[Paid], claims: tuple[RebateClaim, ...]) -> Totals:
    trip = situation.trip
    receipts = [done.receipt for done in situation.done] + [each.receipt for each in stops]
    paid = sum(done.paid_cents for done in situation.done) + sum(each.receipt.total_cents for each in stops)
    pocket = sum(done.out_of_pocket_cents for done in situation.done)
    pocket += sum(each.receipt.out_of_pocket_cents for each in stops)
    lost = {(place, offer) for place, done in enumerate(situation.done) for offer in done.lost}
    face = sum(
        earned.cents
        for place, receipt in enumerate(receipts)
        for earned in receipt.earned
        if (place, earned.offer) not in lost
    )
    rewards = _done_rewards_worth(situation) + rewards_worth(situation, stops)
    rebates = claims_worth(trip, claims)
    shelf = sum(receipt.shelf_cents for receipt in receipts)
    return Totals(
        shelf_cents=shelf,
        paid_cents=paid,
        tax_cents=sum(receipt.tax_cents for receipt in receipts),
        out_of_pocket_cents=pocket,
        rewards_cents=face,
        rewards_worth_cents=rewards,
        rebates_cents=sum(each.cents for each in claims),
        rebates_worth_cents=rebates,
        net_cents=paid - rewards - rebates,
        worth_cents=stock_worth(situation, stops),
        saved_cents=shelf - sum(receipt.merchandise_cents for receipt in receipts),
        left_slips_cents=_left_slips(situation, stops),
        transactions=len(receipts),
    )


def _left_slips(situation: Situation, stops: list[Paid]) -> int:
    """Face value of the slips that are unspent at the end."""
    left = sum(
        slip.cents for slip in situation.trip.wallet.slips if holds_on(situation.trip.day, None, slip.until)
    )
    for each in stops:
        left += sum(earned.cents for earned in each.receipt.earned if earned.kind == "slip")
        left -= sum(line.cents for line in each.receipt.tenders if line.kind == "slip")
    return left


def _prints(trip: Trip, transaction: Transaction, receipt: Receipt) -> tuple[str, ...]:
    """What the register must print or load, in words."""
    names = {reward.id: reward.description for reward in transaction.rewards}
    nouns = {"slip": "slip", "gift_card": "gift card", "points": "worth of points"}
    return tuple(
        f"{f'{earned.times} x ' if earned.times > 1 else ''}"
        f"{show(earned.each_cents, trip.currency, trip.exponent)} {nouns[earned.kind]}: {names[earned.offer]}"
        for earned in receipt.earned
    )


def _proof(trip: Trip, value: int, bound: int | None) -> Proof:
    if bound is not None and value <= bound:
        words = "Best possible: proven for these offers, prices and rules."
        return Proof(optimal=True, net_optimal=True, words=words)
    if bound is None:
        return Proof(optimal=False, words="Good, but not proven: some ways to buy are not in the comparison.")
    gap = value - bound
    most = show(gap, trip.currency, trip.exponent)
    return Proof(optimal=False, gap_cents=gap, words=f"No better plan could save more than {most}.")


def _notes(situation: Situation, totals: Totals) -> tuple[str, ...]:
    """What the shopper should know beside the figures."""
    trip = situation.trip
    notes = list(situation.notes)
    ceiling = trip.wallet.cash_cents
    if ceiling is not None and totals.out_of_pocket_cents > ceiling:
        over = show(totals.out_of_pocket_cents - ceiling, trip.currency, trip.exponent)
        notes.append(f"The cash ceiling is passed by {over}: what is in the trolley or paid costs more.")
    return tuple(notes)
