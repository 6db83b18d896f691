"""What was of use and is not any more: coupons that expired in hand, papers and claims that lapsed.

Copies in hand of a coupon: those of the household's binder; what the binder does not know has those of the
latest trip that carries it, less its uses there. A copy left at home is still a copy.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

import msgspec

from ..engine.offers import BasketOff, CentsOff, Coupon
from ..engine.papers import CouponCopies
from .balances import balances
from .books import Books
from .claims import claims_of
from .once import once
from .purchases import Bought

WasteKind = Literal["coupon", "slip", "rain check", "rebate"]


class CouponInHand(msgspec.Struct, frozen=True, kw_only=True):
    """Copies of a coupon that were not used. ``trip``: the latest that carries it ("" for none)."""

    coupon: Coupon
    copies: int
    trip: str


class Wasted(msgspec.Struct, frozen=True, kw_only=True):
    """Something that lapsed on ``day``. ``cents``: what it would have given, None where that depends on what
    is bought with it."""

    kind: WasteKind
    words: str
    day: str
    count: int
    cents: int | None
    source: str


@once
def coupons_in_hand(books: Books) -> Sequence[CouponInHand]:
    """Every coupon with copies left, expired or not, by id."""
    found: dict[str, CouponInHand] = {}
    for each in books.trips:
        at_home = _left_at_home(each)
        for coupon in each.trip.coupons:
            copies = coupon.copies + at_home.get(coupon.id, 0)
            found[coupon.id] = CouponInHand(coupon=coupon, copies=copies, trip=each.trip.id)
    for coupon in books.at_home.coupons:
        trip = found[coupon.id].trip if coupon.id in found else ""
        found[coupon.id] = CouponInHand(coupon=coupon, copies=coupon.copies, trip=trip)
    return [found[name] for name in sorted(found) if found[name].copies > 0]


def face_cents(coupon: Coupon) -> int | None:
    """What one copy gives off, where its face says so in cents."""
    return coupon.gives.cents if isinstance(coupon.gives, CentsOff | BasketOff) else None


def wasted(books: Books, today: str) -> list[Wasted]:
    """Everything that has lapsed before ``today``, by day."""
    found: list[Wasted] = []
    for held in coupons_in_hand(books):
        until, face = held.coupon.until, face_cents(held.coupon)
        if until is not None and until < today:
            found.append(
                Wasted(
                    kind="coupon",
                    words=held.coupon.description or held.coupon.id,
                    day=until,
                    count=held.copies,
                    cents=None if face is None else face * held.copies,
                    source=held.coupon.id,
                )
            )
    papers = balances(books, today)
    for slip in papers.slips:
        if slip.state in ("lapsed", "lost"):
            words = f"{slip.came_from}, {slip.state}"
            found.append(
                Wasted(kind="slip", words=words, day=slip.gone, count=1, cents=slip.cents, source=slip.key)
            )
    for check in papers.rain_checks:
        if check.units and check.until is not None and check.until < today:
            words = f"Rain check for {check.product} at {check.store}"
            found.append(
                Wasted(
                    kind="rain check",
                    words=words,
                    day=check.until,
                    count=check.units,
                    cents=None,
                    source=check.key,
                )
            )
    for claim in claims_of(books, today).claims:
        if claim.lapsed:
            found.append(
                Wasted(
                    kind="rebate",
                    words=claim.description,
                    day=claim.until,
                    count=claim.lapsed,
                    cents=claim.lapsed_cents,
                    source=claim.claim,
                )
            )
    return sorted(found, key=lambda each: (each.day, each.kind, each.source))


@once
def _left_at_home(each: Bought) -> Mapping[str, int]:
    """Copies that she reported as fewer: not with her, or not taken at the register, but still hers."""
    found: dict[str, int] = {}
    for event in each.events:
        if isinstance(event.what, CouponCopies) and event.what.copies < 0:
            found[event.what.coupon] = found.get(event.what.coupon, 0) - event.what.copies
    return found
