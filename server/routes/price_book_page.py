"""The page of a price book: the figures of one product or staple, ready to show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from fractions import Fraction
from http import HTTPStatus

import msgspec
from litestar.response import Template

from ..engine.offers import Product
from ..errors import status_of
from ..home.household import Staple
from ..home.larder import unit_in_words
from ..home.price_book import (
    YEAR_DAYS,
    Observation,
    SaleCycle,
    Summary,
    as_decimal,
    by_store,
    observations,
    proposal,
    sale_cycle,
    summary,
)
from ..homes import Snapshot
from ..intake.bad_input import BadInput
from ..ledger import Ledger
from .fields import Typed
from .household_page import Shown, stores_of

HOW = {
    "tag": "tag",
    "aisle": "seen in the aisle",
    "paid": "paid",
    "typed": "typed by hand",
    "import": "from a file",
}
LABELS = {"store": "Store", "day": "Day", "cents": "Price of one pack", "each": "Price once its deal is used"}


class Book(msgspec.Struct, frozen=True, kw_only=True):
    """The price book of one product or staple. ``seen``: what is shown, the latest first; ``year``: the
    summary of the last year; ``proposed``: cents per unit of measure, None where nothing was seen."""

    per: str
    seen: Sequence[Observation]
    year: Summary | None
    stores: Mapping[str, Summary | None]
    cycle: SaleCycle
    proposed: Fraction | None
    whole: bool


async def book_of(
    snapshot: Snapshot,
    ledger: Ledger,
    products: Mapping[str, Product],
    per: str,
    today: str,
    *,
    whole: bool = False,
) -> Book:
    """The figures are of the last year; what is shown goes back further where the ``whole`` is asked for."""
    since = year_before(today)
    rows = await ledger.prices(snapshot, list(products), today, "" if whole else since)
    seen = observations(rows, products, per)
    year = [each for each in seen if each.day >= since]
    return Book(
        per=per,
        seen=tuple(reversed(seen)),
        year=summary(year),
        stores={store: summary(theirs) for store, theirs in by_store(year).items()},
        cycle=sale_cycle(seen),
        proposed=proposal(year, snapshot.settings.stock_up_quantile, today),
        whole=whole,
    )


def book_page(
    snapshot: Snapshot,
    book: Book,
    today: str,
    *,
    title: str,
    staples: Sequence[Staple],
    products: Mapping[str, Product],
    form: Product | None = None,
    typed: Typed | None = None,
    error: BadInput | None = None,
) -> Template:
    """The page of a book. ``form``: the product whose prices can be typed there; ``typed``: what was."""
    return Template(
        "larder/price_book.html",
        context={
            "title": title,
            "book": book,
            "staples": staples,
            "products": products,
            "form": form,
            "typed": typed,
            "stores": [(store.id, store.name) for store in stores_of(snapshot)],
            "shown": Shown(snapshot),
            "how": HOW,
            "quantile": snapshot.settings.stock_up_quantile,
            "unit_in_words": unit_in_words,
            "plain": _plain,
            "fraction": Fraction,
            "days_words": _days,
            "proposed_decimal": None if book.proposed is None else as_decimal(book.proposed),
            "findings": error.findings if error else (),
            "labels": LABELS,
        },
        status_code=int(status_of(error)) if error else int(HTTPStatus.OK),
    )


def _plain(price: Fraction) -> str:
    """A price for a chart to draw: cents with two digits after the point."""
    return f"{float(price):.2f}"


def _days(days: Fraction) -> str:
    """``7 days``, ``29.5 days``: a median of whole days is whole or a half."""
    return f"{float(days):g} days"


def year_before(today: str) -> str:
    """The first day of the year that ends today."""
    return (date.fromisoformat(today) - timedelta(days=YEAR_DAYS - 1)).isoformat()
