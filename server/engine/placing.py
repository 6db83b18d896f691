"""Step 2 of the planner, remembered: how what is bought at a group of houses lies in transactions.

A report in the aisle changes what is bought at one house; at the others everything lies where it lay.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict

import msgspec

from .block import Shelf
from .filling import Filling
from .offers import Want
from .rounding import exchanged
from .situation import Situation
from .solver import side_by_side
from .spreading import Bought, Spread, by_houses, put_in_place, spread


class Placed(msgspec.Struct, frozen=True):
    """The transactions of a group of houses, and the same with goods exchanged for the rounding of tax."""

    filled: list[Filling]
    other: list[Filling]


_PLACED: OrderedDict[bytes, Placed | None] = OrderedDict()
_MOST_PLACED = 100


def placed(
    situation: Situation, shelves: dict[str, Shelf], wants: list[Want], bought: Bought, wholly: bool = False
) -> list[Placed] | None:
    """What is bought as transactions, per group of houses; None where it cannot be put together.

    ``bought`` and ``wholly``: as in ``spreading.py``."""
    shared = _shared_by_all(situation)
    groups = by_houses(situation, bought)
    keys = [_key(shared, wholly, group) for group in groups]
    unknown = [place for place, key in enumerate(keys) if key not in _PLACED]
    spreads = (spread(situation, shelves, wants, groups[place], wholly) for place in unknown)
    answers = side_by_side(lambda each: _place(situation, each), spreads)
    found = {key: _PLACED[key] for key in keys if key in _PLACED}
    found.update((keys[place], answer) for place, answer in zip(unknown, answers, strict=True))
    for key, answer in found.items():
        _PLACED[key] = answer
        _PLACED.move_to_end(key)
    while len(_PLACED) > _MOST_PLACED:
        _PLACED.popitem(last=False)
    answers = [found[key] for key in keys]
    together = [each for each in answers if each is not None]
    return together if len(together) == len(answers) else None


def _place(situation: Situation, spreading: Spread) -> Placed | None:
    filled = put_in_place(spreading)
    return None if filled is None else Placed(filled, exchanged(situation, spreading, filled))


def _shared_by_all(situation: Situation) -> bytes:
    """What a spread may depend on beside the goods, as a short key. Neither the trolley nor an empty shelf
    is in it: what is bought is known."""
    everything = (
        situation.trip,
        situation.done,
        sorted(situation.used.items()),
        sorted(situation.earned.items()),
        sorted(situation.offer_transactions.items()),
    )
    return hashlib.blake2b(msgspec.msgpack.encode(everything)).digest()


def _key(shared: bytes, wholly: bool, bought: Bought) -> bytes:
    counts = sorted((spot, count) for spot, (_, count) in bought.items())
    return hashlib.blake2b(msgspec.msgpack.encode((shared, wholly, counts))).digest()


def forget() -> None:
    """No transaction is remembered: for benches."""
    _PLACED.clear()
