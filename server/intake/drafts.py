"""Drafts: what was read of an offer, for the shopper to confirm. Nothing here is taken by itself.

A draft holds what was written and no more: a field that was not read is None. It names no product:
the words that were not understood stand beside it, verbatim, and the shopper picks from the shelf.
Where a reading could be another, a question says which rule chose; a draft without one is sure.
Units as in ``engine/offers.py``: whole cents, basis points, ISO 8601 dates.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from ..engine.offers import (
    BasketOff,
    BuyOneGetOne,
    CentsOff,
    FixedPrice,
    Form,
    FreeItem,
    Issuer,
    NForM,
    PercentOff,
    RewardKind,
)
from .bad_input import Finding


class Question(msgspec.Struct, frozen=True, kw_only=True):
    """What the shopper should look at: the draft's ``field`` ("" for the whole), and why, in a sentence."""

    field: str
    why: str


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """``words``, verbatim, and the ``field`` that they were read as ("offer" for the offer itself)."""

    field: str
    words: str


class AskDraft(msgspec.Struct, frozen=True, kw_only=True):
    """One requirement: so many ``units`` of products that are still to be chosen.

    ``of``: which ones, in the words of the code ("family 120 of company 0614141"). In the engine an
    empty list of products means *everything*, so a draft must not become a coupon before she chose.
    """

    units: int = 1
    of: str = ""


class CouponDraft(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="coupon"):
    """A coupon. ``gives`` is None where the engine knows no such value: a question says what it was.

    ``other_ways``: further sets of requirements, any one of which will do.
    ``legible`` and ``serial``: what is printed on it. ``where``: where it was found.
    """

    gives: CentsOff | PercentOff | FreeItem | FixedPrice | BasketOff | None = None
    asks: tuple[AskDraft, ...] = (AskDraft(),)
    other_ways: tuple[tuple[AskDraft, ...], ...] = ()
    issuer: Issuer | None = None
    form: Form | None = None
    copies: int | None = None
    per_transaction: int | None = None
    per_day: int | None = None
    per_household: int | None = None
    from_date: str | None = None
    until: str | None = None
    may_multiply: bool | None = None
    where: str = ""
    legible: str = ""
    serial: str = ""


class DealDraft(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="deal"):
    """A sale on the tag: one unit's price in ``cents`` (None: not written), or a ``deal``, or both.

    ``mixes``: different products may make up one group ("mix and match").
    """

    cents: int | None = None
    regular_cents: int | None = None
    deal: NForM | BuyOneGetOne | None = None
    clearance: bool = False
    mixes: bool = False
    per_transaction: int | None = None
    per_visit: int | None = None
    from_date: str | None = None
    until: str | None = None


class PercentDraft(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="percent_offer"):
    """A percent off named products, in basis points."""

    bp: int
    units_per_transaction: int | None = None
    transactions: int | None = None
    from_date: str | None = None
    until: str | None = None


class RewardDraft(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind", tag="reward"):
    """Buy ``threshold`` units (or spend so many cents), get ``cents`` or ``points`` back."""

    reward: RewardKind
    by: Literal["units", "spend"] = "units"
    threshold: int = 1
    cents: int | None = None
    points: int | None = None
    rolls: bool | None = None
    per_transaction: int | None = None
    per_household: int | None = None
    from_date: str | None = None
    until: str | None = None


OfferDraft = CouponDraft | DealDraft | PercentDraft | RewardDraft


class Draft(msgspec.Struct, frozen=True, kw_only=True):
    """One offer: its ``text`` verbatim, what each part of it was ``read`` as, and the ``words`` left.

    The words left over, in order, are most often the name of the product.
    """

    text: str
    offer: OfferDraft
    read: tuple[Reading, ...] = ()
    words: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()

    @property
    def sure(self) -> bool:
        """Whether nothing that was read could mean something else."""
        return not self.questions


class Paste(msgspec.Struct, frozen=True, kw_only=True):
    """All that a paste held: drafts in order, the lines without an offer, and what went wrong."""

    drafts: tuple[Draft, ...] = ()
    unread: tuple[str, ...] = ()
    problem: Finding | None = None
