"""``counterfoil explain``: one product's deal as a planner writes it down, and what else could be done.

Per store: from the regular price down to the net, each step with its price per unit of measure; the
alternatives, each from the whole trip planned again; a table of tags with the break-even.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal

import msgspec

from ..after.publishing.steps import Step, steps_of
from ..engine.money import show
from ..engine.offers import Product, Store, Trip
from ..engine.papers import Alternative, Deal, Happened, Plan, PriceRow
from ..engine.situation import counter_at, is_sold
from ..intake.bad_input import BadInput, Finding, shorten
from ..intake.documents import read_trip
from .columns import columns, words

Money = Callable[[int], str]


class AtStore(msgspec.Struct, frozen=True, kw_only=True):
    """The explanation at one store. ``deal`` None: the plan buys none of it there."""

    store: str
    deal: Deal | None
    steps: tuple[Step, ...]
    alternatives: tuple[Alternative, ...]
    break_even_cents: int | None
    price_table: tuple[PriceRow, ...]


class Explanation(msgspec.Struct, frozen=True, kw_only=True):
    """What ``--json`` prints."""

    format: Literal["counterfoil-explanation-1"] = "counterfoil-explanation-1"
    trip: str
    product: str
    stores: tuple[AtStore, ...]


def add_explain(commands: Any) -> None:
    """The command and its options. ``commands``: argparse keeps the type of its subparsers to itself."""
    command: argparse.ArgumentParser = commands.add_parser(
        "explain",
        help="explain one product's deal",
        description="Explains one product's deal in the plan of a trip, with alternatives and break-even.",
    )
    command.add_argument("trip", type=Path, metavar="TRIP.json", help="the trip (counterfoil schema trip)")
    command.add_argument("product", metavar="PRODUCT", help="the product's id in the trip")
    command.add_argument("--store", metavar="STORE", help="one store's id; where it is bought if left out")
    command.add_argument("--json", action="store_true", help="print the explanation as a document")
    command.set_defaults(run=_explain)


def _explain(chosen: argparse.Namespace) -> int:
    trip = read_trip(chosen.trip)
    product = _product(trip, chosen.product)
    asked = None if chosen.store is None else _store(trip, chosen.store, product)

    sold = [asked] if asked is not None else _sold(trip, product)

    from ..engine.planner import plan  # brings the solver, which bad input need not wait for

    made = plan(trip)
    bought = {deal.store for deal in made.deals if deal.product == product.id}
    places = [store for store in sold if store.id in bought] or sold
    explained = Explanation(
        trip=trip.id,
        product=product.id,
        stores=tuple(_at(trip, made, product, place) for place in places),
    )
    if chosen.json:
        whole = {"format": explained.format} | msgspec.to_builtins(explained)
        print(json.dumps(whole, indent=2, ensure_ascii=False))
    else:
        print("\n\n".join(_page(trip, product, each) for each in explained.stores))
    return 0


def _product(trip: Trip, name: str) -> Product:
    for product in trip.products:
        if product.id == name:
            return product
    mend = f"the trip has no product with this id: name one of {', '.join(each.id for each in trip.products)}"
    raise BadInput(Finding(field="PRODUCT", value=shorten(name), mend=shorten(mend)))


def _store(trip: Trip, name: str, product: Product) -> Store:
    for store in trip.stores:
        if store.id == name:
            if is_sold(trip, counter_at(trip, store), product.id):
                return store
            mend = f"it has no price for {product.id} on {trip.day}: name one that has"
            raise BadInput(Finding(field="--store", value=shorten(name), mend=shorten(mend)))
    mend = f"the trip has no store with this id: name one of {', '.join(each.id for each in trip.stores)}"
    raise BadInput(Finding(field="--store", value=shorten(name), mend=shorten(mend)))


def _sold(trip: Trip, product: Product) -> list[Store]:
    """The stores that have a price for it on the day."""
    sold = [store for store in trip.stores if is_sold(trip, counter_at(trip, store), product.id)]
    if not sold:
        mend = f"no store has a price for it on {trip.day}: add a line under prices"
        raise BadInput(Finding(field="PRODUCT", value=shorten(product.id), mend=mend))
    return sold


def _at(trip: Trip, made: Plan, product: Product, store: Store) -> AtStore:
    from ..engine.alternatives import alternatives, price_table

    spot = (store.id, product.id)
    deal = next((each for each in made.deals if (each.store, each.product) == spot), None)
    rows = price_table(trip, Happened(), *spot)
    return AtStore(
        store=store.id,
        deal=deal,
        steps=() if deal is None else steps_of(trip, product, store, deal),
        alternatives=tuple(alternatives(trip, Happened(), *spot)),
        break_even_cents=next((row.tag_cents for row in rows if row.is_break_even), None),
        price_table=tuple(rows),
    )


def _page(trip: Trip, product: Product, at: AtStore) -> str:
    def money(cents: int) -> str:
        return show(cents, trip.currency, trip.exponent)

    store = next(each for each in trip.stores if each.id == at.store)
    bought = "not bought here" if at.deal is None else f"{at.deal.units} bought"
    parts = [words(f"{product.description} at {store.name}: {bought}")]
    if at.deal is not None:
        rows = [(step.name.capitalize(), money(step.cents), step.unit_price) for step in at.steps]
        parts += ["", columns(rows, right={1, 2}, indent="  "), "", words(_verdict(at.deal), indent="  ")]
    if at.alternatives:
        parts += ["", _alternatives(at.alternatives, money)]
    if at.price_table:
        parts += ["", _price_table(at.price_table, money)]
        if at.break_even_cents is None:
            parts += ["", words("No tag is low enough to buy it here.", indent="  ")]
    return "\n".join(parts)


def _verdict(deal: Deal) -> str:
    if not deal.stock_up:
        return f"Net {deal.unit_price}; there is no stock-up price for it."
    return f"Net {deal.unit_price}: {deal.verdict} the stock-up price of {deal.stock_up}."


def _alternatives(found: tuple[Alternative, ...], money: Money) -> str:
    def worth(cents: int) -> str:
        return f"{money(abs(cents))} {'worse' if cents > 0 else 'better'}" if cents else "the same"

    rows = [
        (
            each.words,
            str(each.units),
            money(each.net_cents) if each.units else "",
            each.unit_price,
            f"{'+' if each.trip_net_change_cents > 0 else ''}{money(each.trip_net_change_cents)}",
            worth(each.trip_value_change_cents),
        )
        for each in found
    ]
    heading = ("Alternative", "Units", "Net", "Each", "Trip costs", "All in all")
    return columns(rows, right=range(1, 6), heading=heading, indent="  ")


def _price_table(found: tuple[PriceRow, ...], money: Money) -> str:
    rows = [
        (
            money(row.tag_cents),
            str(row.units),
            money(row.register_cents) if row.units else "",
            money(row.net_cents) if row.units else "",
            row.unit_price,
            f"{row.verdict}, break-even" if row.is_break_even else row.verdict,
        )
        for row in found
    ]
    heading = ("Tag", "Units", "Register", "Net", "Each", "Against the stock-up price")
    return columns(rows, right=range(5), heading=heading, indent="  ")
