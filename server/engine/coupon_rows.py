"""Coupons in the program: which units a use claims together, and how many uses a transaction takes."""

from __future__ import annotations

from collections import Counter

from .block import Block, Shelf
from .offers import BasketOff, Coupon, FreeItem
from .program import Program, Sum, added, one
from .ways import Slot, Way, parts, units_asked


def coupon_uses(program: Program, block: Block, placed: list[tuple[int, Way]], shelf: Shelf) -> None:
    """Slots of a use go together; limits per transaction; how many the house multiplies."""
    rules = shelf.counter.store.rules
    slots: dict[tuple[str, bool], list[tuple[int, Slot]]] = {}
    often: dict[tuple[str, bool], dict[int, list[int]]] = {}
    for variable, way in placed:
        own = Counter((slot.coupon, slot.multiplied) for slot in way.slots if slot.part >= 0)
        for slot in way.slots:
            if slot.part >= 0:
                slots.setdefault((slot.coupon, slot.multiplied), []).append((variable, slot))
        for use, count in own.items():
            if count > 1:
                often.setdefault(use, {}).setdefault(count, []).append(variable)
    wholes: dict[tuple[str, bool], Sum] = {}
    for variable, column in zip(block.columns, shelf.columns, strict=True):
        for use in column.whole_uses:
            wholes.setdefault(use, Sum({})).add(variable, 1)
    multiplied = Sum({})
    for coupon in shelf.counter.coupons:
        if isinstance(coupon.gives, BasketOff):
            continue
        total = Sum({})
        for variant in (False, True):
            uses = wholes.get((coupon.id, variant), Sum({}))
            own = slots.get((coupon.id, variant))
            if own is not None:
                several = often.get((coupon.id, variant), {})
                uses = uses.plus(_uses(program, coupon, variant, own, several, shelf))
            total = total.plus(uses)
            if variant:
                multiplied = multiplied.plus(uses)
        if not total.terms:
            continue
        block.uses[coupon.id] = total
        limits = [
            each for each in (coupon.per_transaction, rules.like_coupons_per_transaction) if each is not None
        ]
        if limits and min(limits) < coupon.copies:
            program.require(total, high=min(limits))
    if rules.multiplying is not None and rules.multiplying.per_transaction is not None and multiplied.terms:
        program.require(multiplied, high=rules.multiplying.per_transaction)


def _uses(
    program: Program,
    coupon: Coupon,
    multiplied: bool,
    slots: list[tuple[int, Slot]],
    often: dict[int, list[int]],
    shelf: Shelf,
) -> Sum:
    """How many times the coupon is used (multiplied or not), its slots tied together."""
    if units_asked(coupon) == 1:
        single = Sum({})
        for variable, _ in slots:
            single.add(variable, 1)
        return single
    uses = program.variable(0, coupon.copies)
    for index, part in enumerate(parts(coupon, shelf.counter, multiplied)):
        filled = Sum({})
        for variable, slot in slots:
            filled.add(variable, int(slot.part == index))
        program.require(filled.plus(one(uses), -part.count), low=0, high=0)
    for leg, ask in enumerate(coupon.asks if len(coupon.asks) > 1 else ()):
        filled = Sum({})
        for variable, slot in slots:
            filled.add(variable, int(slot.leg == leg))
        program.require(filled.plus(one(uses), -ask.units), low=0, high=0)
    _no_unit_twice(program, uses, often)
    if isinstance(coupon.gives, FreeItem):
        _cheapest_is_free(program, coupon, coupon.gives, slots)
    return one(uses)


def _no_unit_twice(program: Program, uses: int, often: dict[int, list[int]]) -> None:
    """Where a unit fills so many slots of a coupon, there are as many uses: a use claims no unit twice.
    ``often``: variables of such units, by how many slots they fill."""
    for count, ways in sorted(often.items()):
        some = program.variable(0, 1)
        most = int(sum(program.upper[variable] for variable in ways))
        program.require(added(one(variable) for variable in ways).plus(one(some), -most), high=0)
        program.require(one(uses).plus(one(some), -count), low=0)


def _cheapest_is_free(
    program: Program, coupon: Coupon, gives: FreeItem, slots: list[tuple[int, Slot]]
) -> None:
    """The free unit of a use is its cheapest: at any price, the units paid at or above it must
    be enough for the free ones at or above it."""
    rivals = [each for each in slots if gives.leg is None or each[1].leg == gives.leg]
    beside = (units_asked(coupon) if gives.leg is None else coupon.asks[gives.leg].units) - 1
    if not beside:
        return
    for price in sorted({slot.left_before for _, slot in rivals if slot.free}):
        balance = Sum({})
        for variable, slot in rivals:
            if slot.left_before >= price:
                balance.add(variable, -beside if slot.free else 1)
        program.require(balance, low=0)


def coupons_within_items(program: Program, block: Block, shelf: Shelf, apart: bool) -> None:
    """No more manufacturer coupons than items, those on the basket counted in. With one coupon on a unit
    only basket coupons can be too many; apart, the items of other clusters count for them too."""
    rules = shelf.counter.store.rules
    makers = [
        coupon
        for coupon in shelf.counter.coupons
        if coupon.issuer == "manufacturer" and coupon.id in block.uses
    ]
    on_basket = any(isinstance(coupon.gives, BasketOff) for coupon in makers) and not apart
    if rules.coupons_no_more_than_items and (on_basket or rules.manufacturer_coupons_per_unit > 1):
        uses = added(block.uses[coupon.id] for coupon in makers)
        program.require(added(block.units.values()).plus(uses, -1), low=0)
