"""The household as typed records: read once, kept until the next batch, changed only when it is sound.

Routes and commands ask ``Home``, not the store: it decodes and checks, names what is wrong by field,
and refuses to remove what others name. The snapshot is shared and immutable.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Mapping, Sequence, Set
from typing import Any, TypeVar

import msgspec

from .engine.offers import (
    Coupon,
    GiftCard,
    PercentOffer,
    Product,
    RainCheck,
    Rebate,
    RewardOffer,
    SetBonus,
    ShelfPrice,
    Slip,
    Store,
)
from .home.binder import CouponMark
from .home.checking import Known, Misfit, check_records, refers_to
from .home.household import HouseholdSettings, Staple, TripDraft
from .home.kinds import KINDS, Record, decode, encode, ends_of, id_of, kind_of, starts_of, title_of, words_of
from .intake.bad_input import BadInput, Finding, shorten
from .store.facts import PriceRow, StockRow
from .store.records import RecordChange, RecordChanged, Records, RecordVersion, StoredRecord

R = TypeVar("R")
MOST_AT_ONCE = 200  # records that are checked without leaving the event loop


class Snapshot(msgspec.Struct, frozen=True, kw_only=True):
    """All records of one moment by kind and id, and each record's revision by ``(kind, id)``."""

    batch: int
    records: Mapping[str, Mapping[str, Any]]
    revisions: Mapping[tuple[str, str], int]

    def of(self, kind: type[R], name: str) -> Mapping[str, R]:
        """The records of one kind, by id."""
        assert KINDS[name].type is kind
        return self.records[name]

    @property
    def stores(self) -> Mapping[str, Store]:
        """The stores, by id."""
        return self.of(Store, "store")

    @property
    def products(self) -> Mapping[str, Product]:
        """The products, by id."""
        return self.of(Product, "product")

    @property
    def prices(self) -> Mapping[str, ShelfPrice]:
        """The tags, by store, product and first day (``kinds.id_of``)."""
        return self.of(ShelfPrice, "price")

    @property
    def coupons(self) -> Mapping[str, Coupon]:
        """The coupons, by id."""
        return self.of(Coupon, "coupon")

    @property
    def percent_offers(self) -> Mapping[str, PercentOffer]:
        """The percent offers, by id."""
        return self.of(PercentOffer, "percent_offer")

    @property
    def rewards(self) -> Mapping[str, RewardOffer]:
        """The rewards, by id."""
        return self.of(RewardOffer, "reward")

    @property
    def rebates(self) -> Mapping[str, Rebate]:
        """The rebates, by id."""
        return self.of(Rebate, "rebate")

    @property
    def set_bonuses(self) -> Mapping[str, SetBonus]:
        """The set bonuses, by id."""
        return self.of(SetBonus, "set_bonus")

    @property
    def slips(self) -> Mapping[str, Slip]:
        """The slips typed in by hand, by id."""
        return self.of(Slip, "slip")

    @property
    def gift_cards(self) -> Mapping[str, GiftCard]:
        """The gift cards typed in by hand, by id."""
        return self.of(GiftCard, "gift_card")

    @property
    def rain_checks(self) -> Mapping[str, RainCheck]:
        """The rain checks typed in by hand, by id."""
        return self.of(RainCheck, "rain_check")

    @property
    def coupon_marks(self) -> Mapping[str, CouponMark]:
        """What is noted of coupons beside what is printed on them, by the coupon's id."""
        return self.of(CouponMark, "coupon_mark")

    @property
    def staples(self) -> Mapping[str, Staple]:
        """The staples, by id."""
        return self.of(Staple, "staple")

    @property
    def drafts(self) -> Mapping[str, TripDraft]:
        """The trips in the making, by id."""
        return self.of(TripDraft, "trip_draft")

    @property
    def settings(self) -> HouseholdSettings:
        """What holds for every trip; the defaults where nothing was set."""
        return next(iter(self.of(HouseholdSettings, "settings").values()), HouseholdSettings())

    @property
    def naming(self) -> Mapping[tuple[str, str], Sequence[Record]]:
        """For each ``(kind, id)`` the records that name it. Worked out anew each time: ask once."""
        found: dict[tuple[str, str], list[Record]] = {}
        for others in self.records.values():
            for other in others.values():
                for named in refers_to(other):
                    found.setdefault(named, []).append(other)
        return found

    @property
    def known(self) -> Known:
        """What ``check_records`` must know."""
        return Known(
            stores=self.stores,
            products=self.products,
            rebates=self.rebates,
            rewards=self.rewards,
            staples=self.staples,
            prices=tuple(self.prices.values()),
        )


