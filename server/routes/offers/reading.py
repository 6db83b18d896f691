"""What a page of cards was read from: a text, codes, and what was typed on each card. Read anew each time."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date

import msgspec

from ...home.codes import Code, read_code
from ...intake.bad_input import Finding
from ...intake.shorthand import read_shorthand
from ..fields import Fields, Typed
from .cards import Card, cards_of_codes, cards_of_text, first_values, with_way
from .forms.labels import label_of
from .forms.sheet import Sheet, Values, values_of
from .page import written

SET_ASIDE = "set-aside"
MOST_CODES = 40


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """All that a page of cards was read from. ``done``: by a card's key, the kind and id that it became,
    or ``SET_ASIDE``."""

    text: str
    day: str
    codes: tuple[Code, ...]
    cards: tuple[Card, ...]
    unread: tuple[str, ...]
    problem: Finding | None
    done: Mapping[str, str]


def read(sheet: Sheet, today: str) -> Reading:
    """What the ``sheet`` holds."""
    fields = sheet.fields
    text, day = fields.typed["text"], _day(fields, today)
    codes = tuple(read_code(digits) for digits in fields.lines("code")[:MOST_CODES])
    done = dict(entry.split("|", 1) for entry in fields.lines("done") if "|" in entry)
    paste = read_shorthand(text, day)
    problem = None if paste.problem is None else msgspec.structs.replace(paste.problem, field="text")
    cards = [*cards_of_codes(codes, today, sheet.snapshot), *cards_of_text(paste.drafts, day)]
    unique = {card.key: card for card in cards}
    return Reading(
        text=text,
        day=day,
        codes=codes,
        cards=tuple(_as_chosen(card, fields.typed) for card in unique.values()),
        unread=paste.unread,
        problem=problem,
        done={key: became for key, became in done.items() if key in unique},
    )


def _day(fields: Fields, today: str) -> str:
    """The day that the text is read on: of the page's first sight, so that its cards stay the same."""
    try:
        return date.fromisoformat(fields.typed["day"]).isoformat()
    except ValueError:
        return today


def _as_chosen(card: Card, typed: Typed) -> Card:
    way = typed[f"{card.key}-way"]
    return with_way(card, int(way)) if way in ("1", "2", "3") else card


def filled(reading: Reading, sheet: Sheet) -> Values:
    """What was typed, with the first values of the cards that were not on the page before."""
    values = values_of(sheet.fields.typed)
    for card in reading.cards:
        if not values.get(f"{card.key}-shown"):
            values |= first_values(card, sheet.snapshot, written(sheet.snapshot))
            values[f"{card.key}-shown"] = ["yes"]
    values["day"] = [reading.day]
    return values


def next_open(reading: Reading, dealt_with: Collection[str]) -> str:
    """The key of the card after those that were just ``dealt_with``, else of the first that is open; "" where
    none is."""
    keys = [card.key for card in reading.cards]
    last = max((place for place, key in enumerate(keys) if key in dealt_with), default=-1)
    still_open = [key for key in keys[last + 1 :] + keys[:last] if key not in {*reading.done, *dealt_with}]
    return still_open[0] if still_open else ""


def label_on(reading: Reading, field: str) -> str:
    """The label of a card's field as its kind's form has it; a card's only requirement has no number."""
    key, _, name = field.partition("-")
    card = next((card for card in reading.cards if card.key == key), None)
    if card is None:
        return {"text": "Offers as they are written", "": "Kept already"}.get(field, label_of("", field))
    if not name:
        return f"“{card.draft.text[:60]}”"
    if card.kind == "reward" and name == "cents":
        name = "back"
    return label_of(card.kind, name, rows=len(card.asks))
