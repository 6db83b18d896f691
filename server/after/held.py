"""The papers in the wallet as nouns, and the key that names each for good."""

from __future__ import annotations

import hashlib
from typing import Literal

import msgspec

from .notes import PaperState

SlipState = Literal["in hand", "spent"] | PaperState
LONGEST_ID = 80  # characters, as ``offers.Id``


class HeldSlip(msgspec.Struct, kw_only=True):
    """A reward slip: ``key`` names it for good. ``came_from``: in words; ``since``: the day it came;
    ``gone``: the day it was spent, or noted as gone ("" while in hand)."""

    key: str
    store: str
    cents: int
    until: str | None
    offer: str | None
    trip: str
    since: str
    came_from: str
    state: SlipState = "in hand"
    gone: str = ""


class CardMove(msgspec.Struct, frozen=True, kw_only=True):
    """What changed a card's balance: ``cents`` is the change, ``left`` the balance after it."""

    day: str
    words: str
    cents: int
    left: int


class HeldCard(msgspec.Struct, kw_only=True):
    """A gift card with its balance."""

    key: str
    store: str
    cents: int
    moves: list[CardMove]


class HeldRainCheck(msgspec.Struct, kw_only=True):
    """A rain check: ``units`` still to be had at ``cents`` each; ``taken`` of them at first."""

    key: str
    store: str
    product: str
    cents: int
    until: str | None
    trip: str
    since: str
    taken: int
    units: int
    used: int = 0
    lost: int = 0


def key_of(origin: str, paper: str) -> str:
    """The key of a paper that ``origin`` (a trip, a note) brought: ``origin.paper``, shortened by a hash
    where that is no id any more."""
    whole = f"{origin}.{paper}"
    if len(whole) <= LONGEST_ID:
        return whole
    digest = hashlib.sha256(whole.encode()).hexdigest()[:16]
    return f"{whole[: LONGEST_ID - 17]}.{digest}"