class NotSound(BadInput):
    """Records that do not fit; ``misfits`` name the record by its place beside the field in it."""

    def __init__(self, misfits: Sequence[Misfit]) -> None:
        super().__init__(
            *(
                Finding(field=misfit.field, value=shorten(misfit.value), mend=misfit.mend)
                for misfit in misfits
            )
        )
        self.misfits = tuple(misfits)


class Home:
    """The household behind the Desk."""

    def __init__(self, records: Records) -> None:
        self.kept = records
        self._last: Snapshot | None = None

    async def snapshot(self) -> Snapshot:
        """All records as of the last batch."""
        batch = await self.kept.last_batch()
        last = self._last
        if last is None:
            # What is kept between the two questions is newer than ``batch``: it is read again then.
            last = self._last = _snapshot(batch, await self.kept.all_records(*KINDS))
        elif last.batch < batch:
            last = self._last = _followed(last, batch, await self.kept.changed_since(last.batch))
        return last

    async def save(
        self,
        records: Sequence[Record],
        *,
        words: str,
        device: str,
        revisions: Mapping[tuple[str, str], int] | None = None,
        replaced: Sequence[tuple[str, str]] = (),
        prices: Sequence[PriceRow] = (),
        stock: Sequence[StockRow] = (),
    ) -> int:
        """Keeps the records as one batch; its number, 0 where nothing differs.

        ``prices`` and ``stock``: what an import brings beside them; they are taken back with the batch.

        ``revisions``: what each was changed from, where that matters (0: there is none yet). ``replaced``:
        what leaves in the same batch because a record takes its place (a tag whose first day was wrong).
        Raises ``NotSound`` with every finding, or ``BadInput`` where somebody else changed one meanwhile.
        """
        snapshot = _without(await self.snapshot(), replaced)
        if len(records) > MOST_AT_ONCE:  # phones sync meanwhile
            changes = await asyncio.to_thread(_changes, snapshot, records, revisions or {}, replaced)
        else:
            changes = _changes(snapshot, records, revisions or {}, replaced)
        return await self._change(changes, words, device, prices, stock)

    async def remove(self, kind: str, id: str, *, device: str, revision: int | None = None) -> int:
        """Takes a record out (its versions stay). Raises ``BadInput`` naming all that still need it."""
        snapshot = await self.snapshot()
        record = snapshot.records[kind].get(id)
        if record is None:
            return 0
        _free_to_leave(snapshot, {(kind, id)})
        return await self._change(
            [RecordChange(kind=kind, id=id, document=None, revision=revision)],
            f"Removed {KINDS[kind].one}: {title_of(record)}",
            device,
        )

    async def take_back(self, batch: int, *, device: str) -> int:
        """Undoes a batch. Raises ``BadInput`` where a record was changed since, or is named by others."""
        snapshot = await self.snapshot()
        _free_to_leave(snapshot, set(await self.kept.begun_by(batch)))
        try:
            return await self.kept.take_back(batch, device=device)
        except RecordChanged as changed:
            raise _changed_meanwhile(changed) from changed
        except KeyError:
            raise BadInput(Finding(field="batch", value=str(batch), mend="there is no such change")) from None

    async def _change(
        self,
        changes: Sequence[RecordChange],
        words: str,
        device: str,
        prices: Sequence[PriceRow] = (),
        stock: Sequence[StockRow] = (),
    ) -> int:
        try:
            return await self.kept.change(changes, words=words, device=device, prices=prices, stock=stock)
        except RecordChanged as changed:
            raise _changed_meanwhile(changed) from changed


def _changes(
    snapshot: Snapshot,
    records: Sequence[Record],
    expected: Mapping[tuple[str, str], int],
    replaced: Sequence[tuple[str, str]],
) -> list[RecordChange]:
    """The records as changes, once they are found sound."""
    if misfits := check_records(records, snapshot.known):
        raise NotSound(misfits)
    together = _with(snapshot, records)
    return [
        *(change_of(record, together, expected.get(key_of(record))) for record in records),
        *(
            RecordChange(kind=kind, id=id, document=None, revision=expected.get((kind, id)))
            for kind, id in replaced
        ),
    ]


