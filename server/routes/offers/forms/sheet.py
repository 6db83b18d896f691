"""A form of an offer while it is read or shown: its fields, what may be chosen, products made on the way.

Products are chosen by ticking (``NAME`` holds the ids, several times) or by typing (``NAME-words``), and
one that is not in the list can be added in the same form (``NAME-new-...``). Nothing of it needs script:
the form's other buttons (``do``) send it round, and it comes back as it was, with what was asked for.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import msgspec

from ....engine.measure import PIECES, UNITS
from ....engine.offers import Product, Size
from ....engine.records import UNIT_MEND
from ....home.finding import MOST_SHOWN, find
from ....home.naming import id_from
from ....homes import Snapshot
from ....intake.product_code import ProductCode, read_product_code
from ...fields import Fields, Typed

MOST_TAKEN = 2_000  # products of one offer, as ``engine/offers.py`` has it
Values = dict[str, list[str]]


class Chooser(msgspec.Struct, frozen=True, kw_only=True):
    """A list of products to choose from, as a page shows it. ``found``: what fits the ``words``, without
    what is chosen; ``total``: how many fit. ``adding``: the fields for a new product are open."""

    name: str
    chosen: Sequence[Product]
    found: Sequence[Product]
    total: int
    words: str
    adding: bool


class Made(NamedTuple):
    """A product that was made on the way, and the list that it was made for."""

    chooser: str
    product: Product


class Sheet:
    """What a form reads from: ``fields`` as they came, ``snapshot`` of the household, ``made`` on the way."""

    def __init__(self, fields: Fields, snapshot: Snapshot) -> None:
        self.fields = fields
        self.snapshot = snapshot
        self.made: list[Made] = []

    @property
    def known(self) -> Mapping[str, Product]:
        """The products, with those that this form brings along."""
        return {**self.snapshot.products, **{made.product.id: made.product for made in self.made}}

    def products(self, name: str, *, needed: str = "", words_too: bool = True) -> tuple[str, ...]:
        """The ids that were ticked, then what the typed words mean, then the product that is new.

        Words that fit several products, or none, are a finding; ``needed``: the mend where nothing is chosen.
        """
        fields = self.fields
        ids = [id for id in dict.fromkeys(fields.lines(name)) if self._is_there(name, id)]
        words = fields.text(f"{name}-words")
        if words and words_too:
            fits = find(words, self.known)
            if len(fits) == 1:
                ids.append(fits[0].id)
            elif fits:
                fields.wrong(name, f"which of the {len(fits)} is meant? Tick it below", words)
            else:
                fields.wrong(
                    name, "no product has all of these words: try fewer, or add it as a new one", words
                )
        if product := self.new_product(f"{name}-new"):
            self.made.append(Made(name, product))
            ids.append(product.id)
        chosen = tuple(dict.fromkeys(ids))
        if needed and not chosen and not any(found.field == name for found in fields.findings):
            fields.wrong(name, needed, "nothing")
        if len(chosen) > MOST_TAKEN:
            fields.wrong(name, f"at most {MOST_TAKEN} products", f"{len(chosen)} products")
        return chosen

    def new_product(self, prefix: str) -> Product | None:
        """The product in the fields ``PREFIX-description`` and so on; None where no name was typed."""
        fields = self.fields
        description = fields.text(f"{prefix}-description")
        if not description:
            return None
        amount = fields.decimal(f"{prefix}-amount") or "1"
        unit = read_unit(fields, f"{prefix}-unit")
        return Product(
            id=id_from(description, self.known, "product"),
            description=description,
            category=fields.text(f"{prefix}-category"),
            size=Size(amount=amount, unit=unit),
            pieces=pieces_of(amount, unit),
            gtin=read_gtin(fields, f"{prefix}-gtin"),
        )

    def stores(self, name: str) -> tuple[str, ...]:
        """The ids of the stores that were ticked."""
        return tuple(id for id in dict.fromkeys(self.fields.lines(name)) if self._store_is_there(name, id))

    def _is_there(self, name: str, id: str) -> bool:
        if id in self.known:
            return True
        self.fields.wrong(name, "there is no such product any more: choose another", id)
        return False

    def _store_is_there(self, name: str, id: str) -> bool:
        if id in self.snapshot.stores:
            return True
        self.fields.wrong(name, "there is no such store any more: choose another", id)
        return False


def read_unit(fields: Fields, name: str) -> str:
    """The unit that a pack is measured in; a piece where nothing was typed."""
    unit = fields.text(name) or "piece"
    if unit in UNITS:
        return unit
    fields.wrong(name, UNIT_MEND)
    return "piece"


def read_gtin(fields: Fields, name: str) -> str | None:
    """The number under the barcode, its check digit verified; None where nothing was typed."""
    text = fields.text(name)
    if not text:
        return None
    number = read_product_code(text)
    if isinstance(number, ProductCode):
        bare = text.replace(" ", "").replace("-", "")
        # A UPC-E is kept as the number that it stands for: its own eight digits would be an EAN-8's.
        return number.gtin[2:] if number.kind == "UPC-E" else bare
    fields.wrong(name, number.mend)
    return None


def pieces_of(amount: str, unit: str) -> int:
    """How many pieces are in a pack whose size counts pieces ("12 roll"), else 1."""
    whole = amount.split(".")[0]
    return int(whole) if unit in PIECES and amount == whole and 1 <= int(whole) <= 10_000 else 1


def chooser(name: str, typed: Typed, known: Mapping[str, Product], *, adding: bool = False) -> Chooser:
    """The list of products ``name`` as it stands in what was ``typed``."""
    ids = dict.fromkeys(typed.all(name))
    chosen = [known[id] for id in ids if id in known]
    words = typed[f"{name}-words"].strip()
    fits = [product for product in find(words, known) if product.id not in ids]
    return Chooser(
        name=name,
        chosen=chosen,
        found=fits[:MOST_SHOWN],
        total=len(fits),
        words=words,
        adding=adding or bool(typed[f"{name}-new-description"]) or bool(words and not fits),
    )


def values_of(typed: Typed) -> Values:
    """What was typed, to be changed."""
    return {name: list(typed.all(name)) for name in typed}
