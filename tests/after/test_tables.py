"""Promise kept here: a table's CSV is RFC 4180, its money exact decimals, its texts never formulas."""

from __future__ import annotations

import csv
import io
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.after.tables import (
    Cell,
    Column,
    Table,
    UnitPrice,
    as_csv,
    as_decimal,
    decimal_text,
    not_a_formula,
)

COLUMNS = (Column("What", "text"), Column("Amount", "cents", sums=True), Column("Packs", "units"))


def table(*rows: tuple[Cell, ...], exponent: int = 2) -> Table:
    return Table(name="t", title="", words="", columns=COLUMNS, rows=rows, currency="USD", exponent=exponent)


def test_a_header_line_then_rows_ended_by_carriage_return_and_line_feed() -> None:
    """RFC 4180, section 2: rules 1, 3, 5, 6 and 7."""
    text = as_csv(table(('soap, "green"', 5, 2), ("tea\nleaves", -12_345, None)))

    assert text == 'What,Amount USD,Packs\r\n"soap, ""green""",0.05,2\r\n"tea\nleaves",-123.45,\r\n'


@pytest.mark.parametrize(
    ("cents", "exponent", "text"),
    [(0, 2, "0.00"), (-5, 2, "-0.05"), (237, 0, "237"), (1, 3, "0.001"), (10_000_000, 2, "100000.00")],
)
def test_money_has_as_many_digits_as_its_currency(cents: int, exponent: int, text: str) -> None:
    assert as_decimal(cents, exponent) == text


@pytest.mark.parametrize(
    ("cents", "shown", "written"),
    [
        (Fraction("42.75"), "42.8¢/fl oz", "0.4275"),
        (Fraction("42.746"), "42.7¢/fl oz", "0.4275"),  # rounded once, not from the written one
        (Fraction("349.5"), "$3.50/fl oz", "3.495"),
        (Fraction("-5"), "-5.0¢/fl oz", "-0.05"),
        (Fraction("-349"), "-$3.49/fl oz", "-3.49"),
    ],
)
def test_a_unit_price_is_read_as_on_a_shelf_tag_and_written_as_a_number(
    cents: Fraction, shown: str, written: str
) -> None:
    price, measure = Column("Price", "unit price"), Column("Measure", "measure")
    both = Table(
        name="t",
        title="",
        words="",
        columns=(price, measure),
        rows=((UnitPrice(cents, "fl-oz"), "fl-oz"),),
        currency="USD",
        exponent=2,
    )

    assert [both.shown(cell, column) for cell, column in zip(both.rows[0], both.columns, strict=True)] == [
        shown,
        "fl oz",
    ]
    assert as_csv(both) == f"Price,Measure\r\n{written},fl-oz\r\n"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"])
def test_a_text_that_a_spreadsheet_would_reckon_with_is_one_no_more(start: str) -> None:
    """OWASP, "CSV Injection"."""
    assert not_a_formula(f"{start}1+1") == f"'{start}1+1"
    assert as_csv(table((f"{start}1", 1, 1))).split("\r\n", 1)[1].lstrip('"').startswith("'")


def test_a_negative_amount_is_a_number_and_stays_one() -> None:
    assert ",-0.05," in as_csv(table(("soap", -5, 1)))


@settings(deadline=None)
@given(
    rows=st.lists(
        st.tuples(
            st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\x00"), max_size=30),
            st.integers(-(10**9), 10**9),
            st.one_of(st.none(), st.integers(0, 10_000)),
        ),
        max_size=8,
    ),
    exponent=st.integers(0, 4),
)
def test_what_goes_in_comes_out_again(rows: list[tuple[str, int, int | None]], exponent: int) -> None:
    read = list(csv.reader(io.StringIO(as_csv(table(*rows, exponent=exponent)), newline=""), strict=True))

    assert len(read) == len(rows) + 1
    for (text, cents, units), (shown, amount, packs) in zip(rows, read[1:], strict=True):
        assert shown in (text, f"'{text}")
        assert Decimal(amount).scaleb(exponent) == cents
        assert packs == ("" if units is None else str(units))


def test_totals_stand_below_and_not_in_the_file() -> None:
    sums = table(("soap", 5, 2), ("tea", -7, 1), ("free", None, 1))

    assert sums.totals == (None, -2, None)
    assert [sums.shown(cell, column) for cell, column in zip(sums.rows[1], COLUMNS, strict=True)] == [
        "tea",
        "-$0.07",
        "1",
    ]
    assert as_csv(sums).count("\r\n") == 4


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        (Fraction(1, 3), 3, "0.333"),
        (Fraction(2, 3), 3, "0.667"),
        (Fraction(8), 3, "8"),
        (Fraction(100), 0, "100"),
        (Fraction(-1, 2), 0, "0"),
        (Fraction(1, 2), 0, "1"),
    ],
)
def test_an_exact_ratio_is_rounded_once_half_up(value: Fraction, places: int, text: str) -> None:
    assert decimal_text(value, places) == text
