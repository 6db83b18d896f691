"""What is different between the trip that phones carry and the one that is about to be sent, in words."""

from __future__ import annotations

import msgspec

from ..engine.offers import Trip


def is_same(trip: Trip, sent: Trip) -> bool:
    """Whether phones carry this very trip, but for its version."""
    return msgspec.structs.replace(trip, version=sent.version) == sent


def papers_changed(sent: Trip, trip: Trip) -> tuple[str, ...]:
    """Coupons, offers and rebates that phones do not have yet, or have still, and what is asked otherwise."""
    words: list[str] = []
    for one, before, after in (
        ("coupon", sent.coupons, trip.coupons),
        ("percent offer", sent.percent_offers, trip.percent_offers),
        ("reward", sent.rewards, trip.rewards),
        ("rebate", sent.rebates, trip.rebates),
    ):
        old, new = {each.id: each for each in before}, {each.id: each for each in after}
        words += [f"New {one}: {new[id].description}" for id in new if id not in old]
        words += [f"No longer there, {one}: {old[id].description}" for id in old if id not in new]
        words += [f"Changed {one}: {new[id].description}" for id in new if id in old and old[id] != new[id]]
    asked = {want.id: want for want in sent.wants}
    for want in trip.wants:
        before = asked.get(want.id)
        if before is None or (before.need, before.welcome) != (want.need, want.welcome):
            was = "not wanted" if before is None else f"{before.need} needed, {before.welcome} welcome"
            words.append(f"{want.name or want.id}: {want.need} needed, {want.welcome} welcome (was: {was})")
    wanted = {want.id for want in trip.wants}
    words += [f"{want.name or want.id}: no longer wanted" for want in sent.wants if want.id not in wanted]
    return tuple(words)
