"""From what happened to a situation: the fold over the shopper's reports.

Each report changes the trip as it stands: a price seen replaces the tag, copies left at
home are gone, a finished transaction is history. ``undone`` takes back an earlier report
as if it had not been made. Pure: the same reports give the same situation.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import assert_never

import msgspec

from .offers import Coupon, GiftCard, ShelfPrice, Slip, Trip, Want
from .papers import (
    Chosen,
    CouponCopies,
    CouponFound,
    Found,
    Happened,
    InTrolley,
    NeedChanged,
    NotPrinted,
    PayByGiftCard,
    PayBySlip,
    PriceSeen,
    RainCheckTaken,
    Receipt,
    Report,
    ShelfEmpty,
    Transaction,
    TransactionDone,
    Undone,
)
from .register import price
from .shelf import holds_on
from .situation import Done, Situation, Spot, most_welcome, settle_order, tag_at


class Fold(msgspec.Struct):
    """The situation while it is being built; ``done_events``: event id per finished transaction."""

    trip: Trip
    trolley: dict[Spot, int]
    chosen: dict[Spot, int]
    empty: set[Spot]
    done: list[Done]
    used: dict[str, int]
    earned: dict[str, int]
    offer_transactions: dict[str, int]
    printed: dict[str, list[Slip]]


def situation_after(trip: Trip, happened: Happened, home: dict[Spot, int] | None = None) -> Situation:
    """The situation after the reports. ``home``: units per spot of the plan she left home with."""
    undone = _undone(happened)
    pinned = {(each.store, each.product): each.units for each in trip.pinned}
    fold = Fold(settle_order(trip), {}, pinned, set(), [], {}, {}, {}, {})
    for event, report in happened.entries:
        if event not in undone or not event:
            _apply(fold, event, report)
    for spot, units in fold.chosen.items():
        if units > fold.trolley.get(spot, 0):
            fold.trolley[spot] = units
    _keep_unplanned(fold)
    return Situation(
        trip=settle_order(fold.trip),
        trolley={spot: units for spot, units in sorted(fold.trolley.items()) if units > 0},
        empty=frozenset(fold.empty),
        done=tuple(fold.done),
        used=fold.used,
        earned=fold.earned,
        offer_transactions=fold.offer_transactions,
        home=home,
    )


def _undone(happened: Happened) -> set[str]:
    """Events that are taken back, by a taking-back that is not itself taken back."""
    undone: set[str] = set()
    for event, report in reversed(happened.entries):
        if isinstance(report, Undone) and (not event or event not in undone):
            undone.add(report.event)
    return undone


def _concerns(trip: Trip, report: Report) -> bool:
    """Whether a report names a store and a product of the trip; one that does not, from a foreign or
    broken client, changes nothing."""
    stores = {store.id for store in trip.stores}
    products = {product.id for product in trip.products}
    match report:
        case InTrolley() | ShelfEmpty() | Chosen() | PriceSeen() | RainCheckTaken():
            return report.store in stores and report.product in products
        case Found():
            known = report.product in products or report.product_data is not None
            return report.store in stores and known
        case TransactionDone():
            return report.transaction.store.id in stores
        case _:
            return True


def _apply(fold: Fold, event: str, report: Report) -> None:
    if not _concerns(fold.trip, report):
        return
    match report:
        case InTrolley(store=store, product=product, units=units):
            fold.trolley[(store, product)] = max(fold.trolley.get((store, product), 0) + units, 0)
        case ShelfEmpty(store=store, product=product):
            fold.empty.add((store, product))
            fold.chosen.pop((store, product), None)
        case Chosen(store=store, product=product, units=units):
            fold.chosen[(store, product)] = units
        case PriceSeen():
            _price_seen(fold, report)
        case Found():
            _found(fold, report)
        case CouponCopies(coupon=coupon, copies=copies):
            _change_copies(fold, coupon, copies)
        case CouponFound(coupon=coupon):
            _coupon_found(fold, coupon)
        case NeedChanged(want=want, need=need, welcome=welcome):
            fold.trip = msgspec.structs.replace(
                fold.trip,
                wants=tuple(
                    msgspec.structs.replace(each, need=need, welcome=welcome) if each.id == want else each
                    for each in fold.trip.wants
                ),
            )
        case RainCheckTaken(store=store, product=product, units=units):
            # The paper is for a later visit: today the shelf is bare, and so much is asked for no more.
            fold.empty.add((store, product))
            fold.chosen.pop((store, product), None)
            _meet(fold, product, units)
        case TransactionDone():
            _transaction_done(fold, event, report)
        case NotPrinted(done=done, offer=offer):
            _not_printed(fold, done, offer)
        case Undone():
            pass
        case _:
            assert_never(report)


def _price_seen(fold: Fold, report: PriceSeen) -> None:
    """The tag as seen, with the deal of the tag that held till then: a channel that had none of its own
    had its parent's. It is the store's own for the day."""
    trip = fold.trip
    store = next(each for each in trip.stores if each.id == report.store)
    old = tag_at(trip, store, report.product)
    if old is None:
        seen = ShelfPrice(store=report.store, product=report.product, cents=report.cents)
    else:
        seen = msgspec.structs.replace(
            old,
            cents=report.cents,
            low_cents=None,
            high_cents=None,
            deal=None if report.without_deal else old.deal,
        )
    others = (
        tag
        for tag in trip.prices
        if (tag.store, tag.product) != (report.store, report.product)
        or not holds_on(trip.day, tag.from_date, tag.until)
    )
    fold.trip = msgspec.structs.replace(trip, prices=(*others, seen))
    fold.empty.discard((report.store, report.product))


def _found(fold: Fold, report: Found) -> None:
    """A variant found on the shelf joins the want, after the products that she named herself."""
    if report.product_data is not None and all(each.id != report.product for each in fold.trip.products):
        fold.trip = msgspec.structs.replace(fold.trip, products=(*fold.trip.products, report.product_data))
    fold.trip = msgspec.structs.replace(
        fold.trip,
        wants=tuple(
            msgspec.structs.replace(want, products=(*want.products, report.product))
            if want.id == report.want and report.product not in want.products
            else want
            for want in fold.trip.wants
        ),
    )
    _price_seen(fold, PriceSeen(store=report.store, product=report.product, cents=report.cents))


def _change_copies(fold: Fold, coupon: str, copies: int) -> None:
    def changed(each: Coupon) -> Coupon:
        return msgspec.structs.replace(each, copies=min(max(each.copies + copies, 0), 10_000))

    fold.trip = msgspec.structs.replace(
        fold.trip,
        coupons=tuple(changed(each) if each.id == coupon else each for each in fold.trip.coupons),
    )


def _coupon_found(fold: Fold, coupon: Coupon) -> None:
    """A coupon from the shelf joins the trip's; one that the trip knows has more copies."""
    if any(each.id == coupon.id for each in fold.trip.coupons):
        _change_copies(fold, coupon.id, coupon.copies)
    else:
        fold.trip = msgspec.structs.replace(fold.trip, coupons=(*fold.trip.coupons, coupon))


