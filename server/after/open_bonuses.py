"""Set bonuses that have begun to be earned, and what is still to buy for them."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import msgspec

from ..engine.money import show
from ..engine.offers import Rebate
from ..engine.shelf import holds_on
from ..intake.day_words import day_in_words
from .claimable import ClaimKey, counts_for
from .purchases import Bought


class OpenBonus(msgspec.Struct, frozen=True, kw_only=True):
    """A set bonus with at least one rebate that can be claimed: ``missing`` says, a sentence each, what is
    still to buy by ``until`` (the first end of a missing rebate; None where none ends)."""

    bonus: str
    trip: str
    description: str
    cents: int
    done: tuple[str, ...]
    missing: tuple[str, ...]
    until: str | None


def open_bonuses(trips: Sequence[Bought], claimed: Collection[ClaimKey], today: str) -> tuple[OpenBonus, ...]:
    """The bonuses still open on ``today``, each by the latest trip that has it. ``claimed``: all that can be
    claimed (``claimable.py``)."""
    found: dict[str, OpenBonus] = {}
    earned = {name for _, name, is_bonus in claimed if is_bonus}
    bought_for = {name for _, name, is_bonus in claimed if not is_bonus}
    for each in reversed(trips):
        rebates = {rebate.id: rebate for rebate in each.trip.rebates}
        for bonus in each.trip.set_bonuses:
            if bonus.id in found or bonus.id in earned:
                continue
            done = tuple(name for name in bonus.rebates if name in bought_for)
            lacking = [rebates[name] for name in bonus.rebates if name not in done]
            if not done or any(not holds_on(today, None, rebate.until) for rebate in lacking):
                continue
            ends = [rebate.until for rebate in lacking if rebate.until is not None]
            found[bonus.id] = OpenBonus(
                bonus=bonus.id,
                trip=each.trip.id,
                description=bonus.description or bonus.id,
                cents=bonus.cents,
                done=done,
                missing=tuple(_lacking(each, rebate) for rebate in lacking),
                until=min(ends) if ends else None,
            )
    return tuple(found[name] for name in sorted(found))


def _lacking(found: Bought, rebate: Rebate) -> str:
    """What is still to buy for a rebate, in a sentence."""
    trip = found.trip
    goods = {product.id: product.description or product.id for product in trip.products}
    named = [goods.get(product, product) for product in rebate.products]
    which = " or ".join(named[:3]) + (" or another of its products" if len(named) > 3 else "")
    name = f"{rebate.description or rebate.id}:"
    if rebate.from_receipt_cents:
        least = show(rebate.from_receipt_cents, trip.currency, trip.exponent)
        what = (
            f"{name} {rebate.units} of {which or 'anything'}, on one receipt of at least {least} before tax"
        )
    else:
        units = sum(sum(counts_for(each, rebate).values()) for each in found.purchases)
        what = f"{name} {rebate.units - units % rebate.units} more of {which or 'anything'}"
    return f"{what}." if rebate.until is None else f"{what}, bought by {day_in_words(rebate.until)}."
