"""``/desk/offers/paste``: a text (or the codes of a photo) read into cards, to be confirmed or set aside."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from http import HTTPStatus
from typing import Any

from litestar import Response, get, post
from litestar.di import NamedDependency
from litestar.params import FromQuery
from litestar.response import Template

from ...home.codes import numbered
from ...home.finding import find
from ...home.saying import FORMS as FORM_WORDS
from ...homes import Home
from ...intake.bad_input import BadInput, Finding
from ...store.shared_texts import SharedTexts
from .adding import add_product, all_that_fit, chosen_too
from .cards import Card, choosers_of, read_as
from .forms import FORMS
from .forms.sheet import Sheet, Values, values_of
from .keeping import keep, sure_cards
from .page import (
    LARGEST_FORM,
    Asked,
    Today,
    choices,
    device_of,
    fields_of,
    form_page,
    saying,
    sheet_of,
    written,
)
from .reading import SET_ASIDE, Reading, filled, label_on, next_open, read
from .shared import text_to_read
from .taking import as_form


@get("/paste")
async def paste_page(
    home: NamedDependency[Home],
    shared_texts: NamedDependency[SharedTexts],
    today: Today,
    shared: FromQuery[str] = "",
) -> Template:
    """The page to paste into; with ``?shared=ID`` a text from a phone is in it, read already."""
    snapshot = await home.snapshot()
    text = await shared_texts.text(shared) if shared else None
    values: Values = {} if text is None else {"text": [text_to_read(text)], "shared": [text.id]}
    return cards_page(sheet_of(snapshot, values), today())


@post("/paste", status_code=HTTPStatus.OK, request_max_body_size=LARGEST_FORM)
async def read_paste(request: Asked, home: NamedDependency[Home], today: Today) -> Response[Any]:
    """Reads the text, or does with a card what its button says. All that was typed comes back each time."""
    snapshot = await home.snapshot()
    sheet = Sheet(await fields_of(request, snapshot), snapshot)
    reading = read(sheet, today())
    values = filled(reading, sheet)
    sheet = sheet_of(snapshot, values)
    verb, _, name = sheet.fields.text("do").partition(":")
    cards = {card.key: card for card in reading.cards}
    device = device_of(request)
    if verb == "take" and name == "sure":
        return await _keep(home, reading, sheet, sure_cards(reading, sheet), today(), device)
    if verb == "take" and name in cards:
        return await _keep(home, reading, sheet, [cards[name]], today(), device)
    if verb == "aside" and name in cards:
        values["done"] = [*values.get("done", []), f"{name}|{SET_ASIDE}"]
        aside, at = sheet_of(snapshot, values), next_open(reading, {name})
        return cards_page(aside, today(), told="Set aside.", at=at)
    if verb == "form" and name in cards:
        form = FORMS[cards[name].kind]
        return form_page(form, sheet_of(snapshot, as_form(cards[name], sheet, written(snapshot))))
    if verb in ("find", "all", "add"):
        for card in reading.cards:
            if name in card.choosers:
                return await _round(home, sheet, card, verb, name, today(), device)
    return cards_page(sheet_of(snapshot, values), today(), at=name if name in cards else "")


def cards_page(
    sheet: Sheet,
    today: str,
    *,
    findings: Sequence[Finding] = (),
    told: str = "",
    at: str = "",
    status: HTTPStatus = HTTPStatus.OK,
) -> Template:
    """The page of what was read, as it stands in the ``sheet``. ``told``: what a button came to; ``at``: the
    card or list that she goes on from, the first card unless given."""
    snapshot = sheet.snapshot
    reading = read(sheet, today)
    sheet = sheet_of(snapshot, filled(reading, sheet))
    typed, names = sheet.fields.typed, saying(snapshot)
    problem = () if reading.problem is None else (reading.problem,)
    findings = (*problem, *findings)
    sure = {card.key for card in sure_cards(reading, sheet)}
    still_open = [card for card in reading.cards if card.key not in reading.done]
    return Template(
        "offers/paste.html",
        context={
            "typed": typed,
            "findings": findings,
            "labels": {found.field: label_on(reading, found.field) for found in findings},
            "label": partial(label_on, reading),
            "reading": reading,
            "open": still_open,
            "taken": [
                (card, *reading.done[card.key].partition("/")[::2])
                for card in reading.cards
                if reading.done.get(card.key, SET_ASIDE) != SET_ASIDE
            ],
            "aside": [card for card in reading.cards if reading.done.get(card.key) == SET_ASIDE],
            "sure": sure,
            "said": {card.key: card.words or names.draft(card.draft.offer) for card in reading.cards},
            "read_as": {card.key: read_as(card, today) for card in reading.cards},
            "choosers": {
                name: shown
                for card in reading.cards
                for name, shown in choosers_of(card, typed, snapshot).items()
            },
            "numbers": [
                (code, numbered(code.product, snapshot.products)) for code in reading.codes if code.product
            ],
            "others": [code for code in reading.codes if not code.product and not code.coupon],
            "told": told,
            "at": at or ("to-confirm" if still_open else ""),
            "forms_of": [("", "say which"), *FORM_WORDS.items()],
            "issuers": [("", "say which"), ("manufacturer", "manufacturer"), ("store", "store")],
            **choices(snapshot),
        },
        status_code=int(status),
    )


async def _round(
    home: Home, sheet: Sheet, card: Card, verb: str, name: str, today: str, device: str
) -> Template:
    """The cards come back with the products that fit, all of them ticked, or a new one added."""
    values = values_of(sheet.fields.typed)
    if verb == "all":
        # Without words the list proposes what the card's own words may mean.
        words = sheet.fields.text(f"{name}-words")
        fits = (
            find(words, sheet.known)
            if words
            else choosers_of(card, sheet.fields.typed, sheet.snapshot)[name].found
        )
        values = all_that_fit(values, name, [product.id for product in fits])
    if verb == "add":
        try:
            values = chosen_too(values, name, await add_product(home, sheet, name, device))
        except BadInput as error:
            return cards_page(sheet, today, findings=error.findings, status=HTTPStatus.BAD_REQUEST)
    return cards_page(sheet_of(await home.snapshot(), values), today, at=name)


async def _keep(
    home: Home, reading: Reading, sheet: Sheet, cards: Sequence[Card], today: str, device: str
) -> Template:
    outcome = await keep(home, reading, sheet, cards, device)
    values = values_of(sheet.fields.typed)
    values["done"] = [*values.get("done", []), *(f"{key}|{became}" for key, became in outcome.done.items())]
    kept = len(outcome.done)
    return cards_page(
        sheet_of(await home.snapshot(), values),
        today,
        findings=outcome.findings,
        told=f"{kept} {'offer' if kept == 1 else 'offers'} kept." if kept else "",
        at=next_open(reading, set(outcome.done)),
        status=HTTPStatus.BAD_REQUEST if outcome.findings else HTTPStatus.OK,
    )
