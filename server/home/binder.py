"""The binder: which coupons are in hand, where, how many copies are left, and which go first.

*Copies left* are the copies typed, less those that trips used since, with those found in a store since
then. A count that is typed later than a use wins, since the copy was gone already when she counted. What
was left at home or refused at the register on one trip is in the binder still.

Worked: 3 copies are typed on Monday, 2 are used on Saturday: 1 is left. On Sunday she counts 2 and types
it: 2 are left, and the next use takes from those.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime

import msgspec

from ..engine.offers import Coupon, Doc, Form, Id

MOST_COPIES = 10_000  # as ``offers.Copies``
LONG_AGO = datetime.min.replace(tzinfo=UTC)
FORMS: dict[Form, str] = {
    "insert": "Inserts",
    "printable": "Printables",
    "digital": "Digital",
    "on_package": "On packages",
    "register": "Printed at the register",
}


class CouponMark(Doc, frozen=True, kw_only=True):
    """What is noted of a coupon beside what is printed on it; ``id`` is the coupon's.

    ``loaded``: a digital one is on the store's account. ``counted_at``: when its copies were counted at
    the binder (ISO 8601, UTC), "" if only typed with the coupon.
    """

    id: Id
    loaded: bool = False
    counted_at: str = ""


class CopiesMove(msgspec.Struct, frozen=True, kw_only=True):
    """``copies`` fewer (used on ``trip``), or more (found in the store), at a time (ISO 8601)."""

    coupon: str
    copies: int
    at: str
    trip: str


class InHand(msgspec.Struct, frozen=True, kw_only=True):
    """A coupon with what is known of it at home. ``used`` and ``found``: copies since they were counted;
    ``days_left``: until its last day, that day included as 0; None where it has none."""

    coupon: Coupon
    left: int
    used: int
    found: int
    loaded: bool
    days_left: int | None

    @property
    def soon(self) -> bool:
        """Whether it ends within two weeks: time to plan it into a trip."""
        return self.days_left is not None and self.days_left <= SOON_DAYS


SOON_DAYS = 14


class Binder(msgspec.Struct, frozen=True, kw_only=True):
    """All coupons on a day, the soonest to end first: those in hand by form, those not yet valid among them;
    those of which none is left; and the expired ones, the last to expire first."""

    in_hand: Mapping[Form, tuple[InHand, ...]]
    none_left: tuple[InHand, ...]
    expired: tuple[InHand, ...]

    @property
    def copies(self) -> int:
        """All copies in hand."""
        return sum(each.left for held in self.in_hand.values() for each in held)

    @property
    def kinds(self) -> int:
        """How many different coupons are in hand."""
        return sum(len(held) for held in self.in_hand.values())

    @property
    def to_load(self) -> int:
        """Digital coupons in hand that are not loaded yet."""
        return sum(not each.loaded for each in self.in_hand.get("digital", ()))


def binder(
    coupons: Iterable[Coupon],
    marks: Mapping[str, CouponMark],
    counted_at: Mapping[str, str],
    moves: Iterable[CopiesMove],
    today: str,
) -> Binder:
    """The binder on ``today``.

    ``marks``: by coupon. ``counted_at``: when the copies that stand in a coupon were typed (ISO 8601); a
    coupon that is not named there was typed before every move. Expired with no copy left: not shown.
    """
    of_coupon: dict[str, list[CopiesMove]] = {}
    for move in moves:
        of_coupon.setdefault(move.coupon, []).append(move)
    found = [
        in_hand(each, marks.get(each.id), counted_at.get(each.id, ""), of_coupon.get(each.id, ()), today)
        for each in coupons
    ]
    found.sort(key=lambda each: (each.coupon.until or "9999-12-31", each.coupon.description, each.coupon.id))
    good = [each for each in found if each.days_left is None or each.days_left >= 0]
    by_form: dict[Form, tuple[InHand, ...]] = {}
    for form in FORMS:
        held = tuple(each for each in good if each.left and each.coupon.form == form)
        if held:
            by_form[form] = held
    return Binder(
        in_hand=by_form,
        none_left=tuple(each for each in good if not each.left),
        expired=tuple(each for each in reversed(found) if (each.days_left or 0) < 0 and each.left),
    )


def copies_left(
    coupons: Iterable[Coupon],
    marks: Mapping[str, CouponMark],
    counted_at: Mapping[str, str],
    moves: Iterable[CopiesMove],
) -> dict[str, int]:
    """The copies left of each coupon, whatever the day; the arguments are those of ``binder``."""
    of_coupon: dict[str, list[CopiesMove]] = {}
    for move in moves:
        of_coupon.setdefault(move.coupon, []).append(move)
    return {
        each.id: _left(each, marks.get(each.id), counted_at.get(each.id, ""), of_coupon.get(each.id, ()))[0]
        for each in coupons
    }


def in_hand(
    coupon: Coupon, mark: CouponMark | None, typed_at: str, moves: Sequence[CopiesMove], today: str
) -> InHand:
    """One coupon. ``moves``: its own. A move at the very moment of the count came after it."""
    left, used, found = _left(coupon, mark, typed_at, moves)
    days_left = None
    if coupon.until is not None:
        days_left = (date.fromisoformat(coupon.until) - date.fromisoformat(today)).days
    return InHand(
        coupon=coupon,
        left=left,
        used=used,
        found=found,
        loaded=mark is not None and mark.loaded,
        days_left=days_left,
    )


def counted(held: InHand, mark: CouponMark | None, copies: int, now: str) -> tuple[Coupon, CouponMark]:
    """The coupon and its mark once so many copies were counted ``now`` (ISO 8601); from 0 to the most."""
    coupon = msgspec.structs.replace(held.coupon, copies=min(max(copies, 0), MOST_COPIES))
    before = mark or CouponMark(id=coupon.id)
    return coupon, msgspec.structs.replace(before, counted_at=now)


def loaded(held: InHand, mark: CouponMark | None, is_loaded: bool) -> CouponMark:
    """The mark once it is loaded, or not any more."""
    return msgspec.structs.replace(mark or CouponMark(id=held.coupon.id), loaded=is_loaded)


def _left(
    coupon: Coupon, mark: CouponMark | None, typed_at: str, moves: Sequence[CopiesMove]
) -> tuple[int, int, int]:
    """Copies left, and those used and found since they were counted."""
    counted = max(_time(typed_at), _time(mark.counted_at if mark else ""))
    since = [move.copies for move in moves if _time(move.at) >= counted]
    used = -sum(copies for copies in since if copies < 0)
    found = sum(copies for copies in since if copies > 0)
    return min(max(coupon.copies + found - used, 0), MOST_COPIES), used, found


def earlier(at: str, received: str) -> str:
    """When something happened that a phone says happened ``at`` and that was ``received`` then: its clock may
    be wrong, but nothing is received before it happened."""
    told, heard = _time(at), _time(received)
    return received if told == LONG_AGO else at if told <= heard else received


def _time(text: str) -> datetime:
    """A time with its zone (UTC where it has none); the beginning of time for what is none."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return LONG_AGO
    return found if found.tzinfo else found.replace(tzinfo=UTC)
