"""Uses of coupons and percent offers in a packed transaction: which units each claims, and in which order
they are handed over.

Each unit's slots were reckoned one after the other (``handing_over.py``), and the order of the uses keeps to
that.
"""

from __future__ import annotations

from itertools import pairwise

import msgspec

from .block import Shelf
from .handing_over import in_order, order_matters
from .offers import Coupon, PercentOff
from .papers import OfferUse, Use
from .ways import Slot, Way, parts, units_asked

# How often a claim is put into another use where the first choices leave one over.
_MOST_TRIES = 2_000


class Placed(msgspec.Struct):
    """A unit of a transaction being packed. ``group``: tag of the bundle that it came in, or 0."""

    way: Way
    group: int = 0


class _Claim(msgspec.Struct, frozen=True):
    """A unit that a use claims: its ``place`` on the belt, and which of its way's slots that fills."""

    place: int
    nth: int
    slot: Slot


def uses_of(belt: list[Placed], groups: list[tuple[str, int]], shelf: Shelf) -> list[Use]:
    """Uses of unit coupons in handing-over order: store coupons first, those to be multiplied
    before those that are not."""
    uses: list[tuple[Coupon, list[_Claim]]] = []
    claims = [
        _Claim(place, nth, slot) for place, unit in enumerate(belt) for nth, slot in enumerate(unit.way.slots)
    ]
    held = {coupon.id: coupon for coupon in shelf.counter.coupons}
    for coupon, group in groups:
        uses.append(
            (
                held[coupon],
                [
                    each
                    for each in claims
                    if each.slot.coupon == coupon and each.slot.part < 0 and belt[each.place].group == group
                ],
            )
        )
    for coupon in shelf.counter.coupons:
        for multiplied in (True, False):
            own = [
                each
                for each in claims
                if each.slot.coupon == coupon.id
                and each.slot.multiplied == multiplied
                and each.slot.part >= 0
            ]
            uses.extend((coupon, members) for members in _grouped(coupon, own, shelf))
    ordered = sorted(uses, key=lambda each: (_hand_over(*each), _by_leg(each[1])))
    before = _one_before_the_other(ordered, belt, held)
    return [Use(coupon=coupon.id, units=_by_leg(members)) for coupon, members in in_order(ordered, before)]


def _one_before_the_other(
    uses: list[tuple[Coupon, list[_Claim]]], belt: list[Placed], held: dict[str, Coupon]
) -> set[tuple[int, int]]:
    """Places of uses of which the first must be handed over before the second: so it was reckoned on a unit
    that they share."""
    use_of = {(each.place, each.nth): number for number, (_, members) in enumerate(uses) for each in members}
    before: set[tuple[int, int]] = set()
    for place, unit in enumerate(belt):
        steps: dict[tuple[str, bool], list[int]] = {}
        for nth, slot in enumerate(unit.way.slots):
            coupon = held[slot.coupon]
            in_step_2 = coupon.issuer == "store" and isinstance(coupon.gives, PercentOff)
            steps.setdefault((coupon.issuer, in_step_2), []).append(nth)
        for step in steps.values():
            if order_matters([held[unit.way.slots[nth].coupon] for nth in step]):
                own = [use_of[place, nth] for nth in step if (place, nth) in use_of]
                before.update(pairwise(own))
    return before


def _hand_over(coupon: Coupon, members: list[_Claim]) -> tuple[int, int, str]:
    multiplied = any(each.slot.multiplied for each in members)
    return (0 if coupon.issuer == "store" else 1, 0 if multiplied else 1, coupon.id)


def _grouped(coupon: Coupon, claims: list[_Claim], shelf: Shelf) -> list[list[_Claim]]:
    """The units of each use: with a free unit, the dearest paid ones beside the dearest free
    one, so that the free one is the cheapest of its use; else shares in belt order."""
    if not claims:
        return []
    times = len(claims) // units_asked(coupon)
    kinds = parts(coupon, shelf.counter, claims[0].slot.multiplied)
    uses = [
        _Filling([], [ask.units for ask in coupon.asks], [kind.count for kind in kinds]) for _ in range(times)
    ]
    ordered = sorted(
        claims, key=lambda each: (not each.slot.free, -each.slot.left_before, each.slot.part, each.place)
    )
    tries = _MOST_TRIES

    def filled(number: int) -> bool:
        nonlocal tries
        if number == len(ordered):
            return True
        claim = ordered[number]
        for use in uses:
            if not use.has_room(claim):
                continue
            tries -= 1
            use.take(claim)
            if tries < 0 or filled(number + 1):
                return True
            use.give_back(claim)
        return False

    filled(0)
    # What cannot be handed over is not: the register then says what that costs.
    return [use.members for use in uses if len(use.members) == units_asked(coupon)]


class _Filling(msgspec.Struct):
    """A use of a coupon that is being filled: how many more units of each requirement and of each share."""

    members: list[_Claim]
    legs: list[int]
    shares: list[int]

    def has_room(self, claim: _Claim) -> bool:
        is_there = any(other.place == claim.place for other in self.members)
        return self.legs[claim.slot.leg] > 0 and self.shares[claim.slot.part] > 0 and not is_there

    def take(self, claim: _Claim) -> None:
        self.members.append(claim)
        self.legs[claim.slot.leg] -= 1
        self.shares[claim.slot.part] -= 1

    def give_back(self, claim: _Claim) -> None:
        self.members.remove(claim)
        self.legs[claim.slot.leg] += 1
        self.shares[claim.slot.part] += 1


def _by_leg(members: list[_Claim]) -> tuple[int, ...]:
    """Claimed units, requirement by requirement, each in belt order."""
    return tuple(each.place for each in sorted(members, key=lambda each: (each.slot.leg, each.place)))


def offer_uses_of(belt: list[Placed], offers: dict[str, list[int]], shelf: Shelf) -> list[OfferUse]:
    """Percent offers in the order in which they were reckoned."""
    names = sorted(offers)
    before: set[tuple[int, int]] = set()
    for unit in belt if shelf.counter.store.rules.percent_base == "left" else ():
        own = [names.index(each.source) for each in unit.way.percents if each.source in offers]
        before.update(pairwise(own))
    uses = [OfferUse(offer=name, units=tuple(offers[name])) for name in names]
    return in_order(uses, before)
