"""What all trips came to: their purchases, and what follows from them for larder and binder.

``refresh`` brings prices, stock and copies up to what was heard of every trip (``reckoned_trips.py``); a page
calls it before it shows them. ``books`` has every trip with its purchases, every note and what is kept at
home, for what is reckoned from all of them (balances, claims): the same books as long as nothing changed, so
that what was reckoned from them stands.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping, Sequence

import msgspec

from .after.balances import Balances, balances
from .after.books import AtHome, Books, open_books
from .after.notes import Note
from .engine.offers import Coupon, Wallet
from .fact_rows import tag_row
from .home.binder import Binder, CopiesMove, InHand, binder, copies_left, in_hand
from .home.larder import StapleState, states, watched_since
from .homes import Home, Snapshot
from .reckoned_notes import ReckonedNotes
from .reckoned_trips import ReckonedTrips, TripFacts
from .store.facts import Facts, PriceRow, StockRow
from .store.interface import Store

MOST_LARDERS = 4  # days that stay reckoned: today, and those of trips in the making


class _Opened(msgspec.Struct, frozen=True, kw_only=True):
    """Books beside all that they were opened from."""

    trips: tuple[TripFacts, ...]
    rows: tuple[Note, ...]
    snapshot: Snapshot
    books: Books


async def _no_notes() -> Sequence[Note]:
    return ()


class Ledger:
    """All trips behind the Desk. ``notes``: what the household wrote down itself, in order of arrival."""

    def __init__(
        self,
        store: Store,
        facts: Facts,
        home: Home,
        notes: Callable[[], Awaitable[Sequence[Note]]] = _no_notes,
    ) -> None:
        self._facts = facts
        self._home = home
        self._notes = notes
        self._trips = ReckonedTrips(store, facts, home)
        self._of_notes = ReckonedNotes(facts, notes)
        self._opened: _Opened | None = None
        self._typed: dict[tuple[str, int], str] = {}
        self._larders: dict[str, tuple[Snapshot, Sequence[StockRow], Sequence[StapleState]]] = {}

    async def refresh(self) -> None:
        """Brings prices, stock and copies up to what is known of every trip and note."""
        await self._of_notes.refresh(await self._trips.refresh())

    async def warm(self) -> None:
        """Makes the facts of trips and notes ready, a trip at a time, resting in between."""
        await self._trips.all(gently=True)
        await self.refresh()
        await self.books()

    async def binder(self, snapshot: Snapshot, today: str) -> Binder:
        """Every coupon with what is left of it."""
        moves, typed_at = await self._copies_and_counts(snapshot)
        return binder(snapshot.coupons.values(), snapshot.coupon_marks, typed_at, moves, today)

    async def coupon(self, snapshot: Snapshot, coupon: Coupon, today: str) -> InHand:
        """One coupon with what is left of it."""
        moves = [move for move in await self.copies() if move.coupon == coupon.id]
        typed_at = await self._typed_at(snapshot, coupon) if moves else ""
        return in_hand(coupon, snapshot.coupon_marks.get(coupon.id), typed_at, moves, today)

    async def copies(self) -> list[CopiesMove]:
        """What every trip did to the copies of coupons."""
        return [move for each in await self._trips.all() for move in each.copies]

    async def balances(self, today: str) -> Balances:
        """Slips, gift cards and rain checks as they stand today."""
        return balances(await self.books(), today)

    async def books(self) -> Books:
        """Every trip, every note, and what is kept at home, coupons with the copies that are left."""
        trips = await self._trips.all()
        snapshot = await self._home.snapshot()
        rows = tuple(await self._notes())
        last = self._opened
        if last is None or last.trips is not trips or last.rows != rows or last.snapshot is not snapshot:
            moves, typed_at = await self._copies_and_counts(snapshot)
            left = copies_left(snapshot.coupons.values(), snapshot.coupon_marks, typed_at, moves)
            books = open_books((each.bought for each in trips), rows, at_home(snapshot, left))
            last = self._opened = _Opened(trips=trips, rows=rows, snapshot=snapshot, books=books)
        return last.books

    async def _copies_and_counts(self, snapshot: Snapshot) -> tuple[list[CopiesMove], dict[str, str]]:
        """What trips did to copies, and when those of each coupon that they touched were typed."""
        moves = await self.copies()
        touched = {move.coupon for move in moves} & snapshot.coupons.keys()
        return moves, {id: await self._typed_at(snapshot, snapshot.coupons[id]) for id in sorted(touched)}

    async def _typed_at(self, snapshot: Snapshot, coupon: Coupon) -> str:
        """When the copies that stand in the record were first typed (ISO 8601)."""
        key = (coupon.id, snapshot.revisions.get(("coupon", coupon.id), 0))
        if key not in self._typed:
            at = ""
            for _, written, _, document in await self._home.kept.versions("coupon", coupon.id):
                if document is None or _read_coupon(document).copies != coupon.copies:
                    break
                at = written
            self._typed[key] = at
        return self._typed[key]

    async def larder(self, snapshot: Snapshot, today: str) -> Sequence[StapleState]:
        """Every staple as it stands, by name. Call ``refresh`` before."""
        moves = await self._facts.recent_stock(watched_since(today))
        last = self._larders.get(today)
        if last is not None and last[0] is snapshot and last[1] == moves:
            return last[2]
        weeks = snapshot.settings.weeks_between_trips
        staples = sorted(snapshot.staples.values(), key=lambda staple: (staple.name.lower(), staple.id))
        found = states(staples, snapshot.products, moves, weeks, today)
        if len(self._larders) >= MOST_LARDERS:
            self._larders.clear()
        self._larders[today] = (snapshot, moves, found)
        return found

    async def prices(
        self, snapshot: Snapshot, products: Sequence[str], today: str, since: str = ""
    ) -> list[PriceRow]:
        """The prices of those products from ``since`` until ``today``, by day: what trips saw and paid, what
        was typed, and the household's own tags from their first day on. Call ``refresh`` before."""
        kept = await self._facts.prices_of(*products, since=since)
        wanted = set(products)
        tags = [
            tag_row(tag, today)
            for tag in snapshot.prices.values()
            if tag.product in wanted and (tag.from_date or today) <= today
        ]
        rows = [row for row in (*kept, *tags) if since <= row.day <= today]
        return sorted(rows, key=lambda row: (row.day, row.store, row.product, row.how))


_read_coupon = msgspec.json.Decoder(Coupon).decode


def at_home(snapshot: Snapshot, copies: Mapping[str, int]) -> AtHome:
    """The household's records as the books want them. ``copies``: those left of each coupon."""
    settings = snapshot.settings
    return AtHome(
        currency=settings.currency,
        exponent=settings.exponent,
        stores=tuple(snapshot.stores.values()),
        products=tuple(snapshot.products.values()),
        coupons=tuple(
            msgspec.structs.replace(coupon, copies=copies.get(coupon.id, coupon.copies))
            for coupon in snapshot.coupons.values()
        ),
        percent_offers=tuple(snapshot.percent_offers.values()),
        rewards=tuple(snapshot.rewards.values()),
        rebates=tuple(snapshot.rebates.values()),
        tags=tuple(snapshot.prices.values()),
        wallet=Wallet(
            slips=tuple(snapshot.slips.values()),
            gift_cards=tuple(snapshot.gift_cards.values()),
            rain_checks=tuple(snapshot.rain_checks.values()),
        ),
    )
