"""Step 8 of the register: what it prints or loads at the end.

Progress in units or in spend, times within the limits, nothing where an offer's own slip
paid and the offer does not roll. Common practice of the trade, no source.
"""

from __future__ import annotations

from .belt import TAKEN_OFF, Belt, called, counted
from .offers import RewardOffer, Tier
from .papers import AdjustmentKind, Earned, PayBySlip
from .shelf import holds_on

BASKET_COUPONS: frozenset[AdjustmentKind] = frozenset(("basket_coupon",))


def rewards_earned(belt: Belt) -> tuple[Earned, ...]:
    """The rewards of this store and day that the transaction earns, in the order of its offers."""
    earned: list[Earned] = []
    for offer in belt.transaction.rewards:
        in_force = holds_on(belt.transaction.day, offer.from_date, offer.until)
        if offer.store != belt.transaction.store.id or not in_force or not _may_earn(belt, offer):
            continue
        progress = progress_of(belt, offer)
        tier, times = tier_and_times(offer, progress)
        times = min(times, room_for(offer, belt.transaction.earned_before.get(offer.id, 0)))
        if tier is None or times == 0:
            continue
        earned.append(
            Earned(
                offer=offer.id,
                kind=offer.kind,
                times=times,
                each_cents=tier.cents,
                cents=times * tier.cents,
                why=_in_words(belt, offer, tier, progress, times),
            )
        )
    return tuple(earned)


def progress_of(belt: Belt, offer: RewardOffer) -> int:
    """Units, or cents of spend by the offer's measure; after all coupons takes basket ones off too."""
    if offer.by == "units":
        return sum(1 for item in belt.items if not offer.products or item.product.id in offer.products)
    without = TAKEN_OFF[offer.measure]
    if offer.measure == "after_all_coupons":
        without = without | BASKET_COUPONS
    return belt.spend(offer.products, without)


def tier_and_times(offer: RewardOffer, progress: int) -> tuple[Tier | None, int]:
    """The tier that ``progress`` reaches and how often: one tier repeats, of several the highest once."""
    if len(offer.tiers) == 1:
        times = progress // offer.tiers[0].threshold
        return (offer.tiers[0], times) if times > 0 else (None, 0)
    reached = [tier for tier in offer.tiers if tier.threshold <= progress]
    return (max(reached, key=lambda tier: tier.threshold), 1) if reached else (None, 0)


def room_for(offer: RewardOffer, earned_before: int) -> int:
    """How often the offer's limits still let it be earned in this transaction."""
    room = 2**31 - 1 if offer.per_transaction is None else offer.per_transaction
    if offer.per_household is not None:
        room = min(room, max(0, offer.per_household - earned_before))
    return room


def _may_earn(belt: Belt, offer: RewardOffer) -> bool:
    if offer.rolls:
        return True
    return not any(isinstance(t, PayBySlip) and t.offer == offer.id for t in belt.transaction.tenders)


def _in_words(belt: Belt, offer: RewardOffer, tier: Tier, progress: int, times: int) -> str:
    by_units = offer.by == "units"
    threshold = counted(tier.threshold, "item") if by_units else belt.money(tier.threshold)
    reached = counted(progress, "item") if by_units else belt.money(progress)
    name = called(offer.description, offer.id)
    how_often = "once" if times == 1 else f"{times} times"
    return f"{name}: {belt.money(tier.cents)} from {threshold}; here {reached}, so {how_often}."
