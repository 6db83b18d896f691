"""The plan as the Desk's page shows it: rows ready for the template, every cent as the engine gave it."""

from __future__ import annotations

import re
from collections import Counter
from itertools import groupby

import msgspec

from ..engine.offers import Trip
from ..engine.papers import CouponTaken, Plan, PlannedTransaction, Stack, UnitOnReceipt
from ..engine.situation import tag_at
from .names import Names


class UnitRow(msgspec.Struct, frozen=True, kw_only=True):
    """``units`` equal items in a row on the belt, and what was taken off each: (why, cents)."""

    units: int
    name: str
    tag_cents: int
    taken_off: tuple[tuple[str, int], ...]
    paid_cents: int


class StackRow(msgspec.Struct, frozen=True, kw_only=True):
    """``times`` equal stacks: what lies in one, how it comes to its price, what it costs."""

    times: int
    name: str
    words: str
    paid_cents: int


class CouponRow(msgspec.Struct, frozen=True, kw_only=True):
    """So many ``copies`` of a coupon, handed over one after the other: as printed, what the register
    takes for each, and why."""

    copies: int
    name: str
    legible: str
    where: str
    cents: int
    why: str


class TenderRow(msgspec.Struct, frozen=True, kw_only=True):
    """What to pay with."""

    name: str
    cents: int


class TransactionPage(msgspec.Struct, frozen=True, kw_only=True):
    """One transaction, ready to print."""

    planned: PlannedTransaction
    store: str
    stacks: tuple[StackRow, ...]
    coupons: tuple[CouponRow, ...]
    units: tuple[UnitRow, ...]
    tenders: tuple[TenderRow, ...]


class AisleLine(msgspec.Struct, frozen=True, kw_only=True):
    """Units of a product to take from a shelf; ``tag_cents``: of one, as the tag has it."""

    units: int
    name: str
    tag_cents: int
    note: str


class AislePlace(msgspec.Struct, frozen=True, kw_only=True):
    """A place in a store ("" where none is noted) and what to take there."""

    name: str
    lines: tuple[AisleLine, ...]


class AisleStop(msgspec.Struct, frozen=True, kw_only=True):
    """A store, its places in the order of their numbers and letters."""

    store: str
    places: tuple[AislePlace, ...]


_TENDERS = {
    "slip": "Reward slip",
    "gift_card": "Gift card",
    "food_benefit": "Food benefits",
    "cash": "Cash or card",
}


def transaction_pages(trip: Trip, plan: Plan) -> tuple[TransactionPage, ...]:
    """The plan's transactions in checkout order."""
    names = Names(trip)
    return tuple(
        TransactionPage(
            planned=planned,
            store=planned.transaction.store.name or names.store(planned.store),
            stacks=tuple(_stack_row(names, stack) for stack in planned.stacks),
            coupons=_coupon_rows(names, planned),
            units=_unit_rows(planned),
            tenders=tuple(
                TenderRow(name=f"{_TENDERS[tender.kind]} {tender.id}".rstrip(), cents=tender.cents)
                for tender in planned.receipt.tenders
            ),
        )
        for planned in plan.transactions
    )


def aisle_pages(trip: Trip, plan: Plan) -> tuple[AisleStop, ...]:
    """What to take from which shelf, over all transactions, in the order of the drive and of the walk."""
    names = Names(trip)
    stops: list[AisleStop] = []
    for store in trip.stores:
        places: dict[str, list[AisleLine]] = {}
        for deal in plan.deals:
            if deal.store == store.id:
                tag = tag_at(trip, store, deal.product)
                line = AisleLine(
                    units=deal.units,
                    name=names.product(deal.product),
                    tag_cents=tag.cents if tag else deal.tag_cents // deal.units,
                    note=tag.place_note if tag else "",
                )
                places.setdefault(deal.place, []).append(line)
        if places:
            in_order = sorted(places, key=_walking_order)
            found = tuple(AislePlace(name=name, lines=tuple(places[name])) for name in in_order)
            stops.append(AisleStop(store=store.name, places=found))
    return tuple(stops)


def _walking_order(place: str) -> tuple[bool, list[tuple[int, str]]]:
    """ "Aisle 2" before "aisle 10"; a shelf without a place comes last."""
    parts = re.split(r"([0-9]+)", place.lower())
    return not place, [(int(part), "") if part.isdigit() else (0, part) for part in parts]


def _stack_row(names: Names, stack: Stack) -> StackRow:
    counted = Counter(stack.products)
    goods = (
        names.product(each) if units == 1 else f"{units} × {names.product(each)}"
        for each, units in counted.items()
    )
    return StackRow(times=stack.times, name=" + ".join(goods), words=stack.words, paid_cents=stack.paid_cents)


def _coupon_rows(names: Names, planned: PlannedTransaction) -> tuple[CouponRow, ...]:
    coupons = {coupon.id: coupon for coupon in planned.transaction.coupons}

    def row(taken: CouponTaken) -> CouponRow:
        coupon = coupons.get(taken.coupon)
        name = coupon.description if coupon else names.coupon(taken.coupon)
        return CouponRow(
            copies=1,
            name=name,
            legible=coupon.legible if coupon else "",
            where=coupon.where if coupon else "",
            cents=taken.cents,
            # The name stands in front already.
            why=taken.why.removeprefix(f"{name}: "),
        )

    runs = [list(run) for _, run in groupby(row(taken) for taken in planned.receipt.coupons)]
    return tuple(msgspec.structs.replace(run[0], copies=len(run)) for run in runs)


def _unit_rows(planned: PlannedTransaction) -> tuple[UnitRow, ...]:
    called = {product.id: product.description for product in planned.transaction.products}

    def row(unit: UnitOnReceipt) -> UnitRow:
        return UnitRow(
            units=1,
            name=called.get(unit.product) or unit.product,
            tag_cents=unit.tag_cents,
            taken_off=tuple((adjustment.why, adjustment.cents) for adjustment in unit.adjustments),
            paid_cents=unit.paid_cents,
        )

    runs = [list(run) for _, run in groupby(row(unit) for unit in planned.receipt.units)]
    return tuple(msgspec.structs.replace(run[0], units=len(run)) for run in runs)
