"""What was found out of prices, stock and copies, as the rows that are kept of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from .after.facts import MoveKind, PriceFact, PriceSource, StockMove, after_deal
from .after.purchases import Bought
from .engine.offers import ShelfPrice
from .engine.papers import CouponCopies, CouponFound
from .home.binder import CopiesMove, earlier
from .store.facts import PriceRow, StockRow
from .store.interface import StoredEvent

_HOW_SEEN: dict[PriceSource, str] = {"tag in a trip": "tag", "seen in the aisle": "aisle", "paid": "paid"}
_HOW_MOVED: dict[MoveKind, str] = {
    "bought": "bought",
    "bought without a plan": "bought",
    "used up": "used",
    "counted": "counted",
}


def price_rows(found: Iterable[PriceFact], currency: str) -> list[PriceRow]:
    """Prices as they are kept; those in another currency are not comparable and left out.

    One of several is the next whole cent above its share, so that a stock-up price taken from it is not
    below what it costs. Of several of one place, day and kind, the lowest is kept.
    """
    rows: dict[tuple[str, str, str, PriceSource], PriceRow] = {}
    for each in found:
        if each.currency != currency:
            continue
        each_cents = -(-each.cents // each.units)
        key = (each.product, each.store, each.day, each.source)
        if key in rows and rows[key].each_cents <= each_cents:
            continue
        rows[key] = PriceRow(
            product=each.product,
            store=each.store,
            day=each.day,
            cents=each_cents if each.tag_cents is None else each.tag_cents,
            each_cents=each_cents,
            how=_HOW_SEEN[each.source],
        )
    return list(rows.values())


def tag_row(tag: ShelfPrice, today: str) -> PriceRow:
    """A tag as a price: of its first day, or of today where it just stands."""
    cents, units = after_deal(tag)
    return PriceRow(
        product=tag.product,
        store=tag.store,
        day=tag.from_date or today,
        cents=tag.cents,
        each_cents=-(-cents // units),
        how="tag",
    )


def stock_rows(moves: Iterable[StockMove]) -> list[StockRow]:
    """Moves as they are kept."""
    return [
        StockRow(product=move.product, day=move.day, units=move.units, how=_HOW_MOVED[move.kind])
        for move in moves
    ]


def copies_moved(found: Bought, heard: Mapping[str, StoredEvent]) -> Iterator[CopiesMove]:
    """What a trip did to the copies of coupons. ``heard``: its events as they arrived, by id.

    Each use is one copy less. Copies found in the store are more, those of the whole trip taken together:
    what was first put down as missing and then found again is no find.
    """
    events = {event.id: event for event in found.events}

    def when(event_id: str) -> str:
        arrived = heard.get(event_id)
        return earlier(events[event_id].at, arrived.received if arrived else "")

    for purchase in found.purchases:
        for use in purchase.transaction.uses:
            yield CopiesMove(coupon=use.coupon, copies=-1, at=when(purchase.event), trip=found.trip.id)
    more: dict[str, tuple[int, str]] = {}
    for event in found.events:
        match event.what:
            case CouponCopies(coupon=coupon, copies=copies):
                pass
            case CouponFound(coupon=peeled):
                coupon, copies = peeled.id, peeled.copies
            case _:
                continue
        more[coupon] = (more.get(coupon, (0, ""))[0] + copies, when(event.id))
    for coupon, (copies, at) in more.items():
        if copies > 0:
            yield CopiesMove(coupon=coupon, copies=copies, at=at, trip=found.trip.id)