def key_of(record: Record) -> tuple[str, str]:
    """The record's kind and id."""
    return kind_of(record).name, id_of(record)


def change_of(record: Record, snapshot: Snapshot, revision: int | None = None) -> RecordChange:
    """The record as a change to keep, with the names of what it refers to among its words."""
    return RecordChange(
        kind=kind_of(record).name,
        id=id_of(record),
        title=_title(record, snapshot),
        words=words_of(record, *_names(record, snapshot)),
        starts=starts_of(record),
        ends=ends_of(record),
        document=encode(record),
        revision=revision,
    )


def _title(record: Record, snapshot: Snapshot) -> str:
    """A tag is listed by the names of its product and store."""
    if not isinstance(record, ShelfPrice):
        return title_of(record)
    product, store = snapshot.products.get(record.product), snapshot.stores.get(record.store)
    return f"{title_of(product) if product else record.product}, {title_of(store) if store else record.store}"


def _names(record: Record, snapshot: Snapshot) -> Iterable[str]:
    for kind, id in refers_to(record):
        named = snapshot.records[kind].get(id)
        if named is not None:
            yield title_of(named)


def _with(snapshot: Snapshot, changed: Sequence[Record]) -> Snapshot:
    """The snapshot as it will be, for the names that changed records have for each other."""
    records = {name: dict(kept) for name, kept in snapshot.records.items()}
    for record in changed:
        kind, id = key_of(record)
        records[kind][id] = record
    return msgspec.structs.replace(snapshot, records=records)


def _without(snapshot: Snapshot, gone: Sequence[tuple[str, str]]) -> Snapshot:
    if not gone:
        return snapshot
    records = {
        name: {id: record for id, record in kept.items() if (name, id) not in gone}
        for name, kept in snapshot.records.items()
    }
    return msgspec.structs.replace(snapshot, records=records)


def _snapshot(batch: int, kept: Sequence[StoredRecord]) -> Snapshot:
    records: dict[str, dict[str, Any]] = {name: {} for name in KINDS}
    for stored in kept:
        records[stored.kind][stored.id] = decode(stored.kind, stored.document)
    revisions = {(stored.kind, stored.id): stored.revision for stored in kept}
    return Snapshot(batch=batch, records=records, revisions=revisions)


def _followed(last: Snapshot, batch: int, changes: Sequence[RecordVersion]) -> Snapshot:
    """The snapshot as of ``batch`` or later; kinds without a change are shared with the last."""
    records = dict(last.records)
    revisions = dict(last.revisions)
    fresh: dict[str, dict[str, Any]] = {}
    for change in changes:
        if change.kind not in fresh:
            fresh[change.kind] = dict(last.records[change.kind])
        kind = fresh[change.kind]
        if change.document is None:
            kind.pop(change.id, None)
            revisions.pop((change.kind, change.id), None)
        else:
            kind[change.id] = decode(change.kind, change.document)
            revisions[change.kind, change.id] = change.revision
    newest = max((change.batch for change in changes), default=batch)
    return Snapshot(batch=max(batch, newest), records=records | fresh, revisions=revisions)


def _free_to_leave(snapshot: Snapshot, leaving: Set[tuple[str, str]]) -> None:
    """Raises ``BadInput`` where a record that stays names one of those that are ``leaving``."""
    if not leaving:
        return
    names = snapshot.naming
    for kind, id in leaving:
        record = snapshot.records[kind].get(id)
        if record is None:
            continue
        naming = [
            f"{kind_of(other).one} “{title_of(other)}”"
            for other in names.get((kind, id), ())
            if key_of(other) not in leaving
        ]
        if naming:
            shown = ", ".join(naming[:5]) + (f" and {len(naming) - 5} more" if len(naming) > 5 else "")
            mend = f"it is still named by {shown}: change or remove those first"
            raise BadInput(Finding(field="", value=title_of(record), mend=mend))


def _changed_meanwhile(changed: RecordChanged) -> BadInput:
    gone = changed.kept_revision == 0
    mend = "it was removed meanwhile" if gone else "it was changed meanwhile, by another device or window"
    return BadInput(
        Finding(
            field="revision", value=f"{KINDS[changed.kind].one} {changed.id}", mend=f"{mend}: look at it anew"
        )
    )
