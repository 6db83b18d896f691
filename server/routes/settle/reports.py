"""``/desk/reports``: every table as a page of 26 weeks, with its chart where script draws it, and whole as a
CSV file."""

from __future__ import annotations

import asyncio
from http import HTTPStatus

from litestar import MediaType, Response, get
from litestar.di import NamedDependency
from litestar.params import FromPath, FromQuery
from litestar.response import Template

from ...after.reports import currencies, reports
from ...after.tables import Cell, Column, Table, UnitPrice, as_csv, as_decimal, unit_price_text
from ...after.windows import DAY_OF, window
from ...errors import not_taken
from ...homes import Home
from ...ledger import Ledger
from ..household_page import Today
from .page import Facts, facts_of


@get("/reports")
async def report_page(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    today: Today,
    currency: FromQuery[str] = "",
    page: FromQuery[int] = 1,
) -> Template:
    """Every report in one currency, the household's unless another is asked for; ``page``: older weeks."""
    facts = await facts_of(home, ledger, today())
    money = _money(facts, currency)
    # Where something changed, years are reckoned: phones sync meanwhile.
    found = await asyncio.to_thread(reports, facts.books, facts.today, *money)
    return Template(
        "settle/reports.html",
        context={
            "window": window(found, page, facts.today),
            "by_weeks": DAY_OF,
            "currency": money[0],
            "currencies": [each for each, _ in currencies(facts.books)],
            "plotted": plotted,
        },
    )


@get("/reports/{name:str}", media_type=MediaType.TEXT)
async def report_file(
    home: NamedDependency[Home],
    ledger: NamedDependency[Ledger],
    today: Today,
    name: FromPath[str],
    currency: FromQuery[str] = "",
) -> Response[str]:
    """One report as ``NAME.csv``."""
    facts = await facts_of(home, ledger, today())
    found = await asyncio.to_thread(reports, facts.books, facts.today, *_money(facts, currency))
    table = next((each for each in found if f"{each.name}.csv" == name), None)
    if table is None:
        names = ", ".join(f"{each.name}.csv" for each in found)
        raise not_taken("address", name, f"Take one of: {names}.", status=HTTPStatus.NOT_FOUND)
    return Response(
        as_csv(table),
        media_type="text/csv; header=present",
        headers={"Content-Disposition": f'attachment; filename="counterfoil-{name}"'},
    )


def plotted(table: Table, column: Column, cell: Cell) -> str:
    """A cell as a number for the chart, "" where it is none."""
    if cell is None:
        return ""
    if column.kind == "cents" and isinstance(cell, int):
        return as_decimal(cell, table.exponent)
    if isinstance(cell, UnitPrice):
        return unit_price_text(cell, table.exponent)
    return str(cell) if column.kind in ("units", "decimal") else ""


def _money(facts: Facts, currency: str) -> tuple[str, int]:
    """The currency that was asked for, if anything was spent in it."""
    known = dict(currencies(facts.books))
    if currency in known:
        return currency, known[currency]
    ours = facts.money
    return ours if ours[0] in known else next(iter(known.items()))
