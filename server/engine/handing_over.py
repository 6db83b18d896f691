"""In which order coupons and offers come to a unit that takes more than one of a kind.

What the first takes off decides what the next finds. The shopper hands her coupons over as she likes, so
every order is open to the plan; the transaction then has to find one that serves each unit as reckoned.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import combinations, permutations
from typing import TypeVar

from .offers import CentsOff, Coupon
from .ways import units_asked

_Item = TypeVar("_Item")


def choices_of(items: Sequence[_Item], most: int) -> list[tuple[_Item, ...]]:
    """Every choice of at most ``most`` of the items, fewest first."""
    return [chosen for size in range(most + 1) for chosen in combinations(items, size)]


def handed_over(coupons: Sequence[Coupon], most: int) -> list[tuple[Coupon, ...]]:
    """Every choice of at most ``most`` copies on one unit, in every order as far as that matters. A coupon
    with several requirements is on each unit once."""
    copies: list[Coupon] = []
    for coupon in coupons:
        copies += [coupon] * (min(coupon.copies, most) if len(coupon.asks) == 1 else 1)
    found: dict[tuple[str, ...], tuple[Coupon, ...]] = {}
    for chosen in choices_of(copies, most):
        for order in permutations(chosen) if order_matters(chosen) else [chosen]:
            found.setdefault(tuple(coupon.id for coupon in order), order)
    return list(found.values())


def order_matters(coupons: Sequence[Coupon]) -> bool:
    """Whether it may matter which of the coupons, all of an issuer and on one unit, comes first."""
    return len(coupons) > 1 and not all(map(_is_plain, coupons))


def _is_plain(coupon: Coupon) -> bool:
    """Whether what the coupon takes off a unit does not depend on what was taken off before, but for there
    being enough left."""
    return isinstance(coupon.gives, CentsOff) and units_asked(coupon) == 1


def in_order(papers: Sequence[_Item], before: Collection[tuple[int, int]]) -> list[_Item]:
    """The papers in the order given, but for those that must come after another. ``before``: pairs of places
    of which the first must come before the second.

    Where they go round in a circle it cannot be done, and the register says what that costs."""
    left, found = list(range(len(papers))), list[_Item]()
    while left:
        free = [place for place in left if not any((other, place) in before for other in left)]
        next_place = free[0] if free else left[0]
        left.remove(next_place)
        found.append(papers[next_place])
    return found
