"""What came home from the store, in plain words: each event once, in the order of the trip.

The order is that of the event ids, which is the order in which every phone folds them. What was
taken back stays in view, marked as such; what this version cannot read is shown as kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import assert_never

import msgspec

from ..engine.check import check_transaction
from ..engine.money import show
from ..engine.offers import Trip
from ..engine.papers import (
    Chosen,
    CouponCopies,
    CouponFound,
    Found,
    InTrolley,
    NeedChanged,
    NotPrinted,
    PriceSeen,
    RainCheckTaken,
    Refusal,
    Report,
    ShelfEmpty,
    TransactionDone,
    Undone,
)
from ..engine.register import price
from ..intake.day_words import day_in_words, moment_in_words
from ..store.interface import StoredEvent
from ..store.projections import standing
from .names import Names

_read_report = msgspec.json.Decoder(Report).decode


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """One event: when by the phone's clock, when it arrived here, by which phone, what it says."""

    at: str
    arrived: str
    device: str
    sentence: str
    taken_back: bool


class AtRegister(msgspec.Struct, frozen=True, kw_only=True):
    """One transaction that went through: what the register showed beside what we reckoned.

    ``reckoned_cents`` None: the transaction as sent cannot be priced; ``note`` says why.
    """

    at: str
    device: str
    store: str
    units: int
    shown_cents: int | None
    reckoned_cents: int | None
    note: str


class CameHome(msgspec.Struct, frozen=True, kw_only=True):
    """All of it. ``paid_cents``: shown totals, or the reckoned one where none was told."""

    told: tuple[Told, ...]
    registers: tuple[AtRegister, ...]
    paid_cents: int


def came_home(trip: Trip, events: Sequence[StoredEvent], today: str) -> CameHome:
    """The events of a trip as sentences, and its transactions as shown and as reckoned."""
    clock = partial(moment_in_words, today=today, to="seconds")
    names = Names(trip)
    in_order = sorted(events, key=lambda event: event.id)
    reports = {event.id: _report(event) for event in in_order}
    undone_by: dict[str, list[str]] = {}
    for event_id, report in reports.items():
        if isinstance(report, Undone):
            undone_by.setdefault(report.event, []).append(event_id)
    stands = standing(undone_by)
    phones = _phones(in_order)
    told: list[Told] = []
    registers: list[AtRegister] = []
    for event in in_order:
        report = reports[event.id]
        told.append(
            Told(
                at=clock(event.at),
                arrived=clock(event.received),
                device=phones[event.device],
                sentence=_unread(event) if report is None else say(names, reports, report, today),
                taken_back=not stands(event.id),
            )
        )
        if isinstance(report, TransactionDone) and stands(event.id):
            registers.append(_at_register(event, report, phones[event.device], clock(event.at)))
    paid = sum(at.shown_cents if at.shown_cents is not None else at.reckoned_cents or 0 for at in registers)
    return CameHome(told=tuple(told), registers=tuple(registers), paid_cents=paid)


