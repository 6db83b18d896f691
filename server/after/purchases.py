"""What was really bought: each transaction that went through, priced again by the register.

The engine's own fold (``history.py``) says what a report changes; ``price`` makes the receipt;
``deals_of`` gives each product its tax and its rewards. What the register showed is what was paid.

Worked: soap at 3.00 less a coupon of 0.50, 7 % tax on 3.00: the receipt says 2.50 + 0.21 = 2.71. Where she
typed 2.81, she paid 2.81, and 0.10 of it no paper explains (``unexplained_cents``).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import msgspec

from ..engine.check import check_transaction
from ..engine.checkout import Paid
from ..engine.deals import deals_of
from ..engine.history import printed_slips, situation_after
from ..engine.measure import measure_in
from ..engine.offers import Product, RewardOffer, SetBonus, ShelfPrice, Slip, Trip, Wallet, Want
from ..engine.papers import (
    Deal,
    Earned,
    Event,
    Happened,
    NotPrinted,
    PayByCash,
    RebateClaim,
    Receipt,
    Refusal,
    Transaction,
    TransactionDone,
    Undone,
)
from ..engine.register import price
from ..engine.shelf import holds_on
from ..engine.situation import Situation
from ..engine.ways import asks_for
from .notes import taken_back
from .once import once


class Purchase(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """One transaction that went through.

    ``receipt``: as reckoned; where the register of our rules refuses what was sent (``refused`` says why),
    the receipt of the same goods without coupons, and ``reckoned_cents`` is None. ``paid_cents``: what the
    register showed, else as reckoned. ``earned``: rewards that really came out, at face.
    ``slips``: those that really came out. ``deals``: per product its tag, register, tax and reward cents,
    rebates apart. ``number``: which transaction of its store on this trip, from 1.
    """

    event: str
    trip: str
    day: str
    store: str
    number: int
    transaction: Transaction
    receipt: Receipt
    reckoned_cents: int | None
    shown_cents: int | None
    paid_cents: int
    refused: str
    earned: tuple[Earned, ...]
    slips: tuple[Slip, ...]
    deals: tuple[Deal, ...]

    @property
    def unexplained_cents(self) -> int:
        """What was paid beyond (below zero: under) the receipt that stands here."""
        return self.paid_cents - self.receipt.total_cents


class Unread(msgspec.Struct, frozen=True):
    """A transaction that was reported and cannot be reckoned with: which event, and why."""

    event: str
    because: str


class Bought(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """A trip's purchases in order. ``trip``: as it stood at the end, with what was found on the way, and in
    its wallet what is left; ``wallet`` and ``tags`` (of the day): as she left home with; ``events``: those
    that hold, in order."""

    trip: Trip
    wallet: Wallet
    tags: tuple[ShelfPrice, ...]
    purchases: tuple[Purchase, ...]
    unread: tuple[Unread, ...]
    events: tuple[Event, ...]


def bought(trip: Trip, happened: Iterable[Event]) -> Bought:
    """What was bought on a trip, from its events (in any order) that were not taken back."""
    events = _in_order(happened)
    gone = taken_back(
        (event.id, event.what.event if isinstance(event.what, Undone) else None) for event in events
    )
    events = [event for event in events if event.id not in gone and not isinstance(event.what, Undone)]
    unread: list[Unread] = []
    sound: list[Event] = []
    stores = {store.id for store in trip.stores}
    for event in events:
        because = _unsound(event, stores)
        if because:
            unread.append(Unread(event.id, because))
        else:
            sound.append(event)
    after = situation_after(trip, Happened(tuple((event.id, event.what) for event in sound))).trip
    lost = {(event.what.done, event.what.offer) for event in sound if isinstance(event.what, NotPrinted)}
    purchases: list[Purchase] = []
    numbers: Counter[str] = Counter()
    for event in sound:
        if not isinstance(event.what, TransactionDone):
            continue
        receipt, refused = _receipt(event.what.transaction)
        if receipt is None:
            unread.append(Unread(event.id, refused))
            continue
        numbers[receipt.store] += 1
        without = {offer for done, offer in lost if done == event.id}
        purchases.append(_purchase(after, event, receipt, refused, numbers[receipt.store], without))
    return Bought(
        trip=after,
        wallet=trip.wallet,
        tags=tuple(tag for tag in trip.prices if holds_on(trip.day, tag.from_date, tag.until)),
        purchases=tuple(purchases),
        unread=tuple(unread),
        events=tuple(sound),
    )


@once
def deals_bought(found: Bought, claims: tuple[RebateClaim, ...]) -> tuple[Deal, ...]:
    """One deal per store and product of a trip, with its share of the rebates that are claimed.

    ``claims``: what each is worth in all stands in its ``cents``, ``times`` 1 (see ``claims.py``).
    Rewards count at the shopper's worth, as in the plan; the cents of ``unexplained_cents`` are nobody's.
    """
    trip = _with_goods_of(found.trip, [purchase.transaction for purchase in found.purchases])
    at_face = msgspec.structs.replace(trip.settings.worth, rebate_bp=10_000)
    trip = msgspec.structs.replace(
        trip,
        settings=msgspec.structs.replace(trip.settings, worth=at_face),
        set_bonuses=tuple(_on_this_trip(found, bonus) for bonus in trip.set_bonuses),
    )
    stops = [Paid(purchase.transaction, _as_it_came(purchase)) for purchase in found.purchases]
    return _deals(trip, stops, claims)


def _on_this_trip(found: Bought, bonus: SetBonus) -> SetBonus:
    """The bonus over those of its rebates that the trip's own goods count for: they alone can bear it."""
    goods = {line.product for purchase in found.purchases for line in purchase.transaction.lines}
    bear = {
        rebate.id
        for rebate in found.trip.rebates
        if any(asks_for(rebate.products, product) for product in goods)
    }
    return msgspec.structs.replace(bonus, rebates=tuple(name for name in bonus.rebates if name in bear))


