"""What notes say of prices and stock: kept when a note is written, and reckoned anew where the household's
currency is another since (prices are kept in one), or where the program reckons otherwise."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Sequence

from .after.books import open_books
from .after.facts import price_facts, stock_moves
from .after.notes import Counted, Note, UnplannedPurchase, UsedUp, standing
from .fact_rows import price_rows, stock_rows
from .store.facts import Facts, PriceRow, StockRow

OF_GOODS = (UnplannedPurchase, Counted, UsedUp)
Rows = tuple[list[PriceRow], list[StockRow]]


class ReckonedNotes:
    """The facts of all notes behind the Desk."""

    def __init__(self, facts: Facts, notes: Callable[[], Awaitable[Sequence[Note]]]) -> None:
        self._facts = facts
        self._notes = notes
        self._reckoned_as = ""

    async def refresh(self, reckoned_as: str) -> None:
        """Brings them up to ``reckoned_as``: how the program reckons, a stroke, the household's currency."""
        if self._reckoned_as == reckoned_as:
            return
        if await self._facts.notes_reckoned_as() != reckoned_as:
            rows = await self._notes()
            currency = reckoned_as.rpartition("/")[2]
            found = await asyncio.to_thread(_of_all, rows, currency)
            if not await self._facts.keep_note_facts(reckoned_as, len(rows), found):
                return  # a note was written meanwhile: the next page does it
        self._reckoned_as = reckoned_as


def rows_of(notes: Sequence[Note], currency: str) -> Rows:
    """Prices and stock of the notes that hold."""
    alone = open_books((), notes)
    return price_rows(price_facts(alone), currency), stock_rows(stock_moves(alone))


def _of_all(rows: Sequence[Note], currency: str) -> dict[str, Rows]:
    goods = [note for note in standing(rows) if isinstance(note.what, OF_GOODS)]
    return {note.id: rows_of([note], currency) for note in goods}