def say(names: Names, reports: dict[str, Report | None], report: Report, today: str) -> str:
    """One report as a sentence. ``reports``: all of the trip, by event id, for what one refers to."""
    match report:
        case InTrolley(store=store, product=product, units=units):
            what = f"{abs(units)} × {names.product(product)}"
            if units < 0:
                return f"{what} put back at {names.store(store)}."
            return f"{what} put in the trolley at {names.store(store)}."
        case ShelfEmpty(store=store, product=product):
            return f"Shelf empty at {names.store(store)}: {names.product(product)}."
        case PriceSeen(store=store, product=product, cents=cents, without_deal=without_deal):
            deal = ", without the deal that was planned" if without_deal else ""
            tag = f"The tag at {names.store(store)} shows {names.money(cents)}"
            return f"{tag} for {names.product(product)}{deal}."
        case Found(want=want, store=store, product=product, cents=cents, product_data=data):
            what = data.description if data is not None else names.product(product)
            return f"Found at {names.store(store)} for {names.want(want)}: {what}, {names.money(cents)}."
        case CouponCopies(coupon=coupon, copies=copies):
            direction = "more" if copies >= 0 else "fewer"
            noun = "copy" if abs(copies) == 1 else "copies"
            return f"{abs(copies)} {direction} {noun} of the coupon {names.coupon(coupon)}."
        case CouponFound(coupon=coupon):
            noun = "copy" if coupon.copies == 1 else "copies"
            return f"A coupon found in the store, {coupon.copies} {noun}: {coupon.description}."
        case Chosen(store=store, product=product, units=units):
            return f"Chosen: {units} × {names.product(product)} at {names.store(store)}."
        case NeedChanged(want=want, need=0, welcome=0):
            return f"Left: {names.want(want)}."
        case NeedChanged(want=want, need=need, welcome=welcome):
            return f"{names.want(want)}: now {need} needed, up to {max(need, welcome)} welcome."
        case RainCheckTaken(store=store, product=product, units=units, cents=cents, until=until):
            last = f", good until {day_in_words(until, today)}" if until is not None else ""
            what = f"{units} × {names.product(product)} at {names.money(cents)} each"
            return f"Shelf empty at {names.store(store)}; rain check for {what}{last}."
        case TransactionDone():
            return _say_done(names, report)
        case NotPrinted(done=done, offer=offer):
            through = reports.get(done)
            where = f" at {through.transaction.store.name}" if isinstance(through, TransactionDone) else ""
            return f"The register{where} did not print or load the reward {names.reward(offer)}."
        case Undone(event=event):
            target = reports.get(event)
            if target is None or isinstance(target, Undone):
                return "A report was taken back."
            return f"Taken back: {say(names, reports, target, today)}"
        case _:
            assert_never(report)


def _say_done(names: Names, done: TransactionDone) -> str:
    units = sum(line.units for line in done.transaction.lines)
    items = "1 item" if units == 1 else f"{units} items"
    sentence = f"Through the register at {done.transaction.store.name} with {items}"
    if done.shown_total_cents is not None:
        sentence += f"; it showed {names.money(done.shown_total_cents)}"
    if done.printed is not None:
        slips = ", ".join(f"a slip of {names.money(slip.cents)}" for slip in done.printed) or "no slip"
        sentence += f"; {slips} came out"
    return f"{sentence}."


def _at_register(event: StoredEvent, done: TransactionDone, device: str, at: str) -> AtRegister:
    transaction = done.transaction
    problems = check_transaction(transaction)
    outcome = None if problems else price(transaction)
    if isinstance(outcome, Refusal):
        note = f"As sent, our register would refuse it: {outcome.sentence}"
    elif outcome is None:
        note = f"As sent, it cannot be reckoned ({problems[0].field}: {problems[0].mend})"
    elif done.shown_total_cents is None:
        note = "no total told; as reckoned"
    elif done.shown_total_cents == outcome.total_cents:
        note = "as reckoned"
    else:
        difference = done.shown_total_cents - outcome.total_cents
        amount = show(abs(difference), transaction.currency, transaction.exponent)
        note = f"{amount} {'more' if difference > 0 else 'less'} than reckoned"
    return AtRegister(
        at=at,
        device=device,
        store=transaction.store.name,
        units=sum(line.units for line in transaction.lines),
        shown_cents=done.shown_total_cents,
        reckoned_cents=None if outcome is None or isinstance(outcome, Refusal) else outcome.total_cents,
        note=note,
    )


def _report(event: StoredEvent) -> Report | None:
    """What the event says; None when this version cannot read it."""
    try:
        return _read_report(event.payload)
    except (msgspec.MsgspecError, RecursionError):
        return None


def _unread(event: StoredEvent) -> str:
    return f"A report of the kind “{event.kind}”, which this version cannot read; it is kept as it came."


def _phones(events: Sequence[StoredEvent]) -> dict[str, str]:
    """Short names for the devices, in the order in which they first spoke."""
    devices = dict.fromkeys(event.device for event in events)
    return {device: f"Phone {number} ({device[-6:]})" for number, device in enumerate(devices, start=1)}
