"""What the pages of the offers share: who asks, in which money, a form with all that it shows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from http import HTTPStatus
from typing import Any

from litestar import Request
from litestar.di import NamedDependency
from litestar.response import Template

from ...engine.measure import UNITS
from ...engine.money import show
from ...home.kinds import KINDS, Record, decode, encode
from ...home.saying import Saying
from ...homes import NotSound, Snapshot
from ...intake.bad_input import BadInput, Finding, shorten
from ...intake.decoding import finding_of
from ..fields import Fields
from .forms import Form
from .forms.form import Written, rows_of
from .forms.labels import label_of
from .forms.sheet import Sheet, chooser

Asked = Request[Any, Any, Any]
Today = NamedDependency[Callable[[], str]]
OFFER_KINDS = ("price", "coupon", "percent_offer", "reward", "rebate", "set_bonus")
LARGEST_FORM = 1_000_000  # bytes; a paste of 20,000 characters with its cards stays below it


async def fields_of(request: Asked, snapshot: Snapshot) -> Fields:
    """The fields of a form that was sent, amounts in the household's money."""
    settings = snapshot.settings
    return Fields(await request.form(), currency=settings.currency, exponent=settings.exponent)


def saying(snapshot: Snapshot) -> Saying:
    """Sentences about the household's records."""
    settings = snapshot.settings
    return Saying(snapshot.stores, snapshot.products, currency=settings.currency, exponent=settings.exponent)


def written(snapshot: Snapshot) -> Written:
    """Amounts as they are typed: ``2.37``."""
    exponent = snapshot.settings.exponent
    return lambda cents: show(cents, "", exponent).strip()


def device_of(request: Asked) -> str:
    """The id of the device that asks."""
    return str(request.user.id)


def checked(record: Record, kind: str) -> Record:
    """The record, its types proven: what is kept must be readable again. Raises ``BadInput``."""
    document = encode(record)
    try:
        return decode(kind, document)
    except ValueError as error:
        raise BadInput(finding_of(error, document, KINDS[kind].type)) from None  # pyright: ignore[reportArgumentType]  # msgspec's own


def findings_of(error: BadInput, form: Form, sheet: Sheet) -> tuple[Finding, ...]:
    """The findings of records that were refused, by the fields of the form that they were read from."""
    if not isinstance(error, NotSound):
        return tuple(
            Finding(field=form.field_of(found.field), value=found.value, mend=found.mend)
            for found in error.findings
        )
    findings: list[Finding] = []
    for misfit in error.misfits:
        if misfit.place < len(sheet.made):
            field = new_product_field(sheet.made[misfit.place].chooser, misfit.field)
        else:
            field = form.field_of(misfit.field)
        findings.append(Finding(field=field, value=shorten(misfit.value), mend=plainly(misfit.mend)))
    return tuple(dict.fromkeys(findings))


def form_page(
    form: Form,
    sheet: Sheet,
    *,
    id: str | None = None,
    revision: int = 0,
    findings: Sequence[Finding] = (),
    heading: str = "",
    status: HTTPStatus = HTTPStatus.OK,
    told: str = "",
    at: str = "",
) -> Template:
    """A form with what was typed in it. ``at``: the id of the part that she goes on from."""
    typed, snapshot = sheet.fields.typed, sheet.snapshot
    rows = rows_of(typed, form.more[0], 1, form.more[1]) if form.more else 0
    label = partial(label_of, form.kind, rows=rows)
    opened = {found.field.partition("-new-")[0] for found in findings if "-new-" in found.field}
    return Template(
        form.template,
        context={
            "kind": KINDS[form.kind],
            "record_id": id,
            "revision": revision,
            "typed": typed,
            "findings": findings,
            "label": label,
            "labels": {found.field: label(found.field) for found in findings},
            "heading": heading or "Nothing was changed yet.",
            "told": told,
            "at": at,
            "choosers": {
                name: chooser(name, typed, sheet.known, adding=name in opened)
                for name in form.choosers(typed)
            },
            **choices(snapshot),
            **form.context(sheet),
        },
        status_code=int(status),
    )


def choices(snapshot: Snapshot) -> Mapping[str, object]:
    """What the fields of every form offer to choose from."""
    stores = sorted(snapshot.stores.values(), key=lambda store: (store.name.lower(), store.id))
    products, tags = snapshot.products.values(), snapshot.prices.values()
    tax_classes = {tax_class for store in stores for tax_class in store.tax.rates}
    return {
        "stores": stores,
        "rebates": sorted(snapshot.rebates.values(), key=lambda rebate: rebate.description.lower()),
        "units": tuple(UNITS),
        "categories": sorted({product.category for product in products if product.category}),
        "tax_classes": sorted(tax_classes | {product.tax_class for product in products if product.tax_class}),
        "places": sorted({tag.place for tag in tags if tag.place})[:200],
        "regions": sorted({store.region for store in stores if store.region}),
    }


def sheet_of(snapshot: Snapshot, values: Mapping[str, Sequence[str]]) -> Sheet:
    """A sheet that has ``values`` in it."""
    settings = snapshot.settings
    return Sheet(Fields.of(values, currency=settings.currency, exponent=settings.exponent), snapshot)


def new_product_field(chooser: str, path: str) -> str:
    """The field of the product that is added in a list, by a path in its record."""
    part = {"size.amount": "amount", "size.unit": "unit", "gtin": "gtin"}.get(path, "description")
    return f"{chooser}-new-{part}"


def plainly(mend: str) -> str:
    """Where two tags meet the check names the other by its place: said for a reader."""
    _, found, rest = mend.partition(" is a tag for the same product and store on the same days")
    return f"there is a tag for the same product and store on some of these days{rest}" if found else mend
