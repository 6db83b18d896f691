"""What the pages after the trip share: all facts of the household, a form that was turned down, names."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

import msgspec

from ...after.balances import Balances, balances
from ...after.books import Books
from ...after.claims import Claims, claims_of
from ...after.notes import Note
from ...engine.money import show
from ...errors import bad_input
from ...homes import Home, Snapshot
from ...intake.bad_input import BadInput, Finding
from ...ledger import Ledger
from ...notebook import fresh_id
from ..fields import Fields, Typed

ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")  # of a note, as ``after/notes.py`` has it
NEEDED = "this form is not of a page that was just opened: reload the page"


class Facts(msgspec.Struct, frozen=True, kw_only=True):
    """All that a page after the trip tells of, as it stands ``today``."""

    snapshot: Snapshot
    books: Books
    today: str
    claims: Claims
    papers: Balances

    @property
    def money(self) -> tuple[str, int]:
        """The household's currency and its digits."""
        return self.snapshot.settings.currency, self.snapshot.settings.exponent


class Sent(msgspec.Struct, frozen=True, kw_only=True):
    """A small form that was turned down: which one (``form``), what was typed, what is wrong. Ids on the
    page are ``FORM-FIELD``, and so are the findings' fields."""

    form: str = ""
    typed: Typed = Typed({})
    findings: tuple[Finding, ...] = ()

    @property
    def labels(self) -> Mapping[str, str]:
        """What its fields are called where a finding is told."""
        return {f"{self.form}-{field}": label for field, label in _LABELS.items()}

    def value(self, form: str, field: str, otherwise: str = "") -> str:
        """What was typed in a field of that form, if it is the one that was sent."""
        return self.typed[field] if form == self.form else otherwise

    def of(self, form: str) -> tuple[Finding, ...]:
        """The findings of that form."""
        return self.findings if form == self.form else ()


_LABELS: Mapping[str, str] = {
    "cents": "Amount",
    "claim": "The rebate",
    "done": "What the photo is of",
    "minutes": "Minutes",
    "note": "The form",
    "photo": "Photo",
    "times": "How many times",
    "units": "How many",
    "words": "Note",
}


def turned_down(form: str, typed: Typed, error: BadInput) -> Sent:
    """The form with its findings, named as on the page."""
    findings = tuple(
        msgspec.structs.replace(each, field=f"{form}-{each.field}" if each.field else "")
        for each in error.findings
    )
    return Sent(form=form, typed=typed, findings=findings)


async def facts_of(home: Home, ledger: Ledger, today: str) -> Facts:
    """Everything, from the store."""
    snapshot = await home.snapshot()
    await ledger.refresh()
    books = await ledger.books()
    return Facts(
        snapshot=snapshot,
        books=books,
        today=today,
        claims=claims_of(books, today),
        papers=balances(books, today),
    )


class Called:
    """What things are called on a page, over all trips and the household's own records; an id that
    nothing knows stands for itself."""

    def __init__(self, facts: Facts) -> None:
        trips = [each.trip for each in facts.books.trips]
        self._money = facts.money
        self._trips = {trip.id: trip.title or trip.id for trip in trips}
        self._moneys = {trip.id: (trip.currency, trip.exponent) for trip in trips}
        self._stores = {store.id: store.name for trip in trips for store in trip.stores}
        self._stores |= {store.id: store.name for store in facts.snapshot.stores.values()}
        self._products = {product.id: product.description for trip in trips for product in trip.products}
        self._products |= {each.id: each.description for each in facts.snapshot.products.values()}
        self._claims = {(claim.trip, claim.claim): claim.description for claim in facts.claims.claims}

    def money(self, cents: int, trip: str = "") -> str:
        """Cents in a trip's currency, or the household's."""
        return show(cents, *self._moneys.get(trip, self._money))

    def typed(self, cents: int, trip: str = "") -> str:
        """The amount as it is typed: ``2.37``."""
        return show(cents, "", self._moneys.get(trip, self._money)[1]).strip()

    def trip(self, trip: str) -> str:
        """A trip's title."""
        return self._trips.get(trip, trip)

    def store(self, store: str) -> str:
        """A store's name."""
        return self._stores.get(store) or store

    def product(self, product: str) -> str:
        """A product's description."""
        return self._products.get(product) or product

    def claim(self, trip: str, claim: str) -> str:
        """A rebate's or set bonus's description."""
        return self._claims.get((trip, claim), claim)


def shared(facts: Facts, sent: Sent | None) -> dict[str, object]:
    """What every template after the trip is given. ``fresh``: an id for the note that a form will be."""
    fresh: Callable[[], str] = fresh_id
    return {
        "called": Called(facts),
        "today": facts.today,
        "sent": sent or Sent(),
        "fresh": fresh,
    }


def note_id(fields: Fields) -> str:
    """The id that the page made for the note."""
    name = fields.text("note")
    if not ID.fullmatch(name):
        raise bad_input("note", name, NEEDED)
    return name


def corrected(fields: Fields, facts: Facts) -> str | None:
    """The note that this one says anew, None for a new one."""
    name = fields.text("corrects")
    if name and all(note.id != name for note in facts.books.notes):
        raise bad_input("corrects", name, "it was taken back meanwhile: look at the page anew")
    return name or None


def newest_first(rows: Sequence[Note], most: int = 30) -> Sequence[Note]:
    """The last notes that hold, the newest in front."""
    return list(reversed(rows))[:most]
