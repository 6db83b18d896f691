"""What all trips came to, read once: their purchases, and what follows from them for larder and binder.

``refresh`` reckons the facts of trips that changed or heard something since (``store/facts.py`` names them)
and keeps them; a page calls it before it shows prices, stock or copies. ``books`` has every trip with its
purchases, for what is reckoned from all of them (balances, claims); each trip's are worked out once for
its content and its number of events, and kept while the server runs.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Iterable, Iterator, Mapping, Sequence

import msgspec

from .after.balances import Balances, balances
from .after.books import AtHome, Books, open_books
from .after.facts import (
    MoveKind,
    PriceFact,
    PriceSource,
    StockMove,
    after_deal,
    price_facts,
    stock_moves,
)
from .after.notes import Note
from .after.purchases import Bought, bought
from .engine.offers import Coupon, ShelfPrice, Wallet
from .engine.papers import CouponCopies, CouponFound, Event, Report
from .home.binder import Binder, CopiesMove, InHand, binder, copies_left, earlier, in_hand
from .home.larder import StapleState, states, watched_since
from .homes import Home, Snapshot
from .plans import trip_of
from .store.facts import Facts, PriceRow, StaleTrip, StockRow
from .store.interface import Store, StoredEvent

_read_report = msgspec.json.Decoder(Report).decode
_HOW_SEEN: dict[PriceSource, str] = {"tag in a trip": "tag", "seen in the aisle": "aisle", "paid": "paid"}
_HOW_MOVED: dict[MoveKind, str] = {
    "bought": "bought",
    "bought without a plan": "bought",
    "used up": "used",
    "counted": "counted",
}


class TripFacts(msgspec.Struct, frozen=True, kw_only=True):
    """The document that is kept of a trip: what it did to the copies of coupons."""

    copies: tuple[CopiesMove, ...] = ()


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
        self._store = store
        self._facts = facts
        self._home = home
        self._notes = notes
        self._bought: dict[str, tuple[str, int, Bought]] = {}
        self._typed: dict[tuple[str, int], str] = {}
        self._one_at_a_time = asyncio.Lock()

    async def refresh(self) -> None:
        """Brings prices, stock and copies up to what is known of every trip."""
        if not await self._facts.stale_trips():
            return
        async with self._one_at_a_time:
            currency = (await self._home.snapshot()).settings.currency
            for stale in await self._facts.stale_trips():
                await self._keep(stale, currency)

    async def binder(self, snapshot: Snapshot, today: str) -> Binder:
        """Every coupon with what is left of it. Call ``refresh`` before."""
        moves, typed_at = await self._copies_and_counts(snapshot)
        return binder(snapshot.coupons.values(), snapshot.coupon_marks, typed_at, moves, today)

    async def coupon(self, snapshot: Snapshot, coupon: Coupon, today: str) -> InHand:
        """One coupon with what is left of it. Call ``refresh`` before."""
        moves = [move for move in await self.copies() if move.coupon == coupon.id]
        typed_at = await self._typed_at(snapshot, coupon) if moves else ""
        return in_hand(coupon, snapshot.coupon_marks.get(coupon.id), typed_at, moves, today)

    async def copies(self) -> list[CopiesMove]:
        """What every trip did to the copies of coupons. Call ``refresh`` before."""
        documents = await self._facts.trip_facts()
        return [move for document in documents for move in _read_facts(document).copies]

    async def balances(self, today: str) -> Balances:
        """Slips, gift cards and rain checks as they stand today."""
        return balances(await self.books(), today)

    async def books(self) -> Books:
        """Every trip, every note, and what is kept at home, coupons with the copies that are left."""
        await self.refresh()
        async with self._one_at_a_time:
            trips = [
                await self._bought_on(trip.id, trip.content, trip.events)
                for trip in await self._store.trips()
            ]
        snapshot = await self._home.snapshot()
        moves, typed_at = await self._copies_and_counts(snapshot)
        left = copies_left(snapshot.coupons.values(), snapshot.coupon_marks, typed_at, moves)
        known = [found for found in trips if found is not None]
        return open_books(known, await self._notes(), at_home(snapshot, left))

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

    async def larder(self, snapshot: Snapshot, today: str) -> list[StapleState]:
        """Every staple as it stands, by name. Call ``refresh`` before."""
        moves = await self._facts.recent_stock(watched_since(today))
        weeks = snapshot.settings.weeks_between_trips
        staples = sorted(snapshot.staples.values(), key=lambda staple: (staple.name.lower(), staple.id))
        return states(staples, snapshot.products, moves, weeks, today)

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

    async def _keep(self, stale: StaleTrip, currency: str) -> None:
        found = await self._bought_on(stale.id, stale.content, stale.events)
        if found is None:
            return
        heard = {event.id: event for event in await self._store.events_of(stale.id)}
        alone = open_books((found,))
        await self._facts.keep_trip_facts(
            stale,
            msgspec.json.encode(TripFacts(copies=tuple(copies_moved(found, heard)))),
            price_rows(price_facts(alone), currency),
            stock_rows(stock_moves(alone)),
        )

    async def _bought_on(self, trip_id: str, content: str, events: int) -> Bought | None:
        kept = self._bought.get(trip_id)
        if kept is not None and kept[:2] == (content, events):
            return kept[2]
        stored = await self._store.trip(trip_id)
        if stored is None:
            return None
        heard = await self._store.events_of(trip_id)
        # The register prices every transaction again: milliseconds for each, seconds for years of them.
        found = await asyncio.to_thread(lambda: bought(trip_of(stored), _events(heard)))
        self._bought[trip_id] = (stored.content, len(heard), found)
        return found


_read_coupon = msgspec.json.Decoder(Coupon).decode
_read_facts = msgspec.json.Decoder(TripFacts).decode


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


def price_rows(found: Iterable[PriceFact], currency: str) -> list[PriceRow]:
    """Prices as they are kept; those in another currency are not comparable and left out.

    One of several is the next whole cent above its share, so that a stock-up price taken from it is not
    below what it costs. Of several of one place, day and kind, the lowest is kept.
    """
    rows: dict[tuple[str, str, str, PriceSource], PriceRow] = {}
    for each in found:
        if each.currency != currency:
            continue
        each_cents = -(-each.cents // each.units)
        key = (each.product, each.store, each.day, each.source)
        if key in rows and rows[key].each_cents <= each_cents:
            continue
        rows[key] = PriceRow(
            product=each.product,
            store=each.store,
            day=each.day,
            cents=each_cents if each.tag_cents is None else each.tag_cents,
            each_cents=each_cents,
            how=_HOW_SEEN[each.source],
        )
    return list(rows.values())


def tag_row(tag: ShelfPrice, today: str) -> PriceRow:
    """A tag as a price: of its first day, or of today where it just stands."""
    cents, units = after_deal(tag)
    return PriceRow(
        product=tag.product,
        store=tag.store,
        day=tag.from_date or today,
        cents=tag.cents,
        each_cents=-(-cents // units),
        how="tag",
    )


def stock_rows(moves: Iterable[StockMove]) -> list[StockRow]:
    """Moves as they are kept."""
    return [
        StockRow(product=move.product, day=move.day, units=move.units, how=_HOW_MOVED[move.kind])
        for move in moves
    ]


def copies_moved(found: Bought, heard: dict[str, StoredEvent]) -> Iterator[CopiesMove]:
    """What a trip did to the copies of coupons. ``heard``: its events as they arrived, by id.

    Each use is one copy less. Copies found in the store are more, those of the whole trip taken together:
    what was first put down as missing and then found again is no find.
    """
    events = {event.id: event for event in found.events}

    def when(event_id: str) -> str:
        arrived = heard.get(event_id)
        return earlier(events[event_id].at, arrived.received if arrived else "")

    for purchase in found.purchases:
        for use in purchase.transaction.uses:
            yield CopiesMove(coupon=use.coupon, copies=-1, at=when(purchase.event), trip=found.trip.id)
    more: dict[str, tuple[int, str]] = {}
    for event in found.events:
        match event.what:
            case CouponCopies(coupon=coupon, copies=copies):
                pass
            case CouponFound(coupon=peeled):
                coupon, copies = peeled.id, peeled.copies
            case _:
                continue
        more[coupon] = (more.get(coupon, (0, ""))[0] + copies, when(event.id))
    for coupon, (copies, at) in more.items():
        if copies > 0:
            yield CopiesMove(coupon=coupon, copies=copies, at=at, trip=found.trip.id)


def _events(heard: Iterable[StoredEvent]) -> list[Event]:
    """The events that this version can read."""
    found: list[Event] = []
    for event in heard:
        try:
            what = _read_report(event.payload)
        except msgspec.ValidationError:
            continue
        found.append(
            Event(
                id=event.id,
                device=event.device,
                counter=event.counter,
                at=event.at,
                trip=event.trip,
                what=what,
            )
        )
    return found