def _transaction_done(fold: Fold, event: str, report: TransactionDone) -> None:
    """A finished transaction: its units, copies, slips and limits are spent, its slips are real."""
    transaction = report.transaction
    receipt = price(transaction)
    if not isinstance(receipt, Receipt):
        # The shopper may have done what the house rules forbid; the units are hers all the same.
        receipt = price(msgspec.structs.replace(transaction, uses=(), offer_uses=()))
    if not isinstance(receipt, Receipt):
        return
    store = transaction.store.id
    shown = receipt.total_cents if report.shown_total_cents is None else report.shown_total_cents
    not_cash = sum(line.cents for line in receipt.tenders if line.kind != "cash")
    fold.done.append(Done(event, transaction, receipt, shown, max(shown - not_cash, 0)))
    for line in transaction.lines:
        spot = (store, line.product)
        fold.trolley[spot] = max(fold.trolley.get(spot, 0) - line.units, 0)
        fold.chosen[spot] = max(fold.chosen.get(spot, 0) - line.units, 0)
        _meet(fold, line.product, line.units)
    for use in transaction.uses:
        fold.used[use.coupon] = fold.used.get(use.coupon, 0) + 1
        _change_copies(fold, use.coupon, -1)
    for offer in {use.offer for use in transaction.offer_uses}:
        fold.offer_transactions[offer] = fold.offer_transactions.get(offer, 0) + 1
    for earned in receipt.earned:
        fold.earned[earned.offer] = fold.earned.get(earned.offer, 0) + earned.times
    _spend_and_print(fold, event, report, receipt)


def _meet(fold: Fold, product: str, units: int) -> None:
    """Bought units meet the wants that accept them, needs first, in the order of their ids."""
    wants = {want.id: want for want in fold.trip.wants}
    for only_needs in (True, False):
        for want in sorted(wants.values(), key=lambda each: each.id):
            room = want.need if only_needs else most_welcome(want)
            taken = min(units, room) if product in want.products else 0
            if taken:
                wants[want.id] = msgspec.structs.replace(
                    want, need=max(want.need - taken, 0), welcome=max(most_welcome(want) - taken, 0)
                )
                units -= taken
    fold.trip = msgspec.structs.replace(fold.trip, wants=tuple(wants[each.id] for each in fold.trip.wants))


