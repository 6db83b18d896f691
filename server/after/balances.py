"""What is in the wallet: slips, gift cards and rain checks over all trips, each with its history.

A paper has one *key* for good. What a trip's wallet lists keeps its own id; what a trip brings (a printed
slip, a loaded card, a rain check taken) is keyed by the trip and its id there, because the same offer prints
again next week. The proposal for a next trip lists papers under their keys, so that they are known again.
A wallet typed by hand is known again too where store, cents and last day are those of the paper.

What a trip's wallet says is believed from that day on: a card's balance there replaces what was reckoned.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from ..engine.offers import GiftCard, RainCheck, Slip, Trip, Wallet
from ..engine.shelf import holds_on
from ..engine.situation import house_of
from .books import Books
from .held import HeldCard, HeldRainCheck, HeldSlip
from .notes import Note, UnplannedPurchase
from .once import once
from .purchases import Bought
from .purse import Purse


class Balances(msgspec.Struct, frozen=True, kw_only=True):
    """All papers that ever were, in the order in which they came, as they stand on ``day``."""

    day: str
    slips: tuple[HeldSlip, ...]
    cards: tuple[HeldCard, ...]
    rain_checks: tuple[HeldRainCheck, ...]

    def slips_in_hand(self) -> list[HeldSlip]:
        """Slips that can be spent, the one that lapses first in front."""
        return sorted((slip for slip in self.slips if slip.state == "in hand"), key=_soonest)

    def rain_checks_in_hand(self) -> list[HeldRainCheck]:
        """Rain checks with units left, the one that ends first in front."""
        return sorted(
            (each for each in self.rain_checks if each.units and holds_on(self.day, None, each.until)),
            key=_soonest,
        )


@once
def balances(books: Books, day: str) -> Balances:
    """The papers as they stand on ``day``, after all that was reported so far."""
    purse = Purse()
    purse.at_home(books.at_home.wallet)
    for _, _, fact in sorted(_timeline(books), key=lambda each: each[:2]):
        if isinstance(fact, Note):
            purse.note(fact)
        else:
            purse.trip(fact)
    for slip in purse.slips.values():
        if slip.state == "in hand" and not holds_on(day, None, slip.until):
            slip.state = "lapsed"
            slip.gone = slip.until or ""
    return Balances(
        day=day,
        slips=tuple(purse.slips.values()),
        cards=tuple(purse.cards.values()),
        rain_checks=tuple(purse.rain_checks.values()),
    )


def next_wallet(books: Books, day: str, stores: Sequence[str], cash_cents: int | None = None) -> Wallet:
    """What to carry on ``day`` to ``stores``: what can be spent there and then, lapsing soonest first.

    Stores are the houses whose papers are asked for; a channel's are those of its store."""
    held = balances(books, day)
    return Wallet(
        slips=tuple(
            Slip(id=slip.key, store=slip.store, cents=slip.cents, until=slip.until, offer=slip.offer)
            for slip in held.slips_in_hand()
            if slip.store in stores
        ),
        gift_cards=tuple(
            GiftCard(id=card.key, store=card.store, cents=card.cents)
            for card in held.cards
            if card.cents and card.store in stores
        ),
        rain_checks=tuple(
            RainCheck(
                id=each.key,
                store=each.store,
                product=each.product,
                cents=each.cents,
                units=each.units,
                until=each.until,
            )
            for each in held.rain_checks_in_hand()
            if each.store in stores
        ),
        cash_cents=cash_cents,
    )


def _soonest(paper: HeldSlip | HeldRainCheck) -> tuple[str, str]:
    return (paper.until or "9999-12-31", paper.key)


def _timeline(books: Books) -> Iterator[tuple[str, int, Bought | Note]]:
    """Trips and notes by day; on one day what was bought without a plan, the trips, then the rest."""
    for trip in books.trips:
        yield trip.trip.day, 1, trip
    for note in books.notes:
        yield note.day, 0 if isinstance(note.what, UnplannedPurchase) else 2, note


def houses(trip: Trip) -> tuple[str, ...]:
    """The stores whose papers pay on a trip."""
    return tuple(dict.fromkeys(house_of(store) for store in trip.stores))
