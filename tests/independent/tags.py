"""What holds on a day: ranges of dates, and the tag of a product."""

from __future__ import annotations

from counterfoil.engine.offers import ShelfPrice, Trip


def in_force(day: str, start: str | None, end: str | None) -> bool:
    """Whether a day lies in a range that includes both of its ends."""
    return (start is None or start <= day) and (end is None or day <= end)


def tag_of(trip: Trip, store: str, product: str) -> ShelfPrice | None:
    """The tag in force, of several the cheapest, of equally cheap ones one with a deal; a channel without
    a tag has its store's."""
    parents = {each.id: each.channel_of for each in trip.stores}
    for owner in (store, parents[store]):
        tags = [
            tag
            for tag in trip.prices
            if tag.store == owner and tag.product == product and in_force(trip.day, tag.from_date, tag.until)
        ]
        if tags:
            return min(tags, key=lambda tag: (tag.cents, tag.deal is None))
    return None
