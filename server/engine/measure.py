"""Measure: how much is in a pack, what it is worth to the household, what a unit of it costs.

Exact ratios throughout. Factors: NIST Handbook 44, Appendix C, section 4 (1 inch = 2.54 cm,
1 pound = 0.45359237 kg, 1 US gallon = 231 cubic inches, all exact). A weight ounce (``oz``)
and a fluid ounce (``floz``) measure different things and never convert into each other.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Literal

from .money import round_half_up, show
from .offers import Product, StockUp

Dimension = Literal["weight", "volume", "length", "area", "pieces"]

# Unit -> how much of its dimension's base unit it is (gram, millilitre, metre, square
# metre). Decimal texts, read exactly.
_FACTORS: Mapping[Dimension, Mapping[str, str]] = {
    "weight": {"mg": "0.001", "g": "1", "kg": "1000", "oz": "28.349523125", "lb": "453.59237"},
    "volume": {
        "ml": "1",
        "cl": "10",
        "l": "1000",
        "fl-oz": "29.5735295625",
        "cup": "236.5882365",
        "pt": "473.176473",
        "qt": "946.352946",
        "gal": "3785.411784",
        "cu-in": "16.387064",
        "dry-pt": "550.6104713575",
        "dry-qt": "1101.220942715",
        "bu": "35239.07016688",
    },
    "length": {"mm": "0.001", "cm": "0.01", "m": "1", "in": "0.0254", "ft": "0.3048", "yd": "0.9144"},
    "area": {
        "sq-cm": "0.0001",
        "sq-m": "1",
        "sq-in": "0.00064516",
        "sq-ft": "0.09290304",
        "sq-yd": "0.83612736",
    },
}

# Words for one countable piece of the pack; all count the product's ``pieces``.
PIECES: tuple[str, ...] = (
    *("piece", "count", "each", "bag", "bar", "bottle", "box", "can", "capsule", "diaper", "egg", "load"),
    *("pad", "pair", "pod", "pouch", "roll", "serving", "sheet", "slice", "stick", "tablet", "wipe"),
)

UNITS: Mapping[str, tuple[Dimension, Fraction]] = {
    **{unit: (of, Fraction(factor)) for of, factors in _FACTORS.items() for unit, factor in factors.items()},
    **{unit: ("pieces", Fraction(1)) for unit in PIECES},
}


class NotMeasured(ValueError):
    """A pack has no measure in that unit: ``product`` and ``per`` say which, ``mend`` what to do."""

    def __init__(self, product: str, per: str, mend: str) -> None:
        super().__init__(f"{product} has no measure per {per}: {mend}")
        self.product = product
        self.per = per
        self.mend = mend


def dimension_of(unit: str) -> Dimension | None:
    """What ``unit`` measures; None if it is no unit that is known here."""
    known = UNITS.get(unit)
    return None if known is None else known[0]


def convert(amount: Fraction, unit: str, into: str) -> Fraction | None:
    """``amount`` of ``unit`` counted in ``into``, exactly; None across dimensions or for no unit."""
    if unit not in UNITS or into not in UNITS:
        return None
    (of, factor), (into_of, into_factor) = UNITS[unit], UNITS[into]
    return amount * factor / into_factor if of == into_of else None


def measure_in(product: Product, per: str) -> Fraction | None:
    """How many ``per`` one pack holds (12 rolls, 16 ounces), exactly; None where it has no such measure.

    A word for a piece counts ``pieces``. Where the size itself is in pieces ("30 tablet") and
    ``pieces`` is left at 1, the size counts. A size of 0 is no measure.
    """
    amount = Fraction(product.size.amount)
    if dimension_of(per) == "pieces":
        size_counts = dimension_of(product.size.unit) == "pieces" and product.pieces == 1 and amount > 0
        return amount if size_counts else Fraction(product.pieces)
    return convert(amount, product.size.unit, per) or None


def measures_of(product: Product, per: str) -> Fraction:
    """As ``measure_in``, where a measure is expected: refuses (``NotMeasured``) if there is none."""
    measure = measure_in(product, per)
    if measure is None:
        sold = f"{product.size.amount} {product.size.unit}"
        raise NotMeasured(product.id, per, f"it is sold by {sold}; name a unit that measures the same thing")
    return measure


def worth_cents(product: Product, stock_up: StockUp) -> int:
    """What one pack is worth to the want: whole cents at or under its stock-up price.

    ``floor(stock-up cents * measure)``: prices are whole cents, so the floor decides "at or
    under" exactly as the fraction would. 0.25 a roll, 12 rolls: 300.
    """
    worth = Fraction(stock_up.cents) * measures_of(product, stock_up.per)
    return worth.numerator // worth.denominator


def unit_price(cents: int, product: Product, per: str, packs: int = 1) -> Fraction:
    """Cents per ``per`` of ``packs`` packs that cost ``cents`` together; exact, for ranking."""
    return Fraction(cents) / (packs * measures_of(product, per))


def unit_word(per: str) -> str:
    """A unit as a reader sees it: ``fl oz`` where documents write ``fl-oz``."""
    return per.replace("-", " ")


def show_unit_price(price: Fraction, per: str, currency: str = "USD", exponent: int = 2) -> str:
    """A unit price as a shelf tag shows it: ``$3.49/lb``, ``21.8¢/oz``.

    From one whole unit of the currency: nearest cent; below: nearest tenth of a cent; a half
    goes up (N.J.A.C. 13:45A-14.6; Oregon ORS 616.850(4)). Only for showing: rank by the
    exact ratio. Where a currency has no cents of a hundred, the tenths stand after the amount.
    """
    if price >= 10**exponent or exponent == 0:
        return (
            f"{show(round_half_up(price.numerator, price.denominator), currency, exponent)}/{unit_word(per)}"
        )
    tenths = round_half_up(price.numerator * 10, price.denominator)
    if currency == "USD":
        sign = "-" if tenths < 0 else ""
        return f"{sign}{abs(tenths) // 10}.{abs(tenths) % 10}¢/{unit_word(per)}"
    return f"{show(tenths, currency, exponent + 1)}/{unit_word(per)}"
