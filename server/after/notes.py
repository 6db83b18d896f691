"""What the household writes down itself, at home, after the trip.

A *note* is never edited and never deleted. A correction is a note that ``corrects`` an earlier one: it
says the whole again and stands in its place. ``TakenBack`` takes a note (or a correction) out; it can
itself be taken back. ``standing`` gives what holds after all that.

Units as in ``engine/offers.py``: cents, packs, ISO 8601 days. ``day`` is when it happened, not when it
was typed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from ..engine.offers import Cents, DateText, Doc, Id, PositiveCents, PositiveUnits, Slip, Text, Units

NoteId = Annotated[str, Meta(min_length=1, max_length=64, pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*$")]
EventId = Annotated[str, Meta(max_length=64)]

ClaimState = Literal["to claim", "claimed", "paid", "refused"]
PaperState = Literal["spent elsewhere", "lapsed", "lost"]
RefundState = Literal["asked", "paid", "refused"]


class ClaimNoted(Doc, frozen=True, kw_only=True, tag_field="kind", tag="claim"):
    """``times`` of a trip's rebate (or set bonus) are now in ``state``. ``cents``: what was paid in all for
    these times (None: as promised)."""

    trip: Id
    claim: Id
    state: ClaimState
    times: PositiveUnits = 1
    bonus: bool = False
    cents: Cents | None = None
    words: Text = ""


class SlipNoted(Doc, frozen=True, kw_only=True, tag_field="kind", tag="slip"):
    """A slip is gone without our register: ``slip`` is its key in ``balances.py``."""

    slip: Id
    state: PaperState
    words: Text = ""


class RainCheckNoted(Doc, frozen=True, kw_only=True, tag_field="kind", tag="rain_check"):
    """``units`` of a rain check are gone without our register: ``rain_check`` is its key in
    ``balances.py``."""

    rain_check: Id
    units: PositiveUnits
    state: PaperState
    words: Text = ""


class GiftCardSeen(Doc, frozen=True, kw_only=True, tag_field="kind", tag="gift_card"):
    """The balance of a gift card as read that day: it counts from then on, whatever was reckoned."""

    card: Id
    store: Id
    cents: Cents
    words: Text = ""


class PurchaseLine(Doc, frozen=True, kw_only=True):
    """``units`` packs for ``cents`` in all, after everything that came off, tax apart.

    ``description`` and ``category`` where no trip knows the product."""

    product: Id
    units: PositiveUnits
    cents: Cents
    description: Text = ""
    category: Text = ""


class UnplannedPurchase(Doc, frozen=True, kw_only=True, tag_field="kind", tag="unplanned_purchase"):
    """Bought without a plan: a receipt typed in. ``slips``: what the register printed."""

    store: Id
    lines: Annotated[tuple[PurchaseLine, ...], Meta(min_length=1, max_length=500)]
    tax_cents: Cents = 0
    slips: Annotated[tuple[Slip, ...], Meta(max_length=40)] = ()
    currency: Annotated[str, Meta(pattern=r"^[A-Z]{3}$")] = "USD"
    exponent: Annotated[int, Meta(ge=0, le=4)] = 2
    words: Text = ""


class Counted(Doc, frozen=True, kw_only=True, tag_field="kind", tag="counted"):
    """So many packs are at home, counted at the end of that day."""

    product: Id
    units: Units
    words: Text = ""


class UsedUp(Doc, frozen=True, kw_only=True, tag_field="kind", tag="used_up"):
    """So many packs were used up (or given away)."""

    product: Id
    units: PositiveUnits
    words: Text = ""


class RefundAsked(Doc, frozen=True, kw_only=True, tag_field="kind", tag="refund"):
    """Money back was asked for at the store about the transaction that event ``done`` reported."""

    trip: Id
    done: EventId
    cents: PositiveCents
    state: RefundState = "asked"
    words: Text = ""


class TimeSpent(Doc, frozen=True, kw_only=True, tag_field="kind", tag="time"):
    """Minutes spent on a trip, planning and driving included if she likes; several notes add up."""

    trip: Id
    minutes: Annotated[int, Meta(ge=1, le=10_080)]
    words: Text = ""


class ReceiptKept(Doc, frozen=True, kw_only=True, tag_field="kind", tag="receipt_photo"):
    """A photo of the printed receipt. ``photo``: SHA-256 of the kept picture (hex); ``done``: the event of
    its transaction ("" for the trip as a whole)."""

    trip: Id
    photo: Annotated[str, Meta(pattern=r"^[0-9a-f]{64}$")]
    done: EventId = ""
    words: Text = ""


class Remark(Doc, frozen=True, kw_only=True, tag_field="kind", tag="remark"):
    """Anything else about a trip."""

    trip: Id
    words: Annotated[str, Meta(min_length=1, max_length=4_000)]


class TakenBack(Doc, frozen=True, kw_only=True, tag_field="kind", tag="taken_back"):
    """The note of this id does not hold. Taking back a correction brings back what it corrected."""

    note: NoteId


Noted = (
    ClaimNoted
    | SlipNoted
    | RainCheckNoted
    | GiftCardSeen
    | UnplannedPurchase
    | Counted
    | UsedUp
    | RefundAsked
    | TimeSpent
    | ReceiptKept
    | Remark
    | TakenBack
)


class Note(Doc, frozen=True, kw_only=True):
    """One row as written. ``corrects``: the note that this one says anew."""

    id: NoteId
    day: DateText
    what: Noted
    corrects: NoteId | None = None


def standing(rows: Sequence[Note]) -> tuple[Note, ...]:
    """The notes that hold, in the order in which they were first written.

    ``rows``: all rows in order of arrival. A corrected note keeps its id and its place and has the
    newest standing content; a correction of what is not there holds by itself.
    """
    gone = taken_back((row.id, row.what.note if isinstance(row.what, TakenBack) else None) for row in rows)
    root_of: dict[str, str] = {}
    found: dict[str, Note] = {}
    for row in rows:
        if isinstance(row.what, TakenBack):
            continue
        root = root_of.setdefault(row.id, root_of.get(row.corrects or "", row.id))
        if row.id not in gone:
            found[root] = msgspec.structs.replace(row, id=root, corrects=None)
    return tuple(found[root] for root in root_of if root in found and root not in gone)


def taken_back(entries: Iterable[tuple[str, str | None]]) -> set[str]:
    """Ids that do not hold: ``entries`` are (id, the id that this one takes back or None) in order.

    A taking-back that is itself taken back, later, takes nothing back: as in ``engine/history.py``.
    """
    gone: set[str] = set()
    for own, target in reversed(list(entries)):
        if target is not None and own not in gone:
            gone.add(target)
    return gone
