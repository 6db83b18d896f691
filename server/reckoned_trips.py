"""Each trip's facts: reckoned once for its content and its number of events, and kept (``store/facts.py``).

A restart reads what was kept. Facts are reckoned anew where the trip changed or heard something, where
the household's currency is another (prices are kept in one), and where the program reckons otherwise than
the one that kept them: the kept facts carry a digest of the modules that they follow from.
"""

from __future__ import annotations

import asyncio
import hashlib
import time
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path

import msgspec

from .after.books import open_books
from .after.facts import price_facts, stock_moves
from .after.purchases import Bought, bought
from .engine.papers import Event, Report
from .fact_rows import copies_moved, price_rows, stock_rows
from .home.binder import CopiesMove
from .homes import Home
from .plans import trip_of
from .store.facts import Facts, PriceRow, StockRow, TripState
from .store.interface import Store, StoredEvent, StoredTrip

READ_TOGETHER = 50  # documents: a few megabytes
_read_report = msgspec.json.Decoder(Report).decode


class TripFacts(msgspec.Struct, frozen=True, kw_only=True):
    """The document that is kept of a trip: what was bought, and what it did to the copies of coupons."""

    bought: Bought
    copies: tuple[CopiesMove, ...] = ()


_read_facts = msgspec.json.Decoder(TripFacts).decode
# Equal facts are equal bytes: ``rebuild`` tells by them whether anything was off.
_write_facts = msgspec.json.Encoder(order="deterministic").encode
_Key = tuple[str, int, str]


class ReckonedTrips:
    """The facts of all trips behind the Desk."""

    def __init__(self, store: Store, facts: Facts, home: Home) -> None:
        self._store = store
        self._facts = facts
        self._home = home
        self._known: dict[str, tuple[_Key, TripFacts]] = {}
        self._all: tuple[TripFacts, ...] = ()
        self._one_at_a_time = asyncio.Lock()

    async def refresh(self, *, gently: bool = False) -> str:
        """Reckons the facts of stale trips and keeps them; tells how it reckons. ``gently``: rests after each
        trip as long as it took, so that whoever asks meanwhile is not kept waiting."""
        reckoned_as, _ = await self._refreshed(gently)
        return reckoned_as

    async def all(self, *, gently: bool = False) -> tuple[TripFacts, ...]:
        """The facts of every trip, brought up to what is known, in the order of the trips' days: the very
        same tuple as before where nothing changed."""
        reckoned_as, states = await self._refreshed(gently)
        unread = [each.id for each in states if not self._is_known(each, reckoned_as)]
        for first in range(0, len(unread), READ_TOGETHER):
            some = unread[first : first + READ_TOGETHER]
            documents = await self._facts.trip_facts(*some)
            read = await asyncio.to_thread(_decoded, documents)
            for each in states:
                if each.id in read:
                    self._known[each.id] = (_key(each, reckoned_as), read[each.id])
                elif each.id in some:  # what stands there cannot be read
                    await self._bring_up(each, reckoned_as)
        found = tuple(self._known[each.id][1] for each in states if each.id in self._known)
        if len(found) != len(self._all) or any(a is not b for a, b in zip(found, self._all, strict=True)):
            self._all = found
        return self._all

    async def _refreshed(self, gently: bool) -> tuple[str, Sequence[TripState]]:
        settings = (await self._home.snapshot()).settings
        reckoned_as = f"{digest_of_reckoning()}/{settings.currency}"
        states = await self._facts.trip_states(reckoned_as)
        for each in states:
            if each.stale:
                began = time.monotonic()
                await self._bring_up(each, reckoned_as)
                if gently:
                    await asyncio.sleep(time.monotonic() - began)
        return reckoned_as, states

    async def _bring_up(self, trip: TripState, reckoned_as: str) -> None:
        async with self._one_at_a_time:
            if self._is_known(trip, reckoned_as):  # another page was quicker
                return
            stored = await self._store.trip(trip.id)
            if stored is None:
                return
            heard = await self._store.events_of(trip.id)
            currency = reckoned_as.rpartition("/")[2]
            # The register prices every transaction again: milliseconds for each, seconds for years of them.
            found, document, prices, stock = await asyncio.to_thread(_reckoned, stored, heard, currency)
            await self._facts.keep_trip_facts(trip, reckoned_as, document, prices, stock)
            self._known[trip.id] = (_key(trip, reckoned_as), found)

    def _is_known(self, trip: TripState, reckoned_as: str) -> bool:
        known = self._known.get(trip.id)
        return known is not None and known[0] == _key(trip, reckoned_as)


@cache
def digest_of_reckoning() -> str:
    """Names how this program reckons facts: a digest of the modules that they follow from."""
    here = Path(__file__).parent
    own = (here / f"{name}.py" for name in ("fact_rows", "reckoned_notes", "reckoned_trips"))
    modules = [*here.glob("engine/*.py"), *here.glob("after/*.py"), *own]
    digest = hashlib.sha256()
    for module in sorted(modules):
        digest.update(f"{module.name}\0".encode() + module.read_bytes())
    return digest.hexdigest()[:16]


def _key(trip: TripState, reckoned_as: str) -> _Key:
    return trip.content, trip.events, reckoned_as


def _reckoned(
    stored: StoredTrip, heard: Sequence[StoredEvent], currency: str
) -> tuple[TripFacts, bytes, list[PriceRow], list[StockRow]]:
    """A trip's facts, their document, and the rows that are kept beside it."""
    found = bought(trip_of(stored), _events(heard))
    facts = TripFacts(bought=found, copies=tuple(copies_moved(found, {event.id: event for event in heard})))
    alone = open_books((found,))
    return (
        facts,
        _write_facts(facts),
        price_rows(price_facts(alone), currency),
        stock_rows(stock_moves(alone)),
    )


def _decoded(documents: Mapping[str, bytes]) -> dict[str, TripFacts]:
    """Those that can be read."""
    found: dict[str, TripFacts] = {}
    for trip, document in documents.items():
        try:
            found[trip] = _read_facts(document)
        except msgspec.DecodeError:
            continue
    return found


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
