"""The plan as the Desk's page shows it: rows ready for the template, every cent as the engine gave it."""

from __future__ import annotations

from itertools import groupby

import msgspec

from ..engine.offers import Trip
from ..engine.papers import CouponTaken, Plan, PlannedTransaction, UnitOnReceipt
from .names import Names


class UnitRow(msgspec.Struct, frozen=True, kw_only=True):
    """``units`` equal items in a row on the belt, and what was taken off each: (why, cents)."""

    units: int
    name: str
    tag_cents: int
    taken_off: tuple[tuple[str, int], ...]
    paid_cents: int


class CouponRow(msgspec.Struct, frozen=True, kw_only=True):
    """A coupon to hand over, as printed, with what the register takes for it and why."""

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
    coupons: tuple[CouponRow, ...]
    units: tuple[UnitRow, ...]
    tenders: tuple[TenderRow, ...]


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
            coupons=tuple(_coupon_row(names, planned, taken) for taken in planned.receipt.coupons),
            units=_unit_rows(planned),
            tenders=tuple(
                TenderRow(name=f"{_TENDERS[tender.kind]} {tender.id}".rstrip(), cents=tender.cents)
                for tender in planned.receipt.tenders
            ),
        )
        for planned in plan.transactions
    )


def _coupon_row(names: Names, planned: PlannedTransaction, taken: CouponTaken) -> CouponRow:
    coupon = next((known for known in planned.transaction.coupons if known.id == taken.coupon), None)
    return CouponRow(
        name=coupon.description if coupon else names.coupon(taken.coupon),
        legible=coupon.legible if coupon else "",
        where=coupon.where if coupon else "",
        cents=taken.cents,
        why=taken.why,
    )


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
