"""Cards that are confirmed: kept in one batch; those that do not fit stay open, with what is wrong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import msgspec

from ...home.kinds import Record, title_of
from ...homes import Home, NotSound, key_of
from ...intake.bad_input import BadInput, Finding
from .cards import Card
from .forms.sheet import Made, Sheet
from .page import checked, new_product_field, plainly, sheet_of
from .reading import Reading
from .taking import COMMON, field_on, take


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """``done``: by the key of each card that was kept, the kind and id of its record. And what is wrong."""

    done: Mapping[str, str]
    findings: Sequence[Finding]


def sure_cards(reading: Reading, sheet: Sheet) -> list[Card]:
    """The cards that could be taken as they stand: nothing asks, nothing is missing."""
    return [
        card
        for card in reading.cards
        if card.key not in reading.done
        and card.draft.sure
        and not (card.minds or card.there)
        and not _read_card(card, sheet).findings
    ]


async def keep(home: Home, reading: Reading, sheet: Sheet, cards: Sequence[Card], device: str) -> Outcome:
    """Keeps what the cards become, in one batch, without those that do not fit."""
    findings: list[Finding] = []
    ready: dict[str, _Records] = {}
    for card in cards:
        if card.key not in reading.done:
            became = _read_card(card, sheet)
            findings += became.findings
            if not became.findings:
                ready[card.key] = became
    while ready:
        places = [(became, n) for became in ready.values() for n in range(len(became.all))]
        try:
            sound = [checked(became.all[n], key_of(became.all[n])[0]) for became, n in places]
            await home.save(
                sound,
                words=_words(list(ready.values())),
                device=device,
                revisions={key_of(record): 0 for record in sound},
            )
            break
        except NotSound as error:
            for misfit in error.misfits:
                became, n = places[misfit.place]
                ready.pop(became.card.key, None)
                findings.append(
                    Finding(
                        field=became.field(n, misfit.field), value=misfit.value, mend=plainly(misfit.mend)
                    )
                )
        except BadInput as error:
            mend = "it is kept already, or was changed meanwhile: look at it in the list of offers"
            findings += [Finding(field="", value=found.value, mend=mend) for found in error.findings]
            ready = {}
    done = {key: "/".join(key_of(became.records[-1])) for key, became in ready.items()}
    return Outcome(done=done, findings=tuple(dict.fromkeys(findings)))


class _Records(NamedTuple):
    """What a card becomes: products that it brings along, its records, or what is wrong."""

    card: Card
    made: Sequence[Made]
    records: Sequence[Record]
    findings: Sequence[Finding]

    @property
    def all(self) -> Sequence[Record]:
        return [*(made.product for made in self.made), *self.records]

    def field(self, place: int, path: str) -> str:
        """The field of the page that a path in the record at that place means."""
        if place < len(self.made):
            return new_product_field(self.made[place].chooser, path)
        return field_on(self.card, path)


def _read_card(card: Card, sheet: Sheet) -> _Records:
    """A card by itself: what is wrong with one is no other's matter."""
    typed = sheet.fields.typed
    names = (name for name in typed if name.startswith(card.key) or name in COMMON)
    mine = sheet_of(sheet.snapshot, {name: typed.all(name) for name in names})
    records = take(card, mine)
    return _Records(card, mine.made, records, tuple(mine.fields.findings))


def _words(ready: Sequence[_Records]) -> str:
    if len(ready) == 1:
        return f"Read and confirmed: {title_of(ready[0].records[-1])}"
    return f"Read and confirmed: {len(ready)} offers"