def _spend_and_print(fold: Fold, event: str, report: TransactionDone, receipt: Receipt) -> None:
    """Slips and balances after a transaction."""
    transaction = report.transaction
    wallet = fold.trip.wallet
    number = len([done for done in fold.done if done.transaction.store.id == transaction.store.id])
    spent = {tender.id for tender in transaction.tenders if isinstance(tender, PayBySlip)}
    drawn = sum(line.cents for line in receipt.tenders if line.kind == "gift_card")
    cards: list[GiftCard] = []
    for card in wallet.gift_cards:
        cents = min(drawn, card.cents) if card.store == transaction.store.id else 0
        drawn -= cents
        cards.append(msgspec.structs.replace(card, cents=card.cents - cents))
    if any(isinstance(tender, PayByGiftCard) for tender in transaction.tenders):
        wallet = msgspec.structs.replace(wallet, gift_cards=tuple(cards))
    slips = printed_slips(transaction, receipt, number) if report.printed is None else list(report.printed)
    fold.printed[event] = slips
    loaded = [
        GiftCard(id=f"{earned.offer}.{number}", store=transaction.store.id, cents=earned.cents)
        for earned in receipt.earned
        if earned.kind == "gift_card"
    ]
    fold.trip = msgspec.structs.replace(
        fold.trip,
        wallet=msgspec.structs.replace(
            wallet,
            slips=(*(slip for slip in wallet.slips if slip.id not in spent), *slips),
            gift_cards=(*wallet.gift_cards, *loaded),
            rain_checks=tuple(
                msgspec.structs.replace(
                    check,
                    units=check.units
                    - sum(line.units for line in transaction.lines if line.rain_check == check.id),
                )
                for check in wallet.rain_checks
                if check.units > sum(line.units for line in transaction.lines if line.rain_check == check.id)
            ),
        ),
    )


def printed_slips(transaction: Transaction, receipt: Receipt, number: int) -> list[Slip]:
    """The slips that a store's ``number``-th transaction of the trip should have printed."""
    slips: list[Slip] = []
    for earned in receipt.earned:
        offer = next(each for each in transaction.rewards if each.id == earned.offer)
        if offer.kind != "slip":
            continue
        until = date.fromisoformat(transaction.day) + timedelta(days=offer.valid_days)
        slips.extend(
            Slip(
                id=slip_id(offer.id, transaction.store.id, number, k),
                store=transaction.store.id,
                cents=earned.each_cents,
                until=until.isoformat(),
                offer=offer.id,
            )
            for k in range(earned.times)
        )
    return slips


def slip_id(offer: str, store: str, number: int, k: int) -> str:
    """The name of the k-th slip (from 0) that a store's ``number``-th transaction prints for an offer."""
    return f"{offer}.{store}.{number}.{k + 1}"


def _not_printed(fold: Fold, done_event: str, offer: str) -> None:
    """A reward that did not come out: its slips are not in the wallet, its worth is not counted."""
    lost = {slip.id for slip in fold.printed.get(done_event, []) if slip.offer == offer}
    wallet = fold.trip.wallet
    fold.trip = msgspec.structs.replace(
        fold.trip,
        wallet=msgspec.structs.replace(
            wallet, slips=tuple(slip for slip in wallet.slips if slip.id not in lost)
        ),
    )
    for place, done in enumerate(fold.done):
        if done.event == done_event:
            fold.done[place] = msgspec.structs.replace(done, lost=(*done.lost, offer))
            times = sum(each.times for each in done.receipt.earned if each.offer == offer)
            fold.earned[offer] = max(fold.earned.get(offer, 0) - times, 0)


def _keep_unplanned(fold: Fold) -> None:
    """Whatever lies in the trolley stays: a want's ceiling rises with it, and a product that no
    want accepts becomes a want of its own."""
    wants = {want.id: want for want in fold.trip.wants}
    room = {want.id: most_welcome(want) for want in fold.trip.wants}
    totals: dict[str, int] = {}
    for (_, product), units in sorted(fold.trolley.items()):
        totals[product] = totals.get(product, 0) + units
    for product, units in totals.items():
        takers = sorted(want.id for want in wants.values() if product in want.products)
        for want in takers:
            taken = min(units, room[want])
            room[want] -= taken
            units -= taken
        if not units:
            continue
        if takers:
            held = wants[takers[0]]
            wants[held.id] = msgspec.structs.replace(held, welcome=most_welcome(held) + units)
        else:
            unplanned = Want(id=f"unplanned.{product}"[:80], products=(product,), welcome=units)
            wants[unplanned.id] = unplanned
    fold.trip = msgspec.structs.replace(fold.trip, wants=tuple(wants.values()))
