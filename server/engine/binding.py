"""One use of a cents-off coupon whose share is more than one of its units costs: what each unit has left.

What a unit has no room for passes to the others in belt order (DEVELOPERS.md, step 4), so the order decides
which of them it is.
"""

from __future__ import annotations

from itertools import permutations

import msgspec

from .coupons import face_cents
from .money import share
from .offers import CentsOff, Coupon
from .room import Member
from .unit_states import take_off, unit_coupons
from .ways import Counter, Slot

Claimed = tuple[int, Member]  # a unit and the requirement that it fills


class Bound(msgspec.Struct, frozen=True):
    """Units after a coupon bound them; ``use``: the coupon and whether it is multiplied."""

    members: tuple[Member, ...]
    use: tuple[str, bool]


def bind(
    coupon: Coupon, group: list[Claimed], counter: Counter, multiplied: bool, most_ordered: int
) -> list[Bound]:
    """The units after one use of a cents-off coupon on exactly these, for each order on the belt that leaves
    them otherwise; nothing where plain slots do as well or the house refuses.

    First comes the order by product, cheapest first. The others are of interest where a manufacturer coupon
    may follow, or a tax rounded per unit, and else only if another product is left with less."""
    first = sorted(group, key=lambda each: (each[1].product, each[1].unit.left))
    members = [member for _, member in first]
    products = [member.product for member in members]
    makers = any(unit_coupons(counter, "manufacturer", product) for product in products)
    each_counts = (makers and coupon.issuer == "store") or counter.store.tax.basis == "item"
    alike = (
        [members.index(member) for member in members] if each_counts else list(map(products.index, products))
    )
    every = range(len(members))
    orders = permutations(every) if len(members) <= most_ordered and len(set(alike)) > 1 else [tuple(every)]
    found: list[Bound] = []
    outcomes: set[tuple[tuple[int, ...], ...]] = set()
    for order in orders:
        taken = _taken(coupon, [members[place].unit.left for place in order], counter, multiplied)
        if taken is None:
            return []
        by_kind = [(alike[place], *cents) for place, cents in zip(order, taken, strict=True)]
        outcome = tuple(sorted(by_kind)) if each_counts else _summed(by_kind)
        if outcome not in outcomes:
            outcomes.add(outcome)
            found.append(_bound(coupon, [first[place] for place in order], taken, multiplied))
    return found


def _summed(by_kind: list[tuple[int, int, int, int]]) -> tuple[tuple[int, ...], ...]:
    """What is taken off all units of a kind together."""
    sums: dict[int, list[int]] = {}
    for kind, *cents in by_kind:
        sums[kind] = [one + other for one, other in zip(sums.get(kind, (0, 0, 0)), cents, strict=True)]
    return tuple((kind, *cents) for kind, cents in sorted(sums.items()))


def _bound(
    coupon: Coupon, claimed: list[Claimed], taken: list[tuple[int, int, int]], multiplied: bool
) -> Bound:
    members: list[Member] = []
    for (leg, member), cents in zip(claimed, taken, strict=True):
        slot = Slot(coupon.id, leg, -1, multiplied, left_before=member.unit.left)
        members.append(Member(member.product, member.level, take_off(member.unit, coupon, *cents, slot)))
    return Bound(tuple(members), (coupon.id, multiplied))


def _taken(
    coupon: Coupon, lefts: list[int], counter: Counter, multiplied: bool
) -> list[tuple[int, int, int]] | None:
    """What a use takes off each unit, in belt order: of its face, by multiplying it, and of overage that is
    kept; None where plain slots do as well or the house refuses."""
    assert isinstance(coupon.gives, CentsOff)
    rules = counter.store.rules
    face, asked = face_cents(coupon.gives, counter.region), len(lefts)
    shares = [share(face, asked, k + 1) for k in range(asked)]
    extra = face * (rules.multiplying.times - 1) if multiplied and rules.multiplying is not None else 0
    extras = [share(extra, asked, k + 1) for k in range(asked)]
    if all(cents + more <= left for cents, more, left in zip(shares, extras, lefts, strict=True)):
        return None
    surplus = max(face - sum(lefts), 0)
    if surplus and rules.overage == "refuse":
        return None
    taken = spread_shares(shares, lefts)
    more = spread_shares(extras, [left - cents for left, cents in zip(lefts, taken, strict=True)])
    kept = surplus if rules.overage == "basket" else 0
    if sum(taken) + sum(more) + kept == 0:
        return None
    return [(taken[k], more[k], kept if k == 0 else 0) for k in range(asked)]


def spread_shares(shares: list[int], rooms: list[int]) -> list[int]:
    """What each unit takes of its share; what one cannot take passes to the others in belt order.

    ``shares``, ``rooms``: cents per unit, in belt order. The answer's sum is the smaller of the two sums.
    """
    taken = [min(cents, room) for cents, room in zip(shares, rooms, strict=True)]
    surplus = sum(shares) - sum(taken)
    for k, room in enumerate(rooms):
        passed = min(surplus, room - taken[k])
        taken[k] += passed
        surplus -= passed
    return taken
