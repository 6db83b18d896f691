"""The receipts against the plan: what went otherwise, why, and whether money back is worth asking for.

The plan is the one she left home with; each of its transactions is laid beside the one of the same
number at the same store. A difference's ``cents`` is what it adds to the register's total (below zero:
takes off) where that is known by itself, else None: how goods changed places among coupons has no one price.
The whole always has: planned, reckoned from what was bought, shown.

Worked: planned 2 soaps at 2.00 less a coupon of 0.50, 3.50. Bought 2 at 2.20 without the coupon: 4.40
reckoned; tag +0.40, coupon +0.50. The register showed 4.60: ask for 0.20.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Literal

import msgspec

from ..engine.deals import wants_of_products
from ..engine.money import show
from ..engine.offers import Trip
from ..engine.papers import (
    Earned,
    Event,
    NeedChanged,
    Plan,
    PlannedTransaction,
    RainCheckTaken,
    ShelfEmpty,
    Transaction,
)
from ..engine.shelf import tag_in_force
from .books import Books
from .purchases import Purchase
from .refunds import Refund, refunds, store_name

DifferenceKind = Literal[
    "not bought",
    "missing",
    "swapped",
    "unplanned",
    "price",
    "coupon not used",
    "coupon added",
    "offer not used",
    "reward",
    "total",
    "refused",
]


class Difference(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that went otherwise, in a sentence. ``subject``: the product, coupon or offer ("" for the
    whole). ``cents``: what it adds to the register's total, None where it has no price of its own."""

    kind: DifferenceKind
    subject: str
    words: str
    cents: int | None = None


class Compared(msgspec.Struct, frozen=True, kw_only=True):
    """One transaction beside its plan. Either side may be missing. Cents are the register's totals."""

    store: str
    number: int
    event: str
    planned_cents: int | None
    reckoned_cents: int | None
    paid_cents: int | None
    differences: tuple[Difference, ...]


class TripCompared(msgspec.Struct, frozen=True, kw_only=True):
    """A whole trip beside its plan; ``planned`` says whether there was a plan to compare with."""

    trip: str
    planned: bool
    planned_cents: int
    paid_cents: int
    transactions: tuple[Compared, ...]
    refunds: tuple[Refund, ...]


def compared(books: Books, trip: str, plan: Plan | None) -> TripCompared | None:
    """A trip's receipts against the plan that she left home with; None where there is no such trip."""
    found = books.trip(trip)
    if found is None:
        return None
    planned = {} if plan is None else {(each.store, each.number): each for each in plan.transactions}
    done = {(purchase.store, purchase.number): purchase for purchase in found.purchases}
    transactions = tuple(
        _compared(found.trip, found.events, spot, planned.get(spot), done.get(spot), plan is not None)
        for spot in dict.fromkeys((*planned, *done))
    )
    return TripCompared(
        trip=trip,
        planned=plan is not None,
        planned_cents=sum(each.planned_cents or 0 for each in transactions),
        paid_cents=sum(purchase.paid_cents for purchase in found.purchases),
        transactions=transactions,
        refunds=tuple(refund for refund in refunds(books) if refund.trip == trip),
    )


def _compared(
    trip: Trip,
    events: Sequence[Event],
    spot: tuple[str, int],
    planned: PlannedTransaction | None,
    done: Purchase | None,
    has_plan: bool,
) -> Compared:
    differences: list[Difference] = []
    store = store_name(trip, spot[0])
    if done is None:
        differences.append(
            Difference(kind="not bought", subject="", words=f"This transaction at {store} was not made.")
        )
    else:
        if planned is not None:
            differences.extend(_goods(trip, events, planned.transaction, done.transaction))
            differences.extend(_prices(trip, planned.transaction, done.transaction))
            differences.extend(_papers(trip, planned, done))
            differences.extend(_rewards(trip, planned.receipt.earned, done))
        elif has_plan:
            words = f"The plan had no such transaction at {store}."
            differences.append(Difference(kind="unplanned", subject="", words=words))
        differences.extend(_total(trip, done))
    return Compared(
        store=spot[0],
        number=spot[1],
        event="" if done is None else done.event,
        planned_cents=None if planned is None else planned.receipt.total_cents,
        reckoned_cents=None if done is None else done.reckoned_cents,
        paid_cents=None if done is None else done.paid_cents,
        differences=tuple(differences),
    )


def _units(transaction: Transaction) -> Counter[str]:
    units: Counter[str] = Counter()
    for line in transaction.lines:
        units[line.product] += line.units
    return units


def _goods(
    trip: Trip, events: Sequence[Event], planned: Transaction, done: Transaction
) -> Iterator[Difference]:
    """Goods missing, swapped for others of the same want, or beyond the plan."""
    fewer, more = _units(planned) - _units(done), _units(done) - _units(planned)
    names = {product.id: product.description or product.id for product in (*trip.products, *done.products)}
    wants = wants_of_products(trip)
    for product in sorted(fewer):
        want = wants.get(product)
        why = _because(events, done.store.id, product, None if want is None else want.id)
        for other in sorted(more):
            swapped = min(fewer[product], more[other])
            if want is None or other not in want.products or not swapped:
                continue
            words = f"{swapped} × {names[other]} instead of {names.get(product, product)}{why}."
            yield Difference(kind="swapped", subject=other, words=words)
            fewer[product] -= swapped
            more[other] -= swapped
        if fewer[product]:
            words = f"{fewer[product]} × {names.get(product, product)} not bought here{why}."
            yield Difference(kind="missing", subject=product, words=words)
    for product in sorted(more):
        if more[product]:
            words = f"{more[product]} × {names[product]} more than planned here."
            yield Difference(kind="unplanned", subject=product, words=words)


