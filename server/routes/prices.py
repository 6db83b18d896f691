"""``/desk/larder/prices``: the price book of products and staples, prices typed by hand, stock-up prices."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from fractions import Fraction
from http import HTTPStatus
from typing import Any

import msgspec
from litestar import Response, Router, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath, FromQuery
from litestar.response import Template

from ..access import household
from ..engine.measure import measure_in
from ..engine.offers import Product
from ..errors import status_of
from ..home.household import Staple
from ..home.larder import day_in_words, unit_word
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
from ..homes import Home, Snapshot
from ..intake.bad_input import BadInput
from ..ledger import Ledger
from ..store.facts import Facts, PriceRow
from .fields import Fields, Typed
from .household_page import Asked, Shown, Today, device_of, fields_of, go_to, no_such, stores_of
from .larder import TYPED

LIST = "/desk/larder/prices"
A_PAGE = 50
HOW = {
    "tag": "tag",
    "aisle": "seen in the aisle",
    "paid": "paid",
    "typed": "typed by hand",
    "import": "from a file",
}
LABELS = {"store": "Store", "day": "Day", "cents": "Price of one pack", "each": "Price once its deal is used"}


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """A product in the list; prices are shown ready."""

    product: Product
    last: str
    last_day: str
    last_store: str
    lowest: str
    count: int


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


@get("/")
async def price_list(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    facts: NamedDependency[Facts],
    today: Today,
    search: FromQuery[str] = "",
    page: FromQuery[str] = "1",
) -> Template:
    """Products by name with their last and lowest price of the last year, and the staples."""
    await ledger.refresh()
    snapshot, shown = await home.snapshot(), Shown(await home.snapshot())
    number = int(page) if page.isascii() and page.isdigit() and 0 < len(page) < 6 else 1
    found = await home.kept.records(
        "product", search=search, limit=A_PAGE, offset=(max(number, 1) - 1) * A_PAGE
    )
    ids = [record.id for record in found.records]
    heads = (
        {head.product: head for head in await facts.price_heads(ids, _year_before(today()))} if ids else {}
    )
    rows: list[Row] = []
    for id in ids:
        head, product = heads.get(id), snapshot.products[id]
        rows.append(
            Row(
                product=product,
                last=shown.money(head.last_cents) if head else "",
                last_day=head.last_day if head else "",
                last_store=shown.store(head.last_store) if head else "",
                lowest=shown.money(head.lowest_cents) if head else "",
                count=head.prices if head else 0,
            )
        )
    return Template(
        "larder/prices.html",
        context={
            "rows": rows,
            "search": search,
            "total": found.total,
            "page": number,
            "pages_in_all": -(-found.total // A_PAGE),
            "staples": sorted(snapshot.staples.values(), key=lambda staple: staple.name.lower()),
        },
    )


@get("/products/{id:str}")
async def product_prices(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    today: Today,
    id: FromPath[str],
    every: FromQuery[str] = "",
) -> Template:
    """A product's prices in the unit of measure of its staple, else in that of its size."""
    await ledger.refresh()
    snapshot = await home.snapshot()
    typed = Fields.of({"day": [today()]}).typed
    return await _product_page(snapshot, ledger, today(), id, typed, whole=bool(every))


@post("/products/{id:str}", status_code=HTTPStatus.OK)
async def type_price(
    request: Asked,
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    facts: NamedDependency[Facts],
    today: Today,
    id: FromPath[str],
) -> Response[Any]:
    """Keeps a price that was seen somewhere."""
    snapshot = await home.snapshot()
    _product(snapshot, id)
    fields = await fields_of(request, snapshot)
    store = fields.known("store", snapshot.stores, what="store", needed="choose where it was seen")
    day = fields.day("day") or today()
    if day > today():
        fields.wrong("day", "a day that has come")
    cents = fields.cents("cents", needed="write the price of one pack on the tag")
    each = fields.cents("each")
    if each is not None and cents is not None and each > cents:
        fields.wrong("each", "no more than the price on the tag")
    try:
        fields.finish()
    except BadInput as error:
        return await _product_page(snapshot, ledger, today(), id, fields.typed, error=error)
    assert cents is not None
    row = PriceRow(
        product=id,
        store=store or "",
        day=day,
        cents=cents,
        each_cents=cents if each is None else each,
        how="typed",
    )
    await facts.add_prices(TYPED, [row])
    return go_to(f"{LIST}/products/{id}")


