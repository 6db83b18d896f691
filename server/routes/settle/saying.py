"""A note as a sentence."""

from __future__ import annotations

from typing import assert_never

from ...after.notes import (
    ClaimNoted,
    Counted,
    GiftCardSeen,
    Note,
    RainCheckNoted,
    ReceiptKept,
    RefundAsked,
    Remark,
    SlipNoted,
    TakenBack,
    TimeSpent,
    UnplannedPurchase,
    UsedUp,
)
from ...engine.money import show
from .page import Called


def say(called: Called, note: Note) -> str:
    """What was written down, for a reader."""
    what = note.what
    words = getattr(what, "words", "")
    return f"{_say(called, note)}{f' {words}' if words and not isinstance(what, Remark) else ''}"


def _say(called: Called, note: Note) -> str:
    match note.what:
        case ClaimNoted(trip=trip, claim=claim, state=state, times=times, cents=cents):
            how_often = "" if times == 1 else f", {times} times"
            came = f", {called.money(cents, trip)}" if cents is not None and state == "paid" else ""
            return f"{called.claim(trip, claim)}: {state}{how_often}{came}."
        case SlipNoted(slip=slip, state=state):
            return f"Slip {slip}: {state}."
        case RainCheckNoted(rain_check=check, units=units, state=state):
            return f"Rain check {check}, {units}: {state}."
        case GiftCardSeen(card=card, cents=cents):
            return f"Gift card {card}: {called.money(cents)} on it."
        case UnplannedPurchase(store=store, lines=lines, tax_cents=tax, currency=currency, exponent=exponent):
            total = show(sum(line.cents for line in lines) + tax, currency, exponent)
            packs = sum(line.units for line in lines)
            return f"Bought without a plan at {called.store(store)}: {packs} for {total}."
        case Counted(product=product, units=units):
            return f"{called.product(product)}: {units} at home."
        case UsedUp(product=product, units=units):
            return f"{called.product(product)}: {units} used up."
        case RefundAsked(trip=trip, cents=cents, state=state):
            return f"Money back, {called.money(cents, trip)}, {called.trip(trip)}: {state}."
        case TimeSpent(trip=trip, minutes=minutes):
            return f"{minutes} minutes for {called.trip(trip)}."
        case ReceiptKept(trip=trip):
            return f"A receipt's photo of {called.trip(trip)}."
        case Remark(words=words):
            return words
        case TakenBack():
            return "Taken back."
        case _:
            assert_never(note.what)
