"""The demo household's trips that are over: planned by the planner, rung up by the register, noted at home.

``demo/earlier.json`` has what was wanted, the tags and offers of those days, what was found empty, and which
coupon a register did not take. Every figure follows from it: what went through the registers is the plan's,
and a total that differs is the register's own, of the same transaction without that coupon.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta

import msgspec

from .after.balances import houses, next_wallet
from .after.books import open_books
from .after.notes import Note, NoteId, PurchaseLine, UnplannedPurchase
from .after.purchases import Bought, bought
from .engine.offers import (
    Coupon,
    DateText,
    Id,
    Product,
    Rebate,
    RewardOffer,
    ShelfPrice,
    Text,
    Trip,
    Wallet,
    Want,
)
from .engine.papers import Event, Happened, Line, Receipt, Refusal, Report, Transaction, TransactionDone
from .engine.planner import plan
from .engine.register import price

DEVICE = "phone-of-the-example"
_FIRST_REPORT = "T10:00:00+00:00"
_BETWEEN_REPORTS = timedelta(minutes=12)


class _Short(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A trip without what it shares with the demo's week: ``stores`` by id, ``products`` new to it only."""

    id: Id
    title: Text
    day: DateText
    stores: tuple[Id, ...]
    prices: tuple[ShelfPrice, ...]
    wants: tuple[Want, ...]
    products: tuple[Product, ...] = ()
    coupons: tuple[Coupon, ...] = ()
    rewards: tuple[RewardOffer, ...] = ()
    rebates: tuple[Rebate, ...] = ()


class _Earlier(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """``reports``: noted in the aisle. ``not_taken``: coupons that a register did not take."""

    trip: _Short
    reports: tuple[Report, ...] = ()
    not_taken: tuple[Id, ...] = ()


class _Unplanned(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Bought without a plan at the tags of the trip ``tags_of``."""

    id: NoteId
    day: DateText
    tags_of: Id
    store: Id
    units: Mapping[Id, int]
    words: Text = ""


class EarlierTrips(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """``demo/earlier.json``."""

    trips: tuple[_Earlier, ...]
    bought: tuple[_Unplanned, ...]
    notes: tuple[Note, ...]

    def products(self) -> tuple[Product, ...]:
        """The products that the demo's week does not have."""
        return tuple(product for earlier in self.trips for product in earlier.trip.products)


class Over(msgspec.Struct, frozen=True, kw_only=True):
    """A trip that is over, with the phone's reports in order."""

    trip: Trip
    events: tuple[Event, ...]


def trips_that_are_over(earlier: EarlierTrips, week: Trip) -> tuple[Over, ...]:
    """The trips, one after the other: each carries what those before it left in the wallet.

    ``week``: the demo's own trip, whose stores, products and settings they share. Asks the solver, for less
    than a second.
    """
    over: list[Over] = []
    before: list[Bought] = []
    for each in earlier.trips:
        trip = _whole(each.trip, week, earlier.products())
        trip = msgspec.structs.replace(trip, wallet=_carried(before, trip))
        events = _with_ids(trip, _what_happened(trip, each))
        over.append(Over(trip=trip, events=events))
        before.append(bought(trip, events))
    return tuple(over)


def notes_at_home(earlier: EarlierTrips, over: Sequence[Over]) -> tuple[Note, ...]:
    """What was written down at home, purchases without a plan among it, by day."""
    trips = {each.trip.id: each.trip for each in over}
    unplanned = (_unplanned(each, trips[each.tags_of]) for each in earlier.bought)
    return tuple(sorted((*unplanned, *earlier.notes), key=lambda note: note.day))


def _whole(short: _Short, week: Trip, new: Sequence[Product]) -> Trip:
    stores = {store.id: store for store in week.stores}
    products = {product.id: product for product in (*week.products, *new)}
    tagged = dict.fromkeys(tag.product for tag in short.prices)
    return Trip(
        id=short.id,
        title=short.title,
        day=short.day,
        currency=week.currency,
        exponent=week.exponent,
        region=week.region,
        stores=tuple(stores[store] for store in short.stores),
        products=tuple(products[product] for product in tagged),
        prices=short.prices,
        wants=short.wants,
        coupons=short.coupons,
        rewards=short.rewards,
        rebates=short.rebates,
        settings=week.settings,
    )


def _carried(before: Sequence[Bought], trip: Trip) -> Wallet:
    wallet = next_wallet(open_books(before), trip.day, houses(trip))
    printed_here = {reward.id for reward in trip.rewards}
    slips = tuple(
        slip if slip.offer in printed_here else msgspec.structs.replace(slip, offer=None)
        for slip in wallet.slips
    )
    return msgspec.structs.replace(wallet, slips=slips)


def _what_happened(trip: Trip, earlier: _Earlier) -> Iterator[Report]:
    yield from earlier.reports
    found = plan(trip, Happened(tuple(("", report) for report in earlier.reports)))
    for planned in found.transactions:
        taken = _without(planned.transaction, earlier.not_taken)
        differs = taken != planned.transaction
        yield TransactionDone(
            transaction=planned.transaction,
            shown_total_cents=_rung_up(taken).total_cents if differs else None,
        )


def _without(transaction: Transaction, coupons: Sequence[str]) -> Transaction:
    left = tuple(use for use in transaction.uses if use.coupon not in coupons)
    return msgspec.structs.replace(transaction, uses=left)


def _rung_up(transaction: Transaction) -> Receipt:
    receipt = price(transaction)
    if isinstance(receipt, Refusal):
        raise ValueError(f"{transaction.store.id} on {transaction.day}: {receipt.sentence}")
    return receipt


def _unplanned(purchase: _Unplanned, trip: Trip) -> Note:
    store = next(each for each in trip.stores if each.id == purchase.store)
    receipt = _rung_up(
        Transaction(
            store=store,
            day=purchase.day,
            products=trip.products,
            prices=tuple(tag for tag in trip.prices if tag.store == store.id),
            lines=tuple(Line(product=product, units=units) for product, units in purchase.units.items()),
            region=trip.region,
            currency=trip.currency,
            exponent=trip.exponent,
        )
    )
    lines = tuple(
        PurchaseLine(
            product=product,
            units=units,
            cents=sum(unit.paid_cents for unit in receipt.units if unit.product == product),
        )
        for product, units in purchase.units.items()
    )
    what = UnplannedPurchase(
        store=store.id,
        lines=lines,
        tax_cents=receipt.tax_cents,
        currency=trip.currency,
        exponent=trip.exponent,
        words=purchase.words,
    )
    return Note(id=purchase.id, day=purchase.day, what=what)


def _with_ids(trip: Trip, reports: Iterator[Report]) -> tuple[Event, ...]:
    events: list[Event] = []
    at = datetime.fromisoformat(f"{trip.day}{_FIRST_REPORT}")
    for counter, report in enumerate(reports, start=1):
        events.append(
            Event(
                id=_uuid7(at, f"{trip.id} {counter}"),
                device=DEVICE,
                counter=counter,
                at=at.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
                trip=trip.id,
                what=report,
            )
        )
        at += _BETWEEN_REPORTS
    return tuple(events)


def _uuid7(at: datetime, name: str) -> str:
    """A UUIDv7 (RFC 9562) of that moment whose random bits come from ``name``: the same each time."""
    drawn = int.from_bytes(hashlib.sha256(name.encode()).digest()[:10])
    milliseconds = int(at.timestamp() * 1000)
    high = milliseconds << 80 | 7 << 76 | (drawn >> 62 & 0xFFF) << 64
    return str(uuid.UUID(int=high | 0b10 << 62 | drawn & (1 << 62) - 1))
