"""Why something of the household is not on a trip, gathered while the trip is built and told in a few
sentences.

LeftOut().add("coupon", "50 cents off one Wickel oats", "end before the day")
-> "1 coupon ends before the day: 50 cents off one Wickel oats."
"""

from __future__ import annotations

from typing import NamedTuple

MOST_NAMED = 4  # of one kind and reason; the others are only counted


class Reason(NamedTuple):
    """The words after one thing, and after several."""

    one: str
    many: str


ENDED = Reason("ends before the day", "end before the day")
NOT_YET = Reason("begins after the day", "begin after the day")
NONE_LEFT = Reason("has no copy left", "have no copy left")
ELSEWHERE = Reason("is for a store that is not on this trip", "are for stores that are not on this trip")
FOR_NOTHING = Reason("is for nothing that is wanted and sold", "are for nothing that is wanted and sold")
FORBIDDEN = Reason("is left out by you", "are left out by you")
NOT_SOLD = Reason("has no tag on the day at any of the stores", "have no tag on the day at any of the stores")
INCOMPLETE = Reason("needs a rebate that is not on this trip", "need a rebate that is not on this trip")
EMPTY = Reason("has nothing left on it", "have nothing left on them")
PIN_NOT_SOLD = Reason(
    "cannot be kept: the store has no tag for it on the day",
    "cannot be kept: the store has no tag for them on the day",
)
SHARED_TAG = Reason(
    "is left out at the store too, whose tag its other channel shares",
    "are left out at the store too, whose tags its other channel shares",
)


class LeftOut:
    """What was left out so far, by kind and reason, in the order of the first of each."""

    def __init__(self) -> None:
        self._names: dict[tuple[str, str, Reason], list[str]] = {}

    def add(self, one: str, name: str, reason: Reason, many: str = "") -> None:
        """``one`` and ``many``: what it is called ("coupon", "coupons"; an s where nothing is given)."""
        self._names.setdefault((one, many or f"{one}s", reason), []).append(name)

    def sentences(self) -> tuple[str, ...]:
        """One sentence for each kind and reason."""
        return tuple(
            f"{len(names)} {one if len(names) == 1 else many}"
            f" {reason.one if len(names) == 1 else reason.many}: {_named(names)}."
            for (one, many, reason), names in self._names.items()
        )


def _named(names: list[str]) -> str:
    shown = "; ".join(name.rstrip(".") for name in names[:MOST_NAMED])
    return f"{shown}; and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else shown