@get("/staples/{id:str}")
async def staple_prices(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    today: Today,
    id: FromPath[str],
    every: FromQuery[str] = "",
) -> Template:
    """All of a staple's products together, in its unit of measure."""
    await ledger.refresh()
    snapshot = await home.snapshot()
    staple = _staple(snapshot, id)
    products = {id: snapshot.products[id] for id in staple.products if id in snapshot.products}
    book = await _book(snapshot, ledger, products, staple.per, today(), whole=bool(every))
    return _page(snapshot, book, today(), title=staple.name, staples=[staple], products=products)


@post("/staples/{id:str}/stock-up", status_code=HTTPStatus.OK)
async def take_proposal(
    request: Asked,
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    today: Today,
    id: FromPath[str],
) -> Response[Any]:
    """Makes the proposed stock-up price hers."""
    await ledger.refresh()
    snapshot = await home.snapshot()
    staple = _staple(snapshot, id)
    products = {id: snapshot.products[id] for id in staple.products if id in snapshot.products}
    book = await _book(snapshot, ledger, products, staple.per, today())
    if book.proposed is None:
        return go_to(f"{LIST}/staples/{id}")
    changed = msgspec.structs.replace(staple, stock_up_cents=as_decimal(book.proposed))
    await home.save(
        [changed],
        words=f"Stock-up price of {staple.name} from the price book",
        device=device_of(request),
        revisions={("staple", id): snapshot.revisions["staple", id]},
    )
    return go_to(f"{LIST}/staples/{id}")


prices_router = Router(
    LIST,
    route_handlers=[price_list, product_prices, type_price, staple_prices, take_proposal],
    guards=[household],
    include_in_schema=False,
)


async def _product_page(
    snapshot: Snapshot,
    ledger: Ledger,
    today: str,
    id: str,
    typed: Typed,
    *,
    whole: bool = False,
    error: BadInput | None = None,
) -> Template:
    product = _product(snapshot, id)
    staples = [staple for staple in snapshot.staples.values() if id in staple.products]
    pers = [staple.per for staple in staples if measure_in(product, staple.per)]
    per = pers[0] if pers else product.size.unit
    book = await _book(snapshot, ledger, {id: product}, per, today, whole=whole)
    return _page(
        snapshot,
        book,
        today,
        title=product.description or id,
        staples=staples,
        products={id: product},
        form=product,
        typed=typed,
        error=error,
    )


async def _book(
    snapshot: Snapshot,
    ledger: Ledger,
    products: Mapping[str, Product],
    per: str,
    today: str,
    *,
    whole: bool = False,
) -> Book:
    """The figures are of the last year; what is shown goes back further where the ``whole`` is asked for."""
    since = _year_before(today)
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


def _page(
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
            "today": today,
            "day_in_words": day_in_words,
            "unit_word": unit_word,
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


def _year_before(today: str) -> str:
    return (date.fromisoformat(today) - timedelta(days=YEAR_DAYS - 1)).isoformat()


def _product(snapshot: Snapshot, id: str) -> Product:
    product = snapshot.products.get(id)
    if product is None:
        raise no_such("product", id, LIST)
    return product


def _staple(snapshot: Snapshot, id: str) -> Staple:
    staple = snapshot.staples.get(id)
    if staple is None:
        raise no_such("staple", id, "/desk/larder")
    return staple
