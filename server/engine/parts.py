"""Parts of a shelf: what a group of wants can buy at a store, remembered.

Writing out every way to buy takes as long as a solver's question, and a report in the aisle changes
one group of wants: the parts of the others are those of the plan before.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict

import msgspec

from .bundles import columns
from .offers import Product, ShelfPrice, Want
from .situation import most_welcome
from .ways import Column, Counter


class Part(msgspec.Struct, frozen=True):
    """``columns``: every way to buy, by key; ``whole``: whether they are all; ``number``: the same for the
    same content, the counter's included."""

    columns: list[Column]
    whole: bool
    number: int


_PARTS: OrderedDict[bytes, Part] = OrderedDict()
_MOST_PARTS = 1_000
_numbers = iter(range(1, 2**53))


def part_at(counter: Counter, products: list[tuple[Product, ShelfPrice | None]], wants: list[Want]) -> Part:
    """What the wants can buy at a counter that is narrowed to them. ``products``: each with its tag."""
    welcome = [(want.id, want.products, most_welcome(want)) for want in wants]
    question = hashlib.blake2b(msgspec.msgpack.encode((counter, products, welcome)), digest_size=16).digest()
    if question in _PARTS:
        _PARTS.move_to_end(question)
        return _PARTS[question]
    found, whole = columns(products, counter, wants)
    _PARTS[question] = Part(found, whole, next(_numbers))
    if len(_PARTS) > _MOST_PARTS:
        _PARTS.popitem(last=False)
    return _PARTS[question]


def forget() -> None:
    """No part is remembered: for benches."""
    _PARTS.clear()