def _because(events: Sequence[Event], store: str, product: str, want: str | None) -> str:
    """What she reported that explains missing goods, as the end of a sentence."""
    why = ""
    for event in events:
        match event.what:
            case RainCheckTaken(store=at, product=of) if (at, of) == (store, product):
                why = ": the shelf was empty, a rain check was taken"
            case ShelfEmpty(store=at, product=of) if (at, of) == (store, product):
                why = ": the shelf was empty"
            case NeedChanged(want=of, need=0, welcome=0) if of == want:
                why = ": left for another time"
            case _:
                pass
    return why


def _prices(trip: Trip, planned: Transaction, done: Transaction) -> Iterator[Difference]:
    """Tags that asked otherwise than planned, on the units bought both ways; before what comes off."""
    both = _units(planned) & _units(done)
    names = {product.id: product.description or product.id for product in done.products}
    for product in sorted(both):
        before = tag_in_force(planned.prices, planned.store.id, product, planned.day)
        after = tag_in_force(done.prices, done.store.id, product, done.day)
        if before is None or after is None:
            continue
        if before.cents != after.cents:
            was, now = (show(tag.cents, trip.currency, trip.exponent) for tag in (before, after))
            words = f"{names[product]}: the tag showed {now}, planned {was}."
            cents = (after.cents - before.cents) * both[product]
            yield Difference(kind="price", subject=product, words=words, cents=cents)
        elif before.deal != after.deal:
            words = f"{names[product]}: the tag's deal was another than planned."
            yield Difference(kind="price", subject=product, words=words)


def _papers(trip: Trip, planned: PlannedTransaction, done: Purchase) -> Iterator[Difference]:
    """Coupons and percent offers that were planned and not used, or used and not planned."""
    before = Counter(use.coupon for use in planned.transaction.uses)
    after = Counter(use.coupon for use in done.transaction.uses)
    names = {c.id: c.description or c.id for c in (*planned.transaction.coupons, *done.transaction.coupons)}
    worth = Counter[str]()
    for taken in planned.receipt.coupons:
        worth[taken.coupon] += taken.cents
    got = Counter[str]()
    for taken in done.receipt.coupons:
        got[taken.coupon] += taken.cents
    for coupon, copies in sorted((before - after).items()):
        cents = worth[coupon] - got[coupon]
        words = f"Coupon not used{_times(copies)}: {names[coupon]}"
        if cents > 0:
            words += f", {show(cents, trip.currency, trip.exponent)} of the plan"
        yield Difference(
            kind="coupon not used", subject=coupon, words=f"{words}.", cents=cents if cents > 0 else None
        )
    for coupon, copies in sorted((after - before).items()):
        cents = worth[coupon] - got[coupon]
        words = f"Coupon used that was not planned{_times(copies)}: {names[coupon]}."
        yield Difference(kind="coupon added", subject=coupon, words=words, cents=cents if cents < 0 else None)
    offers = {offer.id: offer.description or offer.id for offer in planned.transaction.percent_offers}
    used = {use.offer for use in done.transaction.offer_uses}
    for offer in sorted({use.offer for use in planned.transaction.offer_uses} - used):
        yield Difference(
            kind="offer not used", subject=offer, words=f"Percent offer not used: {offers[offer]}."
        )


def _times(copies: int) -> str:
    return "" if copies == 1 else f" ({copies} copies)"


def _rewards(trip: Trip, planned: Sequence[Earned], done: Purchase) -> Iterator[Difference]:
    """Rewards that came out otherwise than planned. They are no part of the register's total."""
    names = {offer.id: offer.description or offer.id for offer in (*trip.rewards, *done.transaction.rewards)}
    before, after = _by_offer(planned), _by_offer(done.earned)
    for offer in sorted(before.keys() | after.keys()):
        was, now = before.get(offer, 0), after.get(offer, 0)
        if was != now:
            shown = [show(cents, trip.currency, trip.exponent) for cents in (now, was)]
            words = f"Reward {names.get(offer, offer)}: {shown[0]} came out, planned {shown[1]}."
            yield Difference(kind="reward", subject=offer, words=words)


def _by_offer(earned: Sequence[Earned]) -> dict[str, int]:
    cents: dict[str, int] = {}
    for each in earned:
        cents[each.offer] = cents.get(each.offer, 0) + each.cents
    return cents


def _total(trip: Trip, done: Purchase) -> Iterator[Difference]:
    """The register's total beside ours."""
    if done.refused:
        words = f"By our house rules the register would have refused this: {done.refused}"
        yield Difference(kind="refused", subject="", words=words)
        return
    over = done.unexplained_cents
    if over:
        more = "more" if over > 0 else "less"
        asked = show(abs(over), trip.currency, trip.exponent)
        words = f"The register showed {asked} {more} than its papers come to."
        yield Difference(kind="total", subject="", words=words, cents=over)
