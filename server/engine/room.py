"""Room: how many units, offers and coupons can stand together in one transaction at most.

A bundle is written out whole (``bundles.py``), and of many units there are very many groups. Most could
never be bought: the wants welcome fewer units, an offer holds for fewer, of a coupon there are fewer
copies. What has no room is not listed; no plan is lost by it.

Worked: a coupon for three of four goods, of each of which one unit is welcome: of the 20 groups
of three, 4 have room.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from .offers import BasketOff, Product, ShelfPrice, Want
from .situation import most_welcome
from .unit_states import UnitState, multiplications
from .ways import Counter, Level, asks_for, parts


class Member(msgspec.Struct, frozen=True):
    """A unit in a bundle."""

    product: str
    level: Level
    unit: UnitState


class Room(msgspec.Struct, frozen=True):
    """What one transaction has room for. ``limits``: the most units per mark; what is not named has
    no limit. ``takers``: the want of each product that only one want takes."""

    limits: dict[str, int]
    takers: dict[str, str]

    def holds(self, members: Sequence[Member]) -> bool:
        """Whether these units, and perhaps others, can go through the register together."""
        counts: dict[str, int] = {}
        for member in members:
            for mark in self._marks(member):
                counts[mark] = counts.get(mark, 0) + 1
                if counts[mark] > self.limits.get(mark, counts[mark]):
                    return False
        return True

    def _marks(self, member: Member) -> list[str]:
        """Everything of which a unit takes one."""
        marks = [f"product {member.product}"]
        if member.product in self.takers:
            marks.append(f"want {self.takers[member.product]}")
        if not member.level.rain_check:
            marks.append(f"tag {member.product}")
        marks.extend(f"offer {percent.source}" for percent in member.unit.percents)
        marks.extend(f"slot {slot.part} {slot.coupon}" for slot in member.unit.slots)
        return marks


def room_at(counter: Counter, products: list[tuple[Product, ShelfPrice | None]], wants: list[Want]) -> Room:
    """The room at a counter for what the wants welcome; ``products``: each with its tag."""
    limits: dict[str, int] = {}
    takers: dict[str, str] = {}
    for product, tag in products:
        own = [want for want in wants if product.id in want.products]
        limits[f"product {product.id}"] = sum(most_welcome(want) for want in own)
        if len(own) == 1:
            takers[product.id] = own[0].id
        if tag is not None and tag.per_transaction is not None:
            limits[f"tag {product.id}"] = tag.per_transaction
    for want in wants:
        limits[f"want {want.id}"] = most_welcome(want)
    for offer in counter.offers:
        if offer.units_per_transaction is not None:
            limits[f"offer {offer.id}"] = offer.units_per_transaction
    for coupon in counter.coupons:
        asked = any(asks_for(ask.products, product.id) for ask in coupon.asks for product, _ in products)
        if isinstance(coupon.gives, BasketOff) or not asked:
            continue
        most = [coupon.copies, coupon.per_transaction, counter.store.rules.like_coupons_per_transaction]
        uses = min(each for each in most if each is not None)
        for multiplied in multiplications(coupon, counter):
            for index, part in enumerate(parts(coupon, counter, multiplied)):
                mark = f"slot {index} {coupon.id}"
                limits[mark] = max(uses * part.count, limits.get(mark, 0))
    return Room(limits, takers)
