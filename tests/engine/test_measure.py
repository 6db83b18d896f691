"""Promise kept here: packs are measured exactly, and unit prices shown as shelf-tag law shows them."""

from __future__ import annotations

from fractions import Fraction

import pytest

from counterfoil.engine.measure import (
    NotMeasured,
    convert,
    dimension_of,
    measure_in,
    measures_of,
    show_unit_price,
    unit_price,
    worth_cents,
)
from counterfoil.engine.offers import Product, Size, StockUp


def pack(amount: str, unit: str, pieces: int = 1) -> Product:
    return Product(id="pack", description="A pack", size=Size(amount=amount, unit=unit), pieces=pieces)


@pytest.mark.parametrize(
    ("unit", "into", "exact"),
    [
        ("oz", "g", "28.349523125"),
        ("lb", "g", "453.59237"),
        ("fl-oz", "ml", "29.5735295625"),
        ("cup", "ml", "236.5882365"),
        ("pt", "ml", "473.176473"),
        ("qt", "ml", "946.352946"),
        ("gal", "ml", "3785.411784"),
        ("cu-in", "ml", "16.387064"),
        ("dry-pt", "ml", "550.6104713575"),
        ("dry-qt", "ml", "1101.220942715"),
        ("bu", "cu-in", "2150.42"),
        ("in", "cm", "2.54"),
        ("ft", "cm", "30.48"),
        ("yd", "cm", "91.44"),
        ("sq-ft", "sq-m", "0.09290304"),
        ("sq-yd", "sq-m", "0.83612736"),
        ("lb", "oz", "16"),
        ("gal", "fl-oz", "128"),
        ("gal", "cu-in", "231"),
        ("bu", "dry-qt", "32"),
        ("sq-ft", "sq-in", "144"),
    ],
)
def test_factor_is_exact(unit: str, into: str, exact: str) -> None:
    """NIST Handbook 44, Appendix C, section 4."""
    assert convert(Fraction(1), unit, into) == Fraction(exact)


def test_weight_ounce_is_no_fluid_ounce() -> None:
    assert convert(Fraction(1), "oz", "fl-oz") is None
    assert (dimension_of("oz"), dimension_of("fl-oz"), dimension_of("furlong")) == ("weight", "volume", None)
    with pytest.raises(NotMeasured) as refused:
        measures_of(pack("16", "oz"), "fl-oz")
    assert "16 oz" in refused.value.mend


def test_pieces_of_a_pack_count_by_any_word() -> None:
    assert measure_in(pack("12", "roll", 12), "roll") == 12
    assert measure_in(pack("12", "roll"), "piece") == 12
    assert measure_in(pack("9", "oz", 8), "bar") == 8
    assert measure_in(pack("9", "oz", 8), "oz") == 9
    assert measure_in(Product(id="p", description=""), "piece") == 1


def test_pack_of_nothing_has_no_measure() -> None:
    assert measure_in(pack("0", "oz"), "oz") is None


@pytest.mark.parametrize(
    ("cents", "amount", "unit", "per", "shown"),
    [
        # Australian regulator, "Grocery unit prices" and the pages of its unit pricing code.
        (762, "2.5", "l", "l", "$3.05/l"),
        (574, "1.5", "l", "l", "$3.83/l"),
        (600, "5", "l", "l", "$1.20/l"),
        (300, "1.5", "l", "l", "$2.00/l"),
        (150, "80", "g", "kg", "$18.75/kg"),
        # By hand, with the rounding of N.J.A.C. 13:45A-14.6.
        (349, "16", "oz", "oz", "21.8¢/oz"),
        (349, "16", "oz", "lb", "$3.49/lb"),
        (199, "2", "l", "fl-oz", "2.9¢/fl oz"),
        (199, "2", "l", "qt", "94.2¢/qt"),
        (429, "500", "g", "lb", "$3.89/lb"),
        (429, "500", "g", "oz", "24.3¢/oz"),
        (389, "1", "gal", "qt", "97.3¢/qt"),
        (389, "1", "gal", "l", "$1.03/l"),
        (389, "1", "gal", "fl-oz", "3.0¢/fl oz"),
        (1249, "450", "sq-ft", "sq-m", "29.9¢/sq m"),
        (799, "30", "count", "count", "26.6¢/count"),
        (499, "2", "piece", "piece", "$2.50/piece"),
    ],
)
def test_unit_price_as_on_a_shelf_tag(cents: int, amount: str, unit: str, per: str, shown: str) -> None:
    assert show_unit_price(unit_price(cents, pack(amount, unit), per), per) == shown


@pytest.mark.parametrize(
    ("cents", "shown"),
    [("100.5", "$1.01/lb"), ("100.4", "$1.00/lb"), ("50.05", "50.1¢/lb"), ("50.04", "50.0¢/lb")],
)
def test_five_in_the_next_place_goes_up(cents: str, shown: str) -> None:
    """N.J.A.C. 13:45A-14.6, the printed examples."""
    assert show_unit_price(Fraction(cents), "lb") == shown


def test_unit_price_in_other_currencies() -> None:
    assert show_unit_price(Fraction("50.05"), "kg", "CHF", 2) == "CHF 0.501/kg"
    assert show_unit_price(Fraction("498.5"), "kg", "JPY", 0) == "¥499/kg"


def test_two_packs_at_once() -> None:
    """Tissue 5.29 - 0.60 coupon - 0.50 rebate over 16 rolls: 26.1875 cents a roll."""
    assert unit_price(419, pack("16", "roll"), "roll") == Fraction("26.1875")
    assert unit_price(838, pack("16", "roll"), "roll", packs=2) == Fraction("26.1875")


@pytest.mark.parametrize(
    ("stock_up", "worth"), [("25", 400), ("30", 480), ("26.1875", 419), ("26.18", 418), ("0", 0)]
)
def test_worth_is_whole_cents_at_or_under_the_stock_up_price(stock_up: str, worth: int) -> None:
    """A pack of 16 rolls: at 4.19 it is at a stock-up price of 26.1875 cents a roll, and over 26.18."""
    assert worth_cents(pack("16", "roll"), StockUp(cents=stock_up, per="roll")) == worth


def test_worth_by_weight_converts() -> None:
    assert worth_cents(pack("500", "g"), StockUp(cents="300", per="lb")) == 330