def _in_order(happened: Iterable[Event]) -> list[Event]:
    """As every phone folds them: by id, each id once."""
    by_id: dict[str, Event] = {}
    for event in happened:
        by_id.setdefault(event.id, event)
    return [by_id[name] for name in sorted(by_id)]


def _unsound(event: Event, stores: set[str]) -> str:
    """Why a report of a transaction says nothing, "" where it does."""
    if not isinstance(event.what, TransactionDone):
        return ""
    store = event.what.transaction.store.id
    if store not in stores:
        return f"The trip knows no store {store}."
    problems = check_transaction(event.what.transaction)
    return f"It cannot be reckoned ({problems[0].field}: {problems[0].mend})." if problems else ""


def _receipt(transaction: Transaction) -> tuple[Receipt | None, str]:
    """The receipt, and the sentence of the refusal. What the rules forbid may have been done all the same:
    then the goods alone are rung up, at last with cash alone."""
    first = price(transaction)
    if isinstance(first, Receipt):
        return first, ""
    bare = msgspec.structs.replace(transaction, uses=(), offer_uses=())
    for attempt in (bare, msgspec.structs.replace(bare, tenders=(PayByCash(),))):
        again = price(attempt)
        if not isinstance(again, Refusal):
            return again, first.sentence
    return None, first.sentence


def _purchase(
    trip: Trip, event: Event, receipt: Receipt, refused: str, number: int, lost: set[str]
) -> Purchase:
    assert isinstance(event.what, TransactionDone)
    transaction, shown = event.what.transaction, event.what.shown_total_cents
    printed = event.what.printed
    slips = printed_slips(transaction, receipt, number) if printed is None else printed
    purchase = Purchase(
        event=event.id,
        trip=trip.id,
        day=transaction.day,
        store=transaction.store.id,
        number=number,
        transaction=transaction,
        receipt=receipt,
        reckoned_cents=None if refused else receipt.total_cents,
        shown_cents=shown,
        paid_cents=receipt.total_cents if shown is None else shown,
        refused=refused,
        earned=_came_out(transaction, receipt, printed, lost),
        slips=tuple(slip for slip in slips if slip.offer not in lost),
        deals=(),
    )
    whole = _with_goods_of(trip, [transaction])
    deals = _deals(whole, [Paid(transaction, _as_it_came(purchase))], ())
    return msgspec.structs.replace(purchase, deals=deals)


def _came_out(
    transaction: Transaction, receipt: Receipt, printed: Sequence[Slip] | None, lost: set[str]
) -> tuple[Earned, ...]:
    """The rewards that came out. Where she said which slips did, those and no others."""
    kept = [each for each in receipt.earned if each.offer not in lost]
    if printed is None:
        return tuple(kept)
    offers = {offer.id: offer for offer in transaction.rewards}
    known = offers.keys() - lost
    said = Counter((slip.offer, slip.cents) for slip in printed if slip.offer and slip.offer in known)
    slips = [
        Earned(
            offer=offer,
            kind="slip",
            times=times,
            each_cents=cents,
            cents=times * cents,
            why=f"{_called(offers[offer])}: came out as told at the register.",
        )
        for (offer, cents), times in said.items()
    ]
    return (*slips, *(each for each in kept if each.kind != "slip"))


def _called(offer: RewardOffer) -> str:
    return offer.description or offer.id


def _as_it_came(purchase: Purchase) -> Receipt:
    return msgspec.structs.replace(purchase.receipt, earned=purchase.earned)


def _deals(trip: Trip, stops: list[Paid], claims: tuple[RebateClaim, ...]) -> tuple[Deal, ...]:
    # What printed is real, whatever becomes of it: no slip counts as lapsing beforehand.
    settings = msgspec.structs.replace(trip.settings, days_to_next_visit=0)
    return deals_of(Situation(trip=msgspec.structs.replace(trip, settings=settings)), stops, claims)


def _with_goods_of(trip: Trip, transactions: list[Transaction]) -> Trip:
    """The trip with every product that went over the belt, its wants asking only for what they measure."""
    products = {product.id: product for each in transactions for product in each.products}
    products.update({product.id: product for product in trip.products})
    wants = tuple(_measurable(want, products) for want in trip.wants)
    return msgspec.structs.replace(trip, products=tuple(products.values()), wants=wants, wallet=Wallet())


def _measurable(want: Want, products: dict[str, Product]) -> Want:
    """A variant found in the aisle may be sold by another measure than the want's stock-up price."""
    if want.stock_up is None:
        return want
    per = want.stock_up.per
    fits = tuple(
        name for name in want.products if name not in products or measure_in(products[name], per) is not None
    )
    return msgspec.structs.replace(want, products=fits)
