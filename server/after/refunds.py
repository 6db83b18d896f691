"""Money to ask back: what a register asked for beyond what its papers come to.

Only where our register could price what was sent: a refused transaction has no total to compare with.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import msgspec

from ..engine.money import show
from ..engine.offers import Trip
from .books import Books
from .notes import RefundAsked, RefundState
from .once import once
from .purchases import Purchase


class Refund(msgspec.Struct, frozen=True, kw_only=True):
    """The register asked for more than the papers explain. ``state``: "worth asking for" until a
    ``RefundAsked`` says otherwise; ``came_cents``: what was paid back."""

    trip: str
    event: str
    store: str
    day: str
    cents: int
    state: Literal["worth asking for"] | RefundState
    came_cents: int
    words: str
    currency: str
    exponent: int


@once
def refunds(books: Books) -> tuple[Refund, ...]:
    """Every transaction that cost more than its receipt explains, the oldest first."""
    asked: dict[tuple[str, str], list[RefundAsked]] = {}
    for note in books.notes:
        if isinstance(note.what, RefundAsked):
            asked.setdefault((note.what.trip, note.what.done), []).append(note.what)
    found: list[Refund] = []
    for each in books.trips:
        for purchase in each.purchases:
            notes = asked.get((purchase.trip, purchase.event), [])
            over = 0 if purchase.reckoned_cents is None else purchase.unexplained_cents
            if over <= 0 and not notes:
                continue
            found.append(_refund(each.trip, purchase, max(over, 0), notes))
    return tuple(found)


def _refund(trip: Trip, purchase: Purchase, over: int, notes: Sequence[RefundAsked]) -> Refund:
    store = store_name(trip, purchase.store)
    came = sum(note.cents for note in notes if note.state == "paid")
    cents = over or max(note.cents for note in notes)
    state = notes[-1].state if notes else "worth asking for"
    money = show(cents, trip.currency, trip.exponent)
    words = {
        "worth asking for": f"{store} asked for {money} more than the papers explain: show them the receipt.",
        "asked": f"Asked {store} for {money}.",
        "paid": f"{store} gave back {show(came, trip.currency, trip.exponent)}.",
        "refused": f"{store} would not give back {money}.",
    }[state]
    return Refund(
        trip=trip.id,
        event=purchase.event,
        store=purchase.store,
        day=purchase.day,
        cents=cents,
        state=state,
        came_cents=came,
        words=words,
        currency=trip.currency,
        exponent=trip.exponent,
    )


def store_name(trip: Trip, store: str) -> str:
    """What a store of the trip is called."""
    return next((each.name for each in trip.stores if each.id == store), "") or store
