"""``/desk/larder/prices``: the price book of products and staples, prices typed by hand, stock-up prices."""

from __future__ import annotations

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
from ..home.household import Staple
from ..home.price_book import (
    as_decimal,
)
from ..homes import Home, Snapshot
from ..intake.bad_input import BadInput
from ..ledger import Ledger
from ..store.facts import Facts, PriceRow
from .fields import Fields, Typed
from .household_page import Asked, Shown, Today, device_of, fields_of, go_to, no_such
from .larder import TYPED
from .price_book_page import book_of, book_page, year_before

LIST = "/desk/larder/prices"
A_PAGE = 50


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """A product in the list; prices are shown ready."""

    product: Product
    last: str
    last_day: str
    last_store: str
    lowest: str
    count: int


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
    heads = {head.product: head for head in await facts.price_heads(ids, year_before(today()))} if ids else {}
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
    book = await book_of(snapshot, ledger, products, staple.per, today(), whole=bool(every))
    return book_page(snapshot, book, today(), title=staple.name, staples=[staple], products=products)


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
    book = await book_of(snapshot, ledger, products, staple.per, today())
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
    book = await book_of(snapshot, ledger, {id: product}, per, today, whole=whole)
    return book_page(
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
