"""What trips cost and what was saved, so that every cent is counted once.

    shelf        the tags' regular prices: what a shopper without any deal would have paid
    - sales      down to what the tags asked after their own deals (rain checks too)
    - store      percent offers, the store's coupons, the extra part of a multiplied coupon
    - maker      manufacturer coupons
    = goods      + tax + unexplained = paid

*Shelf* is the tag's ``regular_cents`` where that is known, else the tag itself: an unknown regular price
saves nothing. *Unexplained* is what a register showed beyond (below zero: under) its papers; for what
our rules would have refused, the receipt stands without coupons, and what they took off is in here.
Bought without a plan: what was paid is the shelf price. Rewards and rebates are no part of "paid".
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import msgspec

from ..engine.offers import Trip
from ..engine.papers import AdjustmentKind
from ..engine.shelf import tag_in_force
from .books import Books
from .notes import Note, UnplannedPurchase
from .once import once
from .purchases import Purchase
from .refunds import refunds


class Spending(msgspec.Struct, frozen=True, kw_only=True):
    """Cents of one or several transactions; see the module."""

    transactions: int = 0
    shelf: int = 0
    sales: int = 0
    store: int = 0
    maker: int = 0
    goods: int = 0
    tax: int = 0
    unexplained: int = 0
    paid: int = 0
    given_back: int = 0
    rewards: int = 0

    @property
    def saved(self) -> int:
        """What came off the shelf price: sales, store and maker."""
        return self.sales + self.store + self.maker

    def __add__(self, other: Spending) -> Spending:
        return Spending(
            **{name: getattr(self, name) + getattr(other, name) for name in self.__struct_fields__}
        )


class Spent(msgspec.Struct, frozen=True, kw_only=True):
    """One trip's spending, or one unplanned purchase's (``trip`` is "" then)."""

    trip: str
    title: str
    day: str
    currency: str
    exponent: int
    spending: Spending


@once
def spent(books: Books) -> Sequence[Spent]:
    """Every trip with a transaction and every unplanned purchase, by day."""
    stores = {store.id: store.name for each in books.trips for store in each.trip.stores}
    came = {(refund.trip, refund.event): refund.came_cents for refund in refunds(books)}
    found = [
        _spent(
            each.trip,
            sum_of([_of_purchase(p, came.get((p.trip, p.event), 0)) for p in each.purchases]),
        )
        for each in books.trips
        if each.purchases
    ]
    found.extend(
        _unplanned(note, note.what, stores.get(note.what.store) or note.what.store)
        for note in books.notes
        if isinstance(note.what, UnplannedPurchase)
    )
    return sorted(found, key=lambda each: (each.day, each.trip))


def sum_of(parts: list[Spending]) -> Spending:
    """All of them together."""
    total = Spending()
    for part in parts:
        total += part
    return total


def iso_week(day: str) -> str:
    """The ISO 8601 week that a day lies in: "2026-W44"; the turn of the year may lie in the other's."""
    week = date.fromisoformat(day).isocalendar()
    return f"{week.year}-W{week.week:02d}"


def monday(day: str) -> str:
    """The first day of the ISO week that a day lies in."""
    when = date.fromisoformat(day)
    return (when - timedelta(days=when.weekday())).isoformat()


def _spent(trip: Trip, spending: Spending) -> Spent:
    return Spent(
        trip=trip.id,
        title=trip.title or trip.id,
        day=trip.day,
        currency=trip.currency,
        exponent=trip.exponent,
        spending=spending,
    )


def _unplanned(note: Note, what: UnplannedPurchase, store: str) -> Spent:
    goods = sum(line.cents for line in what.lines)
    return Spent(
        trip="",
        title=f"Without a plan, at {store}",
        day=note.day,
        currency=what.currency,
        exponent=what.exponent,
        spending=Spending(
            transactions=1,
            shelf=goods,
            goods=goods,
            tax=what.tax_cents,
            paid=goods + what.tax_cents,
            rewards=sum(slip.cents for slip in what.slips),
        ),
    )


_STORES_MONEY: frozenset[AdjustmentKind] = frozenset(("percent_offer", "store_coupon", "multiplied"))


@once
def _of_purchase(purchase: Purchase, given_back: int) -> Spending:
    transaction, receipt = purchase.transaction, purchase.receipt
    issuers = {coupon.id: coupon.issuer for coupon in transaction.coupons}
    shelf = sales = store = maker = 0
    for unit in receipt.units:
        tag = tag_in_force(transaction.prices, purchase.store, unit.product, purchase.day)
        regular = 0 if tag is None else tag.cents if tag.regular_cents is None else tag.regular_cents
        regular = max(regular, unit.tag_cents)
        shelf += regular
        sales += regular - unit.tag_cents
        for each in unit.adjustments:
            if each.kind == "sale":
                sales += each.cents
            elif each.kind in _STORES_MONEY or issuers.get(each.source) == "store":
                store += each.cents
            else:
                maker += each.cents
    return Spending(
        transactions=1,
        shelf=shelf,
        sales=sales,
        store=store,
        maker=maker,
        goods=receipt.merchandise_cents,
        tax=receipt.tax_cents,
        unexplained=purchase.unexplained_cents,
        paid=purchase.paid_cents,
        given_back=given_back,
        rewards=rewards_of(purchase),
    )


def rewards_of(purchase: Purchase) -> int:
    """Face value of the rewards that came out: slips as printed, cards and points as earned."""
    slips = sum(slip.cents for slip in purchase.slips)
    return slips + sum(earned.cents for earned in purchase.earned if earned.kind != "slip")
