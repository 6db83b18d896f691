"""A deal step by step: what its units cost from the regular price down to the net, and that per measure."""

from __future__ import annotations

import msgspec

from ...engine.measure import show_unit_price, unit_price
from ...engine.offers import Product, StockUp, Store, Trip
from ...engine.papers import Deal
from ...engine.situation import tag_at


class Step(msgspec.Struct, frozen=True, kw_only=True):
    """What all units cost after one step, and that per unit of measure, ready to show."""

    name: str
    cents: int
    unit_price: str


def steps_of(trip: Trip, product: Product, store: Store, deal: Deal) -> tuple[Step, ...]:
    """From the regular price of all units down to the net; tax comes with the register's total."""
    per = measured_per(trip, product, deal)
    tag = tag_at(trip, store, product.id)
    regular = deal.tag_cents
    if tag is not None and tag.regular_cents is not None:
        regular += (tag.regular_cents - tag.cents) * deal.units
    at_register = deal.register_cents + deal.tax_cents
    found: list[Step] = []
    for name, cents in (
        ("regular price", regular),
        ("on the tag", deal.tag_cents),
        ("after the stack", deal.register_cents),
        ("with tax", at_register),
        ("after the reward", at_register - deal.reward_cents),
        ("after the rebate", deal.net_cents),
    ):
        each = unit_price(abs(cents), product, per, deal.units)
        shown = show_unit_price(each, per, trip.currency, trip.exponent)
        found.append(Step(name=name, cents=cents, unit_price=f"-{shown}" if cents < 0 else shown))
    return tuple(found)


def measured_per(trip: Trip, product: Product, deal: Deal) -> str:
    """The unit of measure of the want's stock-up price, else the pack's own."""
    stock_up: StockUp | None = next((want.stock_up for want in trip.wants if want.id == deal.want), None)
    return product.size.unit if stock_up is None else stock_up.per
