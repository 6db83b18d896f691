"""Facts for the larder and the price book, from trips and notes.

A *stock move* is packs that came or went, or a count. A *price fact* is what a product cost somewhere on a
day: on a tag that the trip had, on a tag seen in the aisle, or as paid. Prices are exact ratios, ``cents``
for ``units`` together, so that three for 1.00 stays three for 1.00.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal

import msgspec

from ..engine.money import round_half_up
from ..engine.offers import BuyOneGetOne, NForM, ShelfPrice
from ..engine.papers import Found, PriceSeen
from .books import Books
from .notes import Counted, UnplannedPurchase, UsedUp
from .purchases import Bought

MoveKind = Literal["bought", "bought without a plan", "used up", "counted"]
PriceSource = Literal["tag in a trip", "seen in the aisle", "paid"]


class StockMove(msgspec.Struct, frozen=True, kw_only=True):
    """``units`` packs more (fewer, below zero); of a count, the packs that are there.

    ``source``: the event or note; ``trip``: "" where there was none."""

    product: str
    day: str
    units: int
    kind: MoveKind
    source: str
    trip: str = ""
    store: str = ""


class PriceFact(msgspec.Struct, frozen=True, kw_only=True):
    """``cents`` buy ``units`` packs at a store on a day. ``tag_cents``: one pack on the tag before its deal
    (None where only the receipt is known). ``until``: the tag's last day, if it has one."""

    product: str
    store: str
    day: str
    tag_cents: int | None
    cents: int
    units: int
    source: PriceSource
    source_id: str
    regular: bool = False
    until: str | None = None
    currency: str = "USD"
    exponent: int = 2


def stock_moves(books: Books) -> tuple[StockMove, ...]:
    """Every move by day; on one day what came, then what went, then the count."""
    moves = [move for found in books.trips for move in _moves_of(found)]
    for note in books.notes:
        match note.what:
            case UnplannedPurchase(store=store, lines=lines):
                moves.extend(
                    StockMove(
                        product=line.product,
                        day=note.day,
                        units=line.units,
                        kind="bought without a plan",
                        source=note.id,
                        store=store,
                    )
                    for line in lines
                )
            case UsedUp(product=product, units=units):
                moves.append(
                    StockMove(product=product, day=note.day, units=-units, kind="used up", source=note.id)
                )
            case Counted(product=product, units=units):
                moves.append(
                    StockMove(product=product, day=note.day, units=units, kind="counted", source=note.id)
                )
            case _:
                pass
    order: tuple[MoveKind, ...] = ("bought", "bought without a plan", "used up", "counted")
    return tuple(sorted(moves, key=lambda move: (move.day, order.index(move.kind))))


def stock_on(moves: Iterable[StockMove], day: str) -> dict[str, int]:
    """Packs at home at the end of ``day``, per product. A count replaces what was reckoned; using up more
    than is there leaves none."""
    stock: dict[str, int] = {}
    for move in moves:
        if move.day > day:
            continue
        held = 0 if move.kind == "counted" else stock.get(move.product, 0)
        stock[move.product] = max(held + move.units, 0)
    return stock


def price_facts(books: Books) -> tuple[PriceFact, ...]:
    """Every price by day, then as they were learned."""
    facts: list[PriceFact] = []
    for found in books.trips:
        facts.extend(_tag(found, tag) for tag in found.tags)
        facts.extend(_seen(found))
        facts.extend(_paid(found))
    for note in books.notes:
        if isinstance(note.what, UnplannedPurchase):
            what = note.what
            facts.extend(
                PriceFact(
                    product=line.product,
                    store=what.store,
                    day=note.day,
                    tag_cents=None,
                    cents=line.cents,
                    units=line.units,
                    source="paid",
                    source_id=note.id,
                    currency=what.currency,
                    exponent=what.exponent,
                )
                for line in what.lines
            )
    return tuple(sorted(facts, key=lambda fact: fact.day))


def after_deal(tag: ShelfPrice) -> tuple[int, int]:
    """What a tag asks with its deal at its best, as (cents, units): 3 for 1.00 is (100, 3); a pair of 3.00,
    the second half off, (450, 2); else one unit at the tag."""
    match tag.deal:
        case NForM(n=n, cents=cents):
            return cents, n
        case BuyOneGetOne(off_bp=off_bp):
            return 2 * tag.cents - round_half_up(tag.cents * off_bp, 10_000), 2
        case _:
            return tag.cents, 1


def _moves_of(found: Bought) -> Iterator[StockMove]:
    for purchase in found.purchases:
        for line in purchase.transaction.lines:
            yield StockMove(
                product=line.product,
                day=purchase.day,
                units=line.units,
                kind="bought",
                source=purchase.event,
                trip=purchase.trip,
                store=purchase.store,
            )


def _tag(found: Bought, tag: ShelfPrice) -> PriceFact:
    cents, units = after_deal(tag)
    return PriceFact(
        product=tag.product,
        store=tag.store,
        day=found.trip.day,
        tag_cents=tag.cents,
        cents=cents,
        units=units,
        source="tag in a trip",
        source_id=found.trip.id,
        regular=tag.kind == "regular" and tag.deal is None,
        until=tag.until,
        currency=found.trip.currency,
        exponent=found.trip.exponent,
    )


def _seen(found: Bought) -> Iterator[PriceFact]:
    """Tags that she read in the aisle; the planned deal stays on one unless she said otherwise."""
    trip = found.trip
    tags = {(tag.store, tag.product): tag for tag in found.tags}
    for event in found.events:
        what = event.what
        if not isinstance(what, PriceSeen | Found) or what.store not in {store.id for store in trip.stores}:
            continue
        planned = tags.get((what.store, what.product))
        keeps_deal = planned is not None and not (isinstance(what, PriceSeen) and what.without_deal)
        tag = ShelfPrice(
            store=what.store,
            product=what.product,
            cents=what.cents,
            deal=planned.deal if planned is not None and keeps_deal else None,
        )
        cents, units = after_deal(tag)
        yield PriceFact(
            product=what.product,
            store=what.store,
            day=trip.day,
            tag_cents=what.cents,
            cents=cents,
            units=units,
            source="seen in the aisle",
            source_id=event.id,
            currency=trip.currency,
            exponent=trip.exponent,
        )


def _paid(found: Bought) -> Iterator[PriceFact]:
    """What each product came to at the register after all that came off there, tax apart."""
    for purchase in found.purchases:
        for deal in purchase.deals:
            yield PriceFact(
                product=deal.product,
                store=purchase.store,
                day=purchase.day,
                tag_cents=round_half_up(deal.tag_cents, deal.units),
                cents=deal.register_cents,
                units=deal.units,
                source="paid",
                source_id=purchase.event,
                currency=found.trip.currency,
                exponent=found.trip.exponent,
            )
