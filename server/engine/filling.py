"""Fillings: what goes into each transaction, before it is packed in belt order."""

from __future__ import annotations

import msgspec

from .block import Shelf
from .levels import Solved
from .model import Model
from .ways import Column


class Filling(msgspec.Struct, frozen=True):
    """One transaction: how many of each column of a shelf, and of each basket coupon."""

    shelf: Shelf
    counts: tuple[tuple[Column, int], ...]
    baskets: dict[str, int]


def fillings(model: Model, answer: Solved) -> list[Filling]:
    """The transactions that an answer's figures mean, those of a store in checkout order."""
    found: list[Filling] = []
    for store, blocks in model.blocks.items():
        shelf = model.shelves[store]
        for block in blocks:
            counts = tuple(
                (column, answer.values[variable])
                for column, variable in zip(shelf.columns, block.columns, strict=True)
                if answer.values[variable]
            )
            baskets = {coupon: uses.value(answer.values) for coupon, uses in block.basket_uses.items()}
            found.append(Filling(shelf, counts, baskets))
    return found
