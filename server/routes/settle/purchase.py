"""``/desk/settle/purchase``: a receipt of what was bought without a plan, typed in, and its correction.

A product is meant by an id, a number under a barcode, or words of its name; words that nothing has are kept
as they are, so that every receipt adds up. Fields of a line: ``product-N``, ``units-N``, ``cents-N`` (for all
its packs); of a slip that came out: ``slip-N``, ``until-N``. ``total``, where it is given, must be what lines
and tax come to.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from http import HTTPStatus
from typing import Any

from litestar import Response, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Template

from ...after.notes import Note, PurchaseLine, UnplannedPurchase
from ...engine.money import show
from ...engine.offers import Product, Slip
from ...home.finding import find
from ...home.naming import id_from
from ...homes import Home
from ...intake.bad_input import BadInput, Finding
from ...ledger import Ledger
from ...notebook import Notebook, fresh_id
from ..fields import Fields, Typed
from ..household_page import LARGEST_FORM, Asked, Today, device_of, fields_of, go_to, no_such
from .page import Facts, corrected, facts_of, note_id, shared

LINES, MOST_LINES = 4, 60
SLIPS = 2
MOST_FITS = 12


@get("/settle/purchase")
async def purchase_form(
    home: NamedDependency[Home], ledger: NamedDependency[Ledger], today: Today
) -> Template:
    """A blank form."""
    facts = await facts_of(home, ledger, today())
    return _page(facts, Fields.of({"day": [facts.today], "note": [fresh_id()]}).typed, LINES)


@get("/settle/purchase/{note:str}")
async def correct_form(
    home: NamedDependency[Home], ledger: NamedDependency[Ledger], today: Today, note: FromPath[str]
) -> Template:
    """The form filled from a purchase that was written down, to say it anew."""
    facts = await facts_of(home, ledger, today())
    found = next((each for each in facts.books.notes if each.id == note), None)
    if found is None or not isinstance(found.what, UnplannedPurchase):
        raise no_such("purchase", note, "/desk/settle")
    return _page(facts, Fields.of(_filled(found, found.what)).typed, len(found.what.lines) + 2)


@post("/settle/purchase", status_code=HTTPStatus.OK, request_max_body_size=LARGEST_FORM)
async def take_purchase(
    request: Asked,
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    notebook: NamedDependency[Notebook],
    today: Today,
) -> Response[Any]:
    """Keeps the purchase: its packs go into the larder, its prices into the price book."""
    facts = await facts_of(home, ledger, today())
    fields = await fields_of(request, facts.snapshot)
    lines = _lines(fields)
    if fields.text("do") == "more":
        return _page(facts, fields.typed, min(lines + LINES, MOST_LINES), at=f"product-{lines}")
    try:
        note = _read(fields, facts, lines)
        await notebook.write(
            note, facts.books, today=facts.today, currency=facts.money[0], device=device_of(request)
        )
    except BadInput as error:
        return _page(facts, fields.typed, lines, error.findings)
    return go_to("/desk/settle#notes")


def _read(fields: Fields, facts: Facts, lines: int) -> Note:
    day = fields.day("day", needed="write the day on the receipt")
    if day is not None and day > facts.today:
        fields.wrong("day", "a day that has come")
    store = fields.known("store", _stores(facts), what="store", needed="choose where it was bought")
    products = _products(facts)
    bought = [line for n in range(lines) if (line := _line(fields, products, n)) is not None]
    if not bought and not fields.findings:
        fields.wrong("product-0", "write at least one product with what was paid for it", "nothing")
    slips = [slip for n in range(SLIPS) if (slip := _slip(fields, n, store or "")) is not None]
    tax = fields.cents("tax") or 0
    words = fields.text("words")
    currency, exponent = facts.money
    total, comes_to = fields.cents("total"), sum(line.cents for line in bought) + tax
    if total is not None and not fields.findings and total != comes_to:
        mend = (
            f"the lines and the tax come to {show(comes_to, currency, exponent)}: look for the line, "
            "the tax or the digit that is not as on the receipt"
        )
        fields.wrong("total", mend)
    fields.finish()
    assert day is not None
    assert store is not None
    what = UnplannedPurchase(
        store=store,
        lines=tuple(bought),
        tax_cents=tax,
        slips=tuple(slips),
        currency=currency,
        exponent=exponent,
        words=words,
    )
    return Note(id=note_id(fields), day=day, what=what, corrects=corrected(fields, facts))


def _line(fields: Fields, products: Mapping[str, Product], n: int) -> PurchaseLine | None:
    """One line; None where it is blank or wrong. One product is meant, or none that is known."""
    words = fields.text(f"chosen-{n}") or fields.text(f"product-{n}")
    units = fields.whole(f"units-{n}", low=1)
    cents = fields.cents(f"cents-{n}")
    if not words:
        if units or cents:
            fields.wrong(f"product-{n}", "write what this line is", "nothing")
        return None
    if cents is None:
        if not fields.text(f"cents-{n}"):
            fields.wrong(f"cents-{n}", "write what was paid for all packs of this line", "nothing")
        return None
    found = find(words, products)
    if len(found) > 1:
        mend = f"which of the {len(found)} is meant? Choose below, or write more of its name"
        fields.wrong(f"product-{n}", mend)
        return None
    product = found[0].id if found else id_from(words, (), "bought")
    return PurchaseLine(
        product=product, units=units or 1, cents=cents, description="" if found else words[:400]
    )


def _slip(fields: Fields, n: int, store: str) -> Slip | None:
    cents = fields.cents(f"slip-{n}", least=1)
    until = fields.day(f"until-{n}")
    if cents is None:
        if until is not None and not fields.text(f"slip-{n}"):
            fields.wrong(f"slip-{n}", "write what is on the slip", "nothing")
        return None
    return Slip(id=f"slip-{n + 1}", store=store or "none", cents=cents, until=until)


def _filled(note: Note, what: UnplannedPurchase) -> Mapping[str, Sequence[str]]:
    def written(cents: int) -> str:
        return show(cents, "", what.exponent).strip()

    values = {
        "note": fresh_id(),
        "corrects": note.id,
        "day": note.day,
        "store": what.store,
        "tax": written(what.tax_cents) if what.tax_cents else "",
        "words": what.words,
    }
    for n, line in enumerate(what.lines):
        values[f"product-{n}"] = line.description or line.product
        values[f"units-{n}"] = str(line.units)
        values[f"cents-{n}"] = written(line.cents)
    for n, slip in enumerate(what.slips[:SLIPS]):
        values[f"slip-{n}"] = written(slip.cents)
        values[f"until-{n}"] = slip.until or ""
    return {name: [value] for name, value in values.items()}


def _page(
    facts: Facts, typed: Typed, lines: int, findings: Sequence[Finding] = (), *, at: str = ""
) -> Template:
    """``at``: the field that she goes on from, the first unless given."""
    products = _products(facts)
    labels = {"day": "Day", "store": "Store", "tax": "Tax", "total": "Total"}
    for n in range(lines):
        labels |= {f"product-{n}": f"Product {n + 1}", f"units-{n}": f"Packs {n + 1}"}
        labels[f"cents-{n}"] = f"Paid {n + 1}"
    fits = {n: find(typed[f"product-{n}"], products) for n in range(lines)}
    return Template(
        "settle/purchase.html",
        context={
            **shared(facts, None),
            "typed": typed,
            "lines": lines,
            "slips": SLIPS,
            "most": MOST_LINES,
            "stores": sorted(_stores(facts).items(), key=lambda each: each[1].lower()),
            "products": sorted({product.description for product in products.values() if product.description}),
            "fits": {
                n: [(product.id, product.description or product.id) for product in found[:MOST_FITS]]
                for n, found in fits.items()
                if len(found) > 1
            },
            "findings": findings,
            "labels": labels,
            "at": at,
        },
        status_code=int(HTTPStatus.BAD_REQUEST if findings else HTTPStatus.OK),
    )


def _lines(fields: Fields) -> int:
    text = fields.typed["lines"]
    return (
        min(max(int(text), 1), MOST_LINES) if text.isascii() and text.isdigit() and len(text) < 3 else LINES
    )


def _stores(facts: Facts) -> dict[str, str]:
    """Every store that is known, and its name: the household's, and those of trips."""
    stores = {store.id: store.name or store.id for each in facts.books.trips for store in each.trip.stores}
    return stores | {store.id: store.name or store.id for store in facts.snapshot.stores.values()}


def _products(facts: Facts) -> dict[str, Product]:
    """Every product that is known; the household's own word on one counts."""
    products = {product.id: product for each in facts.books.trips for product in each.trip.products}
    return products | dict(facts.snapshot.products)
