"""The strip that says what was just kept, with its undo."""

from __future__ import annotations

import msgspec

from ...homes import Home

MOST_BATCHES = 50  # back to which a page still offers the undo


class Strip(msgspec.Struct, frozen=True, kw_only=True):
    """``batch``: to take back; ``words``: what it did."""

    batch: int
    words: str


async def taken_back_strip(home: Home, batch: int) -> Strip | None:
    """What a batch did, where it can still be taken back."""
    if batch <= 0:
        return None
    for each in await home.kept.batches(MOST_BATCHES):
        if each.number == batch and not each.taken_back:
            return Strip(batch=batch, words=each.words)
    return None
