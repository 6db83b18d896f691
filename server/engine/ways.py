"""Ways: what a legal way to buy one unit is. ``unit_states.py`` finds them all, priced exactly.

A *way* is one unit of one product at one store with everything that touches it: the price
level its tag's deal gives it, percent offers, its place (*slot*) in store coupons and in
manufacturer coupons. The plan counts ways; a coupon that asks for several units has one
slot for each, and the program ties the slots of a use together. So a stack (the group of
units that share coupons) needs no list of its own: any stack is a sum of ways.

That works because a register's discounts on one unit do not depend on its neighbours,
but for one case, written out whole (``bundles.py``): a cents-off coupon over several units
whose share would be more than one of them costs.
"""

from __future__ import annotations

from collections.abc import Collection

import msgspec

from .coupons import face_cents
from .money import share
from .offers import (
    BasketOff,
    CentsOff,
    Coupon,
    FixedPrice,
    FreeItem,
    PercentOff,
    PercentOffer,
    RainCheck,
    Store,
)


class Level(msgspec.Struct, frozen=True):
    """The price of one unit after step 1, and which part of its tag's deal it plays.

    ``role``: plain | first (gets an odd cent) | group | rest (tag price beside a must-buy
    group) | full, reduced (buy one get one) | rain_check.
    """

    role: str
    cents: int
    rain_check: str = ""


class Slot(msgspec.Struct, frozen=True):
    """A unit's place in a use of a coupon.

    ``leg``: the requirement it fills; ``part``: which share of the value it takes; ``multiplied``:
    whether this use is one that the house multiplies; ``left_before``: what the unit cost
    when the coupon came to it, by which the register picks the cheapest.
    """

    coupon: str
    leg: int
    part: int
    multiplied: bool = False
    free: bool = False
    left_before: int = 0


class Part(msgspec.Struct, frozen=True):
    """One kind of slot of a coupon: ``count`` of them in each use, each with this share."""

    count: int
    cents: int = 0
    extra: int = 0
    free: bool = False


class OfferOn(msgspec.Struct, frozen=True):
    """A percent offer (or percent store coupon) on a unit: the base it is reckoned on and the cents.

    ``capped``: no more was left of the unit, so how the register rounds is not seen here."""

    source: str
    bp: int
    base: int
    cents: int
    capped: bool = False


class Way(msgspec.Struct, frozen=True):
    """One unit with all that touches it. ``cost`` is paid before tax (negative: overage that
    goes to the basket); ``spends`` its spend by the three measures; ``taxable`` what tax is on;
    ``surplus_lowers_tax``: whether overage on it lowers what the others are taxed on."""

    store: str
    product: str
    level: Level
    percents: tuple[OfferOn, ...]
    slots: tuple[Slot, ...]
    cost: int
    taxable: int
    spends: tuple[int, int, int]
    surplus_lowers_tax: bool = False

    @property
    def key(self) -> str:
        """A name that is the same in both twins and in any order of input."""
        percents = ",".join(f"{each.source}:{each.cents}" for each in self.percents)
        slots = ",".join(
            f"{slot.coupon}:{slot.leg}:{slot.part}:{int(slot.multiplied)}" for slot in self.slots
        )
        level = f"{self.level.role}{self.level.rain_check}"
        return f"{self.store}|{self.product}|{level}:{self.level.cents}|{percents}|{slots}"


class Column(msgspec.Struct, frozen=True):
    """What the program counts: one way, or a bundle of ways that together use whole coupons.

    ``whole_uses``: (coupon, multiplied) of the uses that the bundle is made of, one of each.
    """

    key: str
    ways: tuple[Way, ...]
    whole_uses: tuple[tuple[str, bool], ...] = ()


class Counter(msgspec.Struct, frozen=True):
    """All that holds at one store on the day: what the ways are made of."""

    store: Store
    day: str
    region: str
    coupons: tuple[Coupon, ...]
    offers: tuple[PercentOffer, ...]
    rain_checks: tuple[RainCheck, ...]


def asks_for(products: tuple[str, ...], product: str) -> bool:
    """Whether a list of products has this one; an empty list means everything."""
    return not products or product in products


def asks_for_any(products: tuple[str, ...], names: Collection[str]) -> bool:
    """Whether a list of products has one of these; an empty list means everything."""
    return bool(names) if not products else any(product in names for product in products)


def units_asked(coupon: Coupon) -> int:
    """How many units one use of the coupon claims."""
    return sum(ask.units for ask in coupon.asks)


def is_multiplied(coupon: Coupon, counter: Counter) -> bool:
    """Whether the house multiplies this coupon at all."""
    rule = counter.store.rules.multiplying
    return (
        rule is not None
        and coupon.issuer == "manufacturer"
        and coupon.may_multiply
        and isinstance(coupon.gives, CentsOff)
        and face_cents(coupon.gives, counter.region) <= rule.up_to_cents
    )


def parts(coupon: Coupon, counter: Counter, multiplied: bool) -> list[Part]:
    """The kinds of slot in one use of a coupon, equal shares drawn together."""
    asked = units_asked(coupon)
    match coupon.gives:
        case CentsOff() as gives:
            face = face_cents(gives, counter.region)
            rule = counter.store.rules.multiplying
            extra = face * (rule.times - 1) if multiplied and rule is not None else 0
            counts: dict[tuple[int, int], int] = {}
            for k in range(1, asked + 1):
                pair = (share(face, asked, k), share(extra, asked, k))
                counts[pair] = counts.get(pair, 0) + 1
            return [Part(count, cents, more) for (cents, more), count in counts.items()]
        case FixedPrice(cents=cents):
            shares: dict[int, int] = {}
            for k in range(1, asked + 1):
                shares[share(cents, asked, k)] = shares.get(share(cents, asked, k), 0) + 1
            return [Part(count, each) for each, count in shares.items()]
        case PercentOff():
            return [Part(asked)]
        case FreeItem():
            return [Part(1, free=True)] + ([Part(asked - 1)] if asked > 1 else [])
        case BasketOff():
            return []
