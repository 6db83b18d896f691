"""What all trips came to, read once: their purchases, and what follows from them for larder and binder.

``refresh`` reckons the facts of trips that changed or heard something since (``store/facts.py`` names them)
and keeps them; a page calls it before it shows prices, stock or copies. ``books`` has every trip with its
purchases, for what is reckoned from all of them (balances, claims); each trip's are worked out once for
its content and its number of events, and kept while the server runs.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Iterable, Iterator, Sequence

import msgspec

from .after.books import AtHome, Books, open_books
from .after.facts import MoveKind, PriceFact, PriceSource, StockMove, price_facts, stock_moves
from .after.notes import Note
from .after.purchases import Bought, bought
from .engine.offers import Wallet
from .engine.papers import CouponCopies, CouponFound, Event, Report
from .home.binder import CopiesMove, earlier
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
        self._one_at_a_time = asyncio.Lock()

    async def refresh(self) -> None:
        """Brings prices, stock and copies up to what is known of every trip."""
        if not await self._facts.stale_trips():
            return
        async with self._one_at_a_time:
            currency = (await self._home.snapshot()).settings.currency
            for stale in await self._facts.stale_trips():
                await self._keep(stale, currency)

    async def copies(self) -> list[CopiesMove]:
        """What every trip did to the copies of coupons. Call ``refresh`` before."""
        documents = await self._facts.trip_facts()
        return [move for document in documents for move in _read_facts(document).copies]

    async def books(self) -> Books:
        """Every trip, every note, and what is kept at home."""
        async with self._one_at_a_time:
            trips = [
                await self._bought_on(trip.id, trip.content, trip.events)
                for trip in await self._store.trips()
            ]
        known = [found for found in trips if found is not None]
        return open_books(known, await self._notes(), at_home(await self._home.snapshot()))

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


_read_facts = msgspec.json.Decoder(TripFacts).decode


def at_home(snapshot: Snapshot) -> AtHome:
    """The household's records as the books want them."""
    return AtHome(
        coupons=tuple(snapshot.coupons.values()),
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
