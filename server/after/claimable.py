"""What can be claimed from what was bought: each rebate and set bonus, with its proof.

How often and until when is the engine's own answer (``writing.rebate_claims``) to the receipts as they
really were: the offer must hold on the day of the trip, and the claim is due ``deadline_days`` later, also
where the offer itself has ended by then. A set bonus is due with the first of its rebates. Common
practice, no source: the rebate's own terms decide.

An offer that two trips carry in the same words is one offer: its limit is shared, the earlier purchase
first. A set bonus can be completed over several trips that carry it; it belongs to the last of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from ..engine.money import show
from ..engine.offers import Rebate, SetBonus, Trip
from ..engine.papers import RebateClaim
from ..engine.situation import Situation
from ..engine.ways import asks_for
from ..engine.writing import rebate_claims
from ..intake.day_words import day_in_words
from .once import once
from .purchases import Bought, Purchase

ClaimKey = tuple[str, str, bool]  # (trip, rebate or bonus, whether it is a bonus)


class Proof(msgspec.Struct, frozen=True, kw_only=True):
    """What to send in from one transaction: ``event`` reported it; ``units`` per product count for it.
    ``receipt_cents``: its goods after all coupons, before tax."""

    event: str
    store: str
    day: str
    receipt_cents: int
    units: dict[str, int]


class Claimable(msgspec.Struct, frozen=True, kw_only=True):
    """A rebate or set bonus that was earned on ``trip``; ``claim`` has times, cents and last day.
    ``words``: what to send in."""

    trip: Trip
    claim: RebateClaim
    offer: Rebate | SetBonus
    proofs: tuple[Proof, ...]
    words: str


def claimable(trips: Sequence[Bought]) -> dict[ClaimKey, Claimable]:
    """Everything that can be claimed. ``trips``: in the order of their days."""
    found: dict[ClaimKey, Claimable] = {}
    spent: dict[Rebate, int] = {}
    untils: dict[SetBonus, dict[str, str]] = {}
    won: set[SetBonus] = set()
    for each in trips:
        trip = each.trip
        for rebate, claim in _rebates(each, spent):
            proofs, words = _proven(each)[rebate.id]
            found[(trip.id, rebate.id, False)] = Claimable(
                trip=trip, claim=claim, offer=rebate, proofs=proofs, words=words
            )
            for bonus in trip.set_bonuses:
                if rebate.id in bonus.rebates:
                    untils.setdefault(bonus, {}).setdefault(rebate.id, claim.until or "9999-12-31")
        for bonus in trip.set_bonuses:
            done = untils.get(bonus, {})
            if bonus in won or any(rebate not in done for rebate in bonus.rebates):
                continue
            won.add(bonus)
            claim = RebateClaim(
                rebate=bonus.id, times=1, cents=bonus.cents, until=min(done.values()), bonus=True
            )
            found[(trip.id, bonus.id, True)] = Claimable(
                trip=trip, claim=claim, offer=bonus, proofs=(), words=_bonus_words(trip, bonus)
            )
    return found


def counts_for(purchase: Purchase, rebate: Rebate) -> dict[str, int]:
    """Units per product of a purchase that count for a rebate."""
    if rebate.stores and purchase.store not in rebate.stores:
        return {}
    if purchase.receipt.merchandise_cents < rebate.from_receipt_cents:
        return {}
    units: dict[str, int] = {}
    for line in purchase.transaction.lines:
        if asks_for(rebate.products, line.product):
            units[line.product] = units.get(line.product, 0) + line.units
    return units


def _rebates(each: Bought, spent: dict[Rebate, int]) -> list[tuple[Rebate, RebateClaim]]:
    """A trip's rebates with their claims, within what earlier trips left of each offer's limit."""
    claims = _alone(each)
    found: list[tuple[Rebate, RebateClaim]] = []
    for rebate in each.trip.rebates:
        claim = claims.get(rebate.id)
        times = 0 if claim is None else min(claim.times, rebate.limit - spent.get(rebate, 0))
        if claim is not None and times > 0:
            spent[rebate] = spent.get(rebate, 0) + times
            found.append((rebate, msgspec.structs.replace(claim, times=times, cents=times * rebate.cents)))
    return found


@once
def _alone(each: Bought) -> Mapping[str, RebateClaim]:
    """What the trip by itself earned, by rebate."""
    receipts = [(purchase.transaction, purchase.receipt) for purchase in each.purchases]
    alone = msgspec.structs.replace(each.trip, set_bonuses=())
    return {claim.rebate: claim for claim in rebate_claims(Situation(trip=alone), receipts)}


@once
def _proven(each: Bought) -> Mapping[str, tuple[tuple[Proof, ...], str]]:
    """For each rebate that the trip by itself earned its proofs, and what to send in."""
    found: dict[str, tuple[tuple[Proof, ...], str]] = {}
    for rebate in each.trip.rebates:
        if rebate.id in _alone(each):
            proofs = _proofs(each.purchases, rebate)
            found[rebate.id] = proofs, _words(each.trip, rebate, proofs)
    return found


def _proofs(purchases: Sequence[Purchase], rebate: Rebate) -> tuple[Proof, ...]:
    return tuple(
        Proof(
            event=purchase.event,
            store=purchase.store,
            day=purchase.day,
            receipt_cents=purchase.receipt.merchandise_cents,
            units=units,
        )
        for purchase in purchases
        if (units := counts_for(purchase, rebate))
    )


def _words(trip: Trip, rebate: Rebate, proofs: Sequence[Proof]) -> str:
    """What to send in."""
    products = {product.id: product.description for product in trip.products}
    stores = {store.id: store.name for store in trip.stores}
    parts: list[str] = []
    for proof in proofs:
        goods = ", ".join(f"{units} × {products.get(name) or name}" for name, units in proof.units.items())
        parts.append(f"{goods} from {stores.get(proof.store) or proof.store}, {day_in_words(proof.day)}")
    needed = "the receipt" if rebate.needs_receipt else "no receipt, only the codes of what was bought"
    if rebate.from_receipt_cents:
        amount = show(rebate.from_receipt_cents, trip.currency, trip.exponent)
        needed += f" (of at least {amount} before tax)"
    return f"Needs {needed}: {'; '.join(parts)}."


def _bonus_words(trip: Trip, bonus: SetBonus) -> str:
    names = {rebate.id: rebate.description or rebate.id for rebate in trip.rebates}
    each = ", ".join(names.get(rebate, rebate) for rebate in bonus.rebates)
    return f"Comes with claiming each of: {each}."
