"""One transaction of the program: its variables and sums, and the shelf that it buys from."""

from __future__ import annotations

import msgspec

from .offers import Product, RewardOffer, ShelfPrice
from .program import Sum
from .ways import Column, Counter


class Block(msgspec.Struct):
    """The variables and sums of one transaction.

    ``columns``: variable per column, in the counter's order. ``units``: per product; ``at_tag``: those
    that no rain check pays for. ``uses``: per coupon, multiplied or not. ``earned``: per reward and
    tier, times. ``gift_cards``: cents of those on sale, where slips do not pay for them.
    ``merchandise``: cents; ``tax``: 1/``scale`` cents.
    """

    columns: list[int]
    units: dict[str, Sum]
    at_tag: dict[str, Sum]
    uses: dict[str, Sum]
    offers: dict[str, Sum]
    rain_checks: dict[str, Sum]
    earned: dict[tuple[str, int], int]
    basket_uses: dict[str, Sum]
    gift_cards: Sum
    merchandise: Sum
    tax: Sum
    used: int

    scale: int

    def due(self) -> Sum:
        """What the register asks for, in parts of a cent where the block stands apart."""
        return Sum({}).plus(self.merchandise, self.scale).plus(self.tax)


class Shelf(msgspec.Struct, frozen=True):
    """What a component buys from at one store: its counter, tags, products, columns and rewards.

    ``whole``: whether every way to buy is among the columns."""

    counter: Counter
    tags: dict[str, ShelfPrice | None]
    products: dict[str, Product]
    columns: list[Column]
    rewards: tuple[RewardOffer, ...]
    most_units: int
    whole: bool


# Apart from the rest of its transaction a cluster's tax cannot be rounded yet: it is reckoned in
# sixteenths of a cent, rounded down per column, so that it never exceeds the exact tax.
APART_SCALE = 16
