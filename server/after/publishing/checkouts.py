"""The trip at the register: each transaction in checkout order, ready for a template."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import groupby

import msgspec

from ...engine.offers import Trip
from ...engine.papers import Plan, PlannedTransaction, Stack


class StackLine(msgspec.Struct, frozen=True, kw_only=True):
    """``times`` equal stacks: what lies in one, and how it comes to its price."""

    times: int
    goods: str
    words: str


class CouponLine(msgspec.Struct, frozen=True, kw_only=True):
    """So many ``copies`` of a coupon, handed over one after the other; ``cents``: off with each."""

    copies: int
    name: str
    kind: str
    where: str
    until: str
    cents: int


class Checkout(msgspec.Struct, frozen=True, kw_only=True):
    """One transaction at the register. ``belt``: (units, name) in order; ``tenders``: (name, cents)."""

    heading: str
    account_first: bool
    belt: tuple[tuple[int, str], ...]
    stacks: tuple[StackLine, ...]
    coupons: tuple[CouponLine, ...]
    tax_cents: int
    total_cents: int
    tenders: tuple[tuple[str, int], ...]
    prints: tuple[str, ...]


_FORMS = {
    "insert": "from a newspaper insert",
    "printable": "to print at home",
    "digital": "loaded on the account",
    "on_package": "on the package",
    "register": "printed by a register",
}
_TENDERS = {
    "slip": "reward slip",
    "gift_card": "gift card",
    "food_benefit": "food benefits",
    "cash": "cash or card",
}


def checkout_of(trip: Trip, plan: Plan, planned: PlannedTransaction) -> Checkout:
    """One transaction of the plan."""
    store = next(each for each in trip.stores if each.id == planned.store)
    here = sum(each.store == planned.store for each in plan.transactions)
    names = {product.id: product.description for product in trip.products}
    receipt = planned.receipt
    handed = set(planned.hand_over)
    return Checkout(
        heading=f"{store.name}, transaction {planned.number} of {here}" if here > 1 else store.name,
        account_first=bool(planned.transaction.offer_uses)
        or bool(receipt.earned)
        or any(each.form == "digital" and each.id in handed for each in trip.coupons),
        belt=tuple((line.units, names[line.product]) for line in planned.transaction.lines),
        stacks=stack_lines(trip, list(planned.stacks)),
        coupons=tuple(_coupon_lines(trip, planned)),
        tax_cents=receipt.tax_cents,
        total_cents=receipt.total_cents,
        tenders=tuple((_TENDERS[tender.kind], tender.cents) for tender in receipt.tenders),
        prints=planned.prints,
    )


def _coupon_lines(trip: Trip, planned: PlannedTransaction) -> Iterator[CouponLine]:
    coupons = {coupon.id: coupon for coupon in trip.coupons}
    for (name, cents), run in groupby((taken.coupon, taken.cents) for taken in planned.receipt.coupons):
        coupon = coupons[name]
        issuer = "store coupon" if coupon.issuer == "store" else "manufacturer coupon"
        yield CouponLine(
            copies=len(list(run)),
            name=coupon.description,
            kind=f"{issuer}, {_FORMS[coupon.form]}",
            where=coupon.where,
            until=coupon.until or "",
            cents=cents,
        )


def stack_lines(trip: Trip, stacks: list[Stack]) -> tuple[StackLine, ...]:
    """Each different stack once, in the order of the plan."""
    names = {product.id: product.description for product in trip.products}
    counted: dict[tuple[str, str], int] = {}
    for stack in stacks:
        goods = " + ".join(
            names[product] if units == 1 else f"{units} × {names[product]}"
            for product, units in Counter(stack.products).items()
        )
        key = (goods, stack.words)
        counted[key] = counted.get(key, 0) + stack.times
    return tuple(
        StackLine(times=times, goods=goods, words=words) for (goods, words), times in counted.items()
    )
