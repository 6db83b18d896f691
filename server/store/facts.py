"""What trips and notes come to, kept where a list of years can be asked quickly: prices and stock.

Rows belong to a ``source``: ``typed`` or ``import-7`` (true here and nowhere else), ``trip:ID`` or
``note:ID`` (reckoned, by ``after/``, from events or a note). Rows of a reckoned source are replaced
whole whenever what they were reckoned from has changed, so that a corrected report corrects
everything that followed from it. ``trip_facts`` keeps one document for each trip beside the content
and number of events that it was reckoned from, and of how; a trip in another state is *stale*.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol, runtime_checkable

import msgspec


class PriceRow(msgspec.Struct, frozen=True, kw_only=True):
    """A price on a day: ``cents`` on the tag; ``each_cents``: one unit once the deal on the tag is used.
    ``how``: where it was seen ("tag" of a trip, "aisle", "paid", "typed", "import")."""

    product: str
    store: str
    day: str
    cents: int
    each_cents: int
    how: str


class StockRow(msgspec.Struct, frozen=True, kw_only=True):
    """``units`` more or fewer of a product at home from a day on. ``how``: "bought", "used", "counted"."""

    product: str
    day: str
    units: int
    how: str


# By the id of a note, what it says of prices and stock.
NoteFacts = Mapping[str, tuple[Sequence[PriceRow], Sequence[StockRow]]]


class TripState(msgspec.Struct, frozen=True, kw_only=True):
    """What a trip's facts are reckoned from, and whether those that are kept are of another state."""

    id: str
    content: str
    events: int
    stale: bool


class PriceHead(msgspec.Struct, frozen=True, kw_only=True):
    """A product's prices at a glance: how many since a day, the lowest ``each_cents`` of them, and the last
    day with its lowest."""

    product: str
    prices: int
    lowest_cents: int
    last_day: str
    last_cents: int
    last_store: str


@runtime_checkable
class Facts(Protocol):
    """Prices seen, stock, and each trip's facts."""

    async def trip_states(self, reckoned_as: str) -> Sequence[TripState]:
        """Every trip in the order of their days. Stale are those that changed or heard something since their
        facts were reckoned, and those whose facts were reckoned otherwise than ``reckoned_as`` tells."""
        ...

    async def keep_trip_facts(
        self,
        trip: TripState,
        reckoned_as: str,
        document: bytes,
        prices: Sequence[PriceRow],
        stock: Sequence[StockRow],
    ) -> None:
        """Replaces all that came from a trip."""
        ...

    async def trip_facts(self, *trips: str) -> Mapping[str, bytes]:
        """The documents kept of those trips, by trip."""
        ...

    async def notes_reckoned_as(self) -> str:
        """How the facts of all notes were last reckoned, "" where they never were."""
        ...

    async def keep_note_facts(self, reckoned_as: str, notes: int, found: NoteFacts) -> bool:
        """Replaces all that came from notes, unless another number of them is here by now: then False."""
        ...

    async def replace(self, source: str, prices: Sequence[PriceRow], stock: Sequence[StockRow]) -> None:
        """Replaces all that came from a source; empty lists take it out."""
        ...

    async def add_prices(self, source: str, prices: Sequence[PriceRow]) -> int:
        """Adds to a source; how many were new (a price of the same day, place and source is replaced)."""
        ...

    async def prices_of(self, *products: str, since: str = "") -> Sequence[PriceRow]:
        """The history of those products, by day, then store."""
        ...

    async def price_heads(
        self, products: Sequence[str], since: str, until: str = "9999-12-31"
    ) -> Sequence[PriceHead]:
        """What a list tells of each of those products that has a price until that day."""
        ...

    async def add_stock(self, source: str, stock: Sequence[StockRow]) -> None:
        """Adds to a source's moves, after those that are there."""
        ...

    async def recent_stock(self, since: str) -> Sequence[StockRow]:
        """Of every product the moves from its last count on or before ``since``, or from the first where it
        was not counted until then; by day, on one day first what trips brought, then what was typed."""
        ...

    async def stock_of(self, *products: str) -> Sequence[StockRow]:
        """The moves of those products, by day."""
        ...

    async def all_stock(self) -> Sequence[StockRow]: ...
