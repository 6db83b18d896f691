"""The form of a product."""

from __future__ import annotations

from collections.abc import Sequence

from ....engine.offers import Product, Size
from ....home.kinds import Record
from ....home.naming import id_from
from .form import Form, Written, texts
from .sheet import Sheet, Values, pieces_of, read_gtin, read_unit


def read(sheet: Sheet, id: str | None) -> Sequence[Record]:
    """The product of a sheet."""
    fields = sheet.fields
    description = fields.text("description", needed="write what it is, with its kind: “Wickel oats, honey”")
    amount = fields.decimal("amount") or "1"
    unit = read_unit(fields, "unit")
    return (
        Product(
            id=id or id_from(description, sheet.snapshot.products, "product"),
            description=description,
            category=fields.text("category"),
            size=Size(amount=amount, unit=unit),
            pieces=fields.whole("pieces", low=1) or pieces_of(amount, unit),
            tax_class=fields.text("tax_class"),
            gtin=read_gtin(fields, "gtin"),
            note=fields.text("note"),
        ),
    )


def fill(product: Product, written: Written) -> Values:
    """A product as it is typed."""
    return {
        **texts(
            description=product.description,
            category=product.category,
            tax_class=product.tax_class,
            gtin=product.gtin,
            note=product.note,
        ),
        "amount": [product.size.amount],
        "unit": [product.size.unit],
        "pieces": [str(product.pieces)],
    }


FORM = Form(
    kind="product",
    template="offers/product.html",
    read=read,
    fill=fill,
    field_of=lambda path: {"size.amount": "amount", "size.unit": "unit", "id": "description"}.get(path, path),
    blank={"amount": ["1"], "unit": ["piece"]},
)
