"""What the household would take: the worth of a pack, and the wants as pins leave them."""

from __future__ import annotations

from fractions import Fraction

import msgspec

from counterfoil.engine.offers import Product, StockUp, Trip, Want

# What a measure is of its base: gram, millilitre, metre, square metre (exact by definition).
OUNCE, FLUID_OUNCE, FOOT = Fraction("28.349523125"), Fraction("29.5735295625"), Fraction("0.3048")
MEASURES = (
    {"mg": Fraction(1, 1000), "g": Fraction(1), "kg": Fraction(1000), "oz": OUNCE, "lb": 16 * OUNCE},
    {"ml": Fraction(1), "cl": Fraction(10), "l": Fraction(1000), "fl-oz": FLUID_OUNCE}
    | {"cup": 8 * FLUID_OUNCE, "pt": 16 * FLUID_OUNCE, "qt": 32 * FLUID_OUNCE, "gal": 128 * FLUID_OUNCE},
    {"m": Fraction(1), "cm": Fraction(1, 100), "ft": FOOT, "in": FOOT / 12, "yd": 3 * FOOT},
    {"sq-m": Fraction(1), "sq-ft": FOOT**2, "sq-yd": 9 * FOOT**2, "sq-in": FOOT**2 / 144},
)


def per_unit_worth(product: Product, stock_up: StockUp | None) -> int:
    """Whole cents that one pack is worth: by its size, or by its pieces for any word that is no measure."""
    if stock_up is None:
        return 0
    measure = Fraction(product.pieces)
    if product.pieces == 1 and not any(product.size.unit in each for each in MEASURES):
        # "30 tablets" as a size is thirty pieces.
        measure = Fraction(product.size.amount)
    for of_one_kind in MEASURES:
        if stock_up.per in of_one_kind:
            size = Fraction(product.size.amount) * of_one_kind[product.size.unit]
            measure = size / of_one_kind[stock_up.per]
    worth = Fraction(stock_up.cents) * measure
    return worth.numerator // worth.denominator


def with_pins(trip: Trip) -> Trip:
    """The trip with the ceilings of its wants raised by what is pinned beyond them.

    Pinned units of a product go to the wants that take it, in the order of their names, as far as they
    have room; the first of them takes the rest, and a product that none takes is a want of its own."""
    wants = {want.id: want for want in trip.wants}
    room = {want.id: max(want.need, want.welcome) for want in trip.wants}
    for product in sorted({pin.product for pin in trip.pinned}):
        units = sum(pin.units for pin in trip.pinned if pin.product == product)
        takers = sorted(want.id for want in trip.wants if product in want.products)
        for taker in takers:
            taken = min(units, room[taker])
            room[taker] -= taken
            units -= taken
        if units == 0:
            continue
        name = takers[0] if takers else f"pinned {product}"
        want = wants.get(name, Want(id="pinned", products=(product,)))
        most = max(want.need, want.welcome) + units
        wants[name] = msgspec.structs.replace(want, welcome=most)
    return msgspec.structs.replace(trip, wants=tuple(wants.values()))
