"""Stacks: what the shopper is shown, "this + this + this = 58 cents".

A stack is the smallest group of units that share coupons, with everything applied to it.
It is read off the receipt: units that one use of a coupon claims belong together. Equal
stacks of a transaction are shown once, with how many there are.
"""

from __future__ import annotations

from .money import show
from .offers import Trip, Want
from .papers import AdjustmentKind, Receipt, Stack, Transaction, UnitOnReceipt

# What takes cents off a unit, in the register's order.
STEPS: tuple[AdjustmentKind, ...] = (
    "sale",
    "percent_offer",
    "store_coupon",
    "manufacturer_coupon",
    "multiplied",
    "overage",
    "basket_coupon",
)


def stacks_of(
    trip: Trip, wants: dict[str, Want], transaction: Transaction, receipt: Receipt
) -> tuple[Stack, ...]:
    """The stacks of a transaction in belt order, equal ones drawn together.

    ``wants``: per product, the want that it is shown under.
    """
    found: dict[tuple[object, ...], Stack] = {}
    for members in _groups(transaction, receipt):
        units = [receipt.units[index] for index in members]
        parts = _parts(trip, transaction, units)
        products = tuple(unit.product for unit in units)
        tag = sum(unit.tag_cents for unit in units)
        paid = sum(unit.paid_cents for unit in units)
        key = (products, tag, parts, paid)
        held = found.get(key)
        want = wants.get(products[0])
        found[key] = Stack(
            want=want.id if want is not None else products[0],
            products=products,
            times=1 if held is None else held.times + 1,
            tag_cents=tag,
            parts=parts,
            paid_cents=paid,
            words=_words(trip, tag, parts, paid),
            units=tuple(members) if held is None else held.units,
        )
    return tuple(found.values())


def _groups(transaction: Transaction, receipt: Receipt) -> list[list[int]]:
    """Indexes of units that share a use of a coupon, directly or by way of others."""
    leaders = list(range(len(receipt.units)))

    def leader(index: int) -> int:
        while leaders[index] != index:
            index = leaders[index]
        return index

    for use in transaction.uses:
        roots = sorted({leader(index) for index in use.units})
        for other in roots[1:]:
            leaders[other] = roots[0]
    groups: dict[int, list[int]] = {}
    for index in range(len(receipt.units)):
        groups.setdefault(leader(index), []).append(index)
    return list(groups.values())


def _parts(trip: Trip, transaction: Transaction, units: list[UnitOnReceipt]) -> tuple[tuple[str, int], ...]:
    """(what, cents off) in the register's order, each paper once."""
    names = {coupon.id: coupon.description for coupon in transaction.coupons}
    names.update((offer.id, offer.description) for offer in transaction.percent_offers)
    cents: dict[str, int] = {}
    taken = [each for unit in units for each in unit.adjustments]
    # A sale on the second unit comes before a coupon on the first.
    for each in sorted(taken, key=lambda each: STEPS.index(each.kind)):
        if each.kind == "sale":
            name = "sale"
        elif each.kind == "multiplied":
            name = f"{names.get(each.source, each.source)}, multiplied by the house"
        else:
            name = names.get(each.source, each.source)
        cents[name] = cents.get(name, 0) + each.cents
    return tuple(cents.items())


def _words(trip: Trip, tag: int, parts: tuple[tuple[str, int], ...], paid: int) -> str:
    """One line: the tag, what comes off, what is paid."""

    def money(cents: int) -> str:
        return show(cents, trip.currency, trip.exponent)

    off = "".join(f" − {money(cents)} ({name})" for name, cents in parts)
    return f"{money(tag)}{off} = {money(paid)}"
