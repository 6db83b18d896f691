"""What a page of a trip in the making stands on: the records, the draft, the larder, the wallet."""

from __future__ import annotations

from collections.abc import Mapping
from http import HTTPStatus

import msgspec

from ...after.balances import next_wallet
from ...after.books import Books
from ...engine.money import show
from ...engine.offers import Wallet
from ...engine.situation import house_of
from ...errors import not_taken
from ...home.household import TripDraft
from ...home.kinds import title_of
from ...home.larder import StapleState
from ...home.trip_building import BuiltTrip, build_trip
from ...homes import Home, Snapshot
from ...ledger import Ledger

DRAFTS = "/desk/drafts"


class AtHand(msgspec.Struct, frozen=True, kw_only=True):
    """``revision``: of the draft, 0 while it is not kept; ``larder``: each staple as it stands on the day of
    the trip; ``copies``: left of each coupon."""

    snapshot: Snapshot
    draft: TripDraft
    revision: int
    larder: tuple[StapleState, ...]
    wallet: Wallet
    copies: Mapping[str, int]

    def build(self, draft: TripDraft | None = None, version: int = 1) -> BuiltTrip:
        """The trip of the draft, or of another one like it. Raises ``BadInput``."""
        return build_trip(
            self.snapshot,
            draft or self.draft,
            {state.staple.id: (state.need, state.welcome) for state in self.larder},
            wallet=self.wallet,
            copies=self.copies,
            version=version,
        )


async def at_hand(home: Home, ledger: Ledger, draft_id: str) -> AtHand:
    """All that belongs to a draft; raises the 404 that names it."""
    snapshot = await home.snapshot()
    draft = snapshot.drafts.get(draft_id)
    if draft is None:
        raise not_taken(
            "draft",
            draft_id,
            "There is no such trip in the making; it may have been put away. The list is at /desk.",
            status=HTTPStatus.NOT_FOUND,
        )
    return await around(ledger, snapshot, draft, snapshot.revisions["trip_draft", draft_id])


async def around(ledger: Ledger, snapshot: Snapshot, draft: TripDraft, revision: int = 0) -> AtHand:
    """All that belongs to a draft that is not kept yet, or is just being changed."""
    await ledger.refresh()
    books = await ledger.books()
    # What was done on this very trip does not count before it.
    before = books
    if books.trip(draft.id) is not None:
        others = tuple(each for each in books.trips if each.trip.id != draft.id)
        before = msgspec.structs.replace(books, trips=others)
    return AtHand(
        snapshot=snapshot,
        draft=draft,
        revision=revision,
        larder=tuple(await ledger.larder(snapshot, draft.day)),
        wallet=_wallet(before, snapshot, draft),
        copies={coupon.id: coupon.copies for coupon in books.at_home.coupons},
    )


def _wallet(books: Books, snapshot: Snapshot, draft: TripDraft) -> Wallet:
    going = [snapshot.stores[store] for store in draft.stores if store in snapshot.stores]
    return next_wallet(books, draft.day, [house_of(store) for store in going], draft.cash_cents)


class Called:
    """What things of a household are called on a page; what is not there stands for itself."""

    def __init__(self, snapshot: Snapshot) -> None:
        self._snapshot = snapshot

    def store(self, store: str) -> str:
        """A store's name."""
        return self._name("store", store)

    def product(self, product: str) -> str:
        """A product's description."""
        return self._name("product", product)

    def staple(self, staple: str) -> str:
        """A staple's name."""
        return self._name("staple", staple)

    def offer(self, what: str, id: str) -> str:
        """A coupon, percent offer, reward or rebate."""
        return self._name(what, id)

    def money(self, cents: int) -> str:
        """Cents in the household's currency."""
        settings = self._snapshot.settings
        return show(cents, settings.currency, settings.exponent)

    def _name(self, kind: str, id: str) -> str:
        record = self._snapshot.records[kind].get(id)
        return id if record is None else title_of(record)
