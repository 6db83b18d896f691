"""``POST /desk/settle/notes``: a small form becomes a note; then the page that it stood on comes again.

Fields of every form: ``note`` (the id that the note will have), ``kind``, ``form`` (which form of the page it
was), ``back`` (the trip whose page it stood on; "" for the overview). The further fields by kind are in
``_READERS``. What cannot be kept is told on that page, by field, with all that was typed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from http import HTTPStatus
from typing import Any, get_args

from litestar import Response, post
from litestar.di import NamedDependency

from ...after.notes import (
    ClaimNoted,
    ClaimState,
    GiftCardSeen,
    Note,
    Noted,
    PaperState,
    RainCheckNoted,
    RefundAsked,
    RefundState,
    Remark,
    SlipNoted,
    TakenBack,
    TimeSpent,
)
from ...engine.money import show
from ...errors import bad_input
from ...homes import Home
from ...intake.bad_input import BadInput
from ...ledger import Ledger
from ...notebook import Notebook
from ...plans import PlanShelf
from ...store.interface import Store
from ...store.photos import Photos
from ..fields import Fields
from ..household_page import Asked, Today, device_of, go_to
from .one_trip import trip_page
from .overview import overview
from .page import ID, NEEDED, Facts, corrected, facts_of, note_id, turned_down


@post("/settle/notes", status_code=HTTPStatus.OK)
async def write_note(
    request: Asked,
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    notebook: NamedDependency[Notebook],
    store: NamedDependency[Store],
    plan_shelf: NamedDependency[PlanShelf],
    photos: NamedDependency[Photos],
    today: Today,
) -> Response[Any]:
    """Keeps one note and shows the page that it came from."""
    facts = await facts_of(home, ledger, today())
    fields = await fields_for(request, facts)
    back, form = fields.text("back"), fields.text("form")
    try:
        note = read_note(fields, facts)
        await notebook.write(
            note,
            facts.books,
            today=facts.today,
            currency=facts.money[0],
            device=device_of(request),
        )
    except BadInput as error:
        sent = turned_down(form, fields.typed, error)
        if back and facts.books.trip(back) is not None:
            return await trip_page(store, plan_shelf, photos, facts, back, sent)
        return overview(facts, sent)
    there = f"/desk/trips/{back}/settle" if back and facts.books.trip(back) is not None else "/desk/settle"
    return go_to(f"{there}#{form}" if ID.fullmatch(form) else there)


async def fields_for(request: Asked, facts: Facts) -> Fields:
    """The fields that were sent, amounts in the money of the trip they are about, else the household's."""
    form = await request.form()
    found = facts.books.trip(str(form.get("trip", "")))
    currency, exponent = facts.money if found is None else (found.trip.currency, found.trip.exponent)
    return Fields(form, currency=currency, exponent=exponent)


def read_note(fields: Fields, facts: Facts) -> Note:
    """The note that a form says. Raises ``BadInput`` with every finding."""
    name = note_id(fields)
    day = fields.day("day") or facts.today
    if day > facts.today:
        fields.wrong("day", "a day that has come")
    reader = _READERS.get(fields.text("kind"))
    if reader is None:
        raise bad_input("kind", fields.text("kind"), NEEDED)
    what = reader(fields, facts)
    fields.finish()
    assert what is not None, "a reader that gives nothing says why"
    return Note(id=name, day=day, what=what, corrects=corrected(fields, facts))


Reader = Callable[[Fields, Facts], Noted | None]


def _claim(fields: Fields, facts: Facts) -> Noted | None:
    state: ClaimState = fields.choice("state", get_args(ClaimState))
    return ClaimNoted(
        trip=_trip(fields, facts),
        claim=fields.text("claim", needed=NEEDED) or "none",
        bonus=fields.flag("bonus"),
        state=state,
        times=fields.whole("times", low=1) or 1,
        cents=fields.cents("cents") if state == "paid" else None,
        words=fields.text("words"),
    )


def _slip(fields: Fields, facts: Facts) -> Noted | None:
    slips = [slip.key for slip in facts.papers.slips]
    slip = fields.known("slip", slips, what="slip", needed=NEEDED)
    state: PaperState = fields.choice("state", get_args(PaperState))
    return None if slip is None else SlipNoted(slip=slip, state=state, words=fields.text("words"))


def _rain_check(fields: Fields, facts: Facts) -> Noted | None:
    checks = [check.key for check in facts.papers.rain_checks]
    check = fields.known("rain_check", checks, what="rain check", needed=NEEDED)
    state: PaperState = fields.choice("state", get_args(PaperState))
    units = fields.whole("units", low=1) or 1
    if check is None:
        return None
    return RainCheckNoted(rain_check=check, units=units, state=state, words=fields.text("words"))


def _card(fields: Fields, facts: Facts) -> Noted | None:
    cards = {card.key: card for card in facts.papers.cards}
    card = fields.known("card", cards, what="gift card", needed=NEEDED)
    cents = fields.cents("cents", needed="write what is on it")
    if card is None or cents is None:
        return None
    return GiftCardSeen(card=card, store=cards[card].store, cents=cents, words=fields.text("words"))


def _refund(fields: Fields, facts: Facts) -> Noted | None:
    state: RefundState = fields.choice("state", get_args(RefundState))
    cents = fields.cents("cents", needed="write how much", least=1)
    done, trip = fields.text("done", needed=NEEDED), _trip(fields, facts)
    if cents is None:
        return None
    found = facts.books.trip(trip)
    receipt = next((each for each in found.purchases if each.event == done), None) if found else None
    if found is not None and receipt is not None and cents > receipt.paid_cents:
        whole = show(receipt.paid_cents, found.trip.currency, found.trip.exponent)
        fields.wrong("cents", f"the whole receipt was {whole}: no more than that can come back")
    return RefundAsked(trip=trip, done=done, cents=cents, state=state, words=fields.text("words"))


def _time(fields: Fields, facts: Facts) -> Noted | None:
    minutes = fields.whole("minutes", needed="write how many minutes", low=1, high=10_080)
    trip = _trip(fields, facts)
    return None if minutes is None else TimeSpent(trip=trip, minutes=minutes, words=fields.text("words"))


def _remark(fields: Fields, facts: Facts) -> Noted | None:
    words = fields.text("words", needed="write something", longest=4_000)
    return Remark(trip=_trip(fields, facts), words=words) if words else None


def _taken_back(fields: Fields, facts: Facts) -> Noted | None:
    target = fields.text("target")
    if all(note.id != target for note in facts.books.notes):
        raise bad_input("target", target, "it was taken back before")
    return TakenBack(note=target)


def _trip(fields: Fields, facts: Facts) -> str:
    trips = [each.trip.id for each in facts.books.trips]
    return fields.known("trip", trips, what="trip", needed="choose a trip") or "none"


_READERS: Mapping[str, Reader] = {
    "claim": _claim,
    "slip": _slip,
    "rain_check": _rain_check,
    "gift_card": _card,
    "refund": _refund,
    "time": _time,
    "remark": _remark,
    "taken_back": _taken_back,
}
