"""A report as one plain table, so that the page, the chart and the CSV file come of one thing.

CSV is RFC 4180: a header line, commas, CRLF, quotes doubled; UTF-8. Money is decimal text with as many
digits after the point as the currency has ("-0.05"), so that a spreadsheet reads numbers. A text that a
spreadsheet would take for a formula gets an apostrophe in front (OWASP, "CSV Injection").
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Literal

import msgspec

from ..engine.measure import show_unit_price, unit_word
from ..engine.money import round_half_up, show

# text: as it is; date: ISO 8601; cents: minor units; units: a whole number; decimal: exact decimal text;
# measure: a unit of measure; unit price: an amount for one of them.
ColumnKind = Literal["text", "date", "cents", "units", "decimal", "measure", "unit price"]
Money = tuple[str, int]  # a currency and its digits after the point
# What makes a spreadsheet reckon, with the full-width forms that some of them fold.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


class UnitPrice(msgspec.Struct, frozen=True):
    """Exact ``cents`` (minor units) for one ``per``."""

    cents: Fraction
    per: str


Cell = str | int | UnitPrice | None


class Column(msgspec.Struct, frozen=True):
    """``title`` heads it. A number column with ``sums`` is added up below the table."""

    title: str
    kind: ColumnKind
    sums: bool = False


class Chart(msgspec.Struct, frozen=True):
    """How a table is drawn, by titles of its columns: a date along ``x``, each of ``y`` upward, one line for
    each text in ``series``."""

    x: str
    y: tuple[str, ...]
    series: tuple[str, ...] = ()


class Table(msgspec.Struct, frozen=True, kw_only=True):
    """``words``: what is counted and how, for the reader. ``chart``: how it is drawn, None for not at all."""

    name: str
    title: str
    words: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    currency: str
    exponent: int
    chart: Chart | None = None

    @property
    def totals(self) -> tuple[Cell, ...]:
        """What stands below: the sum of each column that ``sums``, None elsewhere."""
        return tuple(
            sum(cell for row in self.rows if isinstance(cell := row[place], int)) if column.sums else None
            for place, column in enumerate(self.columns)
        )

    def shown(self, cell: Cell, column: Column) -> str:
        """A cell as a reader sees it."""
        if cell is None:
            return ""
        if column.kind == "cents" and isinstance(cell, int):
            return show(cell, self.currency, self.exponent)
        if isinstance(cell, UnitPrice):
            shown = show_unit_price(abs(cell.cents), cell.per, self.currency, self.exponent)
            return f"-{shown}" if cell.cents < 0 else shown
        if column.kind == "measure":
            return unit_word(str(cell))
        return str(cell)


def table_of(
    name: str,
    title: str,
    words: str,
    columns: tuple[Column, ...],
    rows: Iterable[tuple[Cell, ...]],
    money: Money,
    chart: Chart | None = None,
) -> Table:
    """A table in one currency."""
    return Table(
        name=name,
        title=title,
        words=words,
        columns=columns,
        rows=tuple(rows),
        currency=money[0],
        exponent=money[1],
        chart=chart,
    )


def as_csv(table: Table) -> str:
    """The table as RFC 4180 text, money columns headed with the currency."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_header(table))
    for row in table.rows:
        writer.writerow(
            [_written(table, cell, column) for cell, column in zip(row, table.columns, strict=True)]
        )
    return out.getvalue()


def as_decimal(cents: int, exponent: int) -> str:
    """Minor units as decimal text: (-5, 2) is "-0.05"."""
    digits = str(abs(cents)).rjust(exponent + 1, "0")
    number = digits if exponent == 0 else f"{digits[:-exponent]}.{digits[-exponent:]}"
    return f"-{number}" if cents < 0 else number


def unit_price_text(price: UnitPrice, exponent: int) -> str:
    """A unit price as decimal text, to the hundredth of a minor unit: 42.75 cents are "0.4275"."""
    return decimal_text(price.cents / 10**exponent, exponent + 2)


def decimal_text(value: Fraction, places: int) -> str:
    """An exact ratio as decimal text of at most ``places`` digits, half up, without closing zeros."""
    text = as_decimal(round_half_up(value.numerator * 10**places, value.denominator), places)
    return text.rstrip("0").rstrip(".") if "." in text else text


def not_a_formula(text: str) -> str:
    """The text, or the text behind an apostrophe where a spreadsheet would reckon with it."""
    return f"'{text}" if text.startswith(_FORMULA) else text


def _header(table: Table) -> Sequence[str]:
    return [
        f"{column.title} {table.currency}" if column.kind == "cents" else column.title
        for column in table.columns
    ]


def _written(table: Table, cell: Cell, column: Column) -> str:
    if cell is None:
        return ""
    if column.kind == "cents" and isinstance(cell, int):
        return as_decimal(cell, table.exponent)
    if isinstance(cell, UnitPrice):
        return unit_price_text(cell, table.exponent)
    if column.kind in ("units", "decimal"):
        return str(cell)
    return not_a_formula(str(cell))
