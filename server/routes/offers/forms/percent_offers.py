"""The form of a store's percent offer."""

from __future__ import annotations

from collections.abc import Sequence

from ....engine.offers import PercentOffer
from ....home.kinds import Record
from ....home.naming import id_from
from ....home.saying import percent
from .form import Form, Written, optional, texts, written_percent
from .goods import NEEDS_A_STORE, goods, of_products, products_or_everything, saying_of
from .sheet import Sheet, Values


def read(sheet: Sheet, id: str | None) -> Sequence[Record]:
    """The percent offer of a sheet."""
    fields, saying = sheet.fields, saying_of(sheet)
    store = fields.known("store", sheet.snapshot.stores, what="store", needed=NEEDS_A_STORE)
    bp = fields.percent("percent", needed="write how many percent")
    if bp == 0:
        fields.wrong("percent", "more than nothing")
    products = products_or_everything(sheet)
    description = fields.text("description") or f"{percent(bp or 0)} off {goods(saying, products)}"[:400]
    return (
        PercentOffer(
            id=id or id_from(description, sheet.snapshot.percent_offers, "percent-offer"),
            store=store or "",
            description=description,
            bp=bp or 1,
            products=products,
            units_per_transaction=fields.whole("units_per_transaction", low=1),
            transactions=fields.whole("transactions", low=1),
            from_date=fields.day("from_date"),
            until=fields.day("until"),
        ),
    )


def fill(offer: PercentOffer, written: Written) -> Values:
    """A percent offer as it is typed."""
    return {
        **texts(
            store=offer.store,
            description=offer.description,
            from_date=offer.from_date,
            until=offer.until,
            everything="" if offer.products else "yes",
        ),
        "percent": [written_percent(offer.bp)],
        "products": list(offer.products),
        "units_per_transaction": optional(offer.units_per_transaction),
        "transactions": optional(offer.transactions),
    }


FORM = Form(
    kind="percent_offer",
    template="offers/percent_offer.html",
    read=read,
    fill=fill,
    field_of=lambda path: of_products({"bp": "percent", "id": "description"}.get(path, path)),
    choosers=lambda typed: ("products",),
)
