"""The household's books: what every trip came to, every note, and what is kept at home, in one place.

Everything in ``after/`` is reckoned from these facts alone, all of them, each time: a report that is
taken back, or a note that is corrected, changes whatever followed from it.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from ..engine.offers import (
    Coupon,
    PercentOffer,
    Product,
    Rebate,
    RewardOffer,
    ShelfPrice,
    Store,
    Wallet,
)
from .notes import Note, standing
from .purchases import Bought


class AtHome(msgspec.Struct, frozen=True, kw_only=True):
    """What the household keeps beside its trips: offers and papers typed in at the Desk, in its ``currency``.
    ``coupons`` have the copies that are in hand by now (``home/binder.py``)."""

    stores: tuple[Store, ...] = ()
    products: tuple[Product, ...] = ()
    coupons: tuple[Coupon, ...] = ()
    percent_offers: tuple[PercentOffer, ...] = ()
    rewards: tuple[RewardOffer, ...] = ()
    rebates: tuple[Rebate, ...] = ()
    tags: tuple[ShelfPrice, ...] = ()
    wallet: Wallet = Wallet()
    currency: str = "USD"
    exponent: int = 2


class Books(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """All facts. ``trips``: in the order of their days; ``rows``: every note as written, in order of arrival;
    ``notes``: those that hold. What is reckoned from them stays with them (``once.py``)."""

    trips: tuple[Bought, ...]
    rows: tuple[Note, ...]
    notes: tuple[Note, ...]
    at_home: AtHome

    def trip(self, trip: str) -> Bought | None:
        """What was bought on one trip; None where there is no such trip."""
        return next((each for each in self.trips if each.trip.id == trip), None)

    def with_note(self, note: Note) -> Books:
        """As they would be with one row more."""
        return open_books(self.trips, (*self.rows, note), self.at_home)


def open_books(trips: Iterable[Bought], rows: Iterable[Note] = (), at_home: AtHome | None = None) -> Books:
    """The books of all facts there are."""
    rows = tuple(rows)
    return Books(
        trips=tuple(sorted(trips, key=lambda each: (each.trip.day, each.trip.id))),
        rows=rows,
        notes=standing(rows),
        at_home=at_home or AtHome(),
    )
