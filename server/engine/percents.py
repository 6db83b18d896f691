"""Step 2 of the register: percent offers, then percent store coupons.

Each on the same base, the price after step 1 or what is left by then, as the house says;
rounded half up, per unit or once per line. Common practice of the trade, no source.
Worked: 15 % off 3 x 2.63: 0.39 + 0.39 + 0.39 = 1.17 per unit; 1.18 per line.
"""

from __future__ import annotations

from .belt import Belt, called, percent
from .money import round_half_up
from .offers import Coupon, PercentOff, PercentOffer
from .papers import AdjustmentKind

# A unit, and the use that claims it (None for a loyalty offer).
Claim = tuple[int, int | None]


def take_percent_offers(belt: Belt) -> None:
    """Loyalty offers, in the order in which they are first named."""
    claims: dict[str, list[Claim]] = {}
    for offer_use in belt.transaction.offer_uses:
        claims.setdefault(offer_use.offer, []).extend((unit, None) for unit in offer_use.units)
    for offer_id, claimed in claims.items():
        offer: PercentOffer = belt.offers[offer_id]
        why = f"{called(offer.description, offer.id)}: {percent(offer.bp)} off."
        _take(belt, "percent_offer", offer.id, offer.bp, claimed, why)


def take_percent_store_coupons(belt: Belt) -> None:
    """Percent store coupons, in handing-over order; copies of one coupon count as one line."""
    claims: dict[str, list[Claim]] = {}
    for number, use in enumerate(belt.transaction.uses):
        coupon = belt.coupons[use.coupon]
        if coupon.issuer == "store" and isinstance(coupon.gives, PercentOff):
            claims.setdefault(coupon.id, []).extend((unit, number) for unit in use.units)
    for coupon_id, claimed in claims.items():
        coupon: Coupon = belt.coupons[coupon_id]
        assert isinstance(coupon.gives, PercentOff)
        why = f"{called(coupon.description, coupon.id)}: {percent(coupon.gives.bp)} off."
        _take(belt, "store_coupon", coupon.id, coupon.gives.bp, claimed, why)


def percent_base(belt: Belt, unit: int) -> int:
    """The cents that a percentage is taken of: ``percent_base`` of the house decides."""
    item = belt.items[unit]
    return item.shelf_cents if belt.transaction.store.rules.percent_base == "shelf" else item.left


def _take(belt: Belt, kind: AdjustmentKind, source: str, bp: int, claims: list[Claim], why: str) -> None:
    per_line = belt.transaction.store.rules.percent_rounding == "line"
    # Per line: the first k units of a product together are rounded, so that the line's sum is.
    so_far: dict[str, int] = {}
    for unit, use in sorted(claims, key=lambda claim: claim[0]):
        before = so_far.get(belt.items[unit].product.id, 0) if per_line else 0
        base = before + percent_base(belt, unit)
        cents = round_half_up(base * bp, 10_000) - round_half_up(before * bp, 10_000)
        so_far[belt.items[unit].product.id] = base
        belt.take(unit, kind, source, cents, why, use)
        if use is not None:
            belt.note(use, why)
