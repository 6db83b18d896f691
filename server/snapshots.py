"""All records of one moment, shared and immutable; how the next moment's follows from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
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
from .home.checking import Known, refers_to
from .home.household import HouseholdSettings, Staple, TripDraft
from .home.kinds import KINDS, Record, decode, id_of, kind_of, title_of
from .intake.bad_input import BadInput, Finding
from .store.records import RecordVersion, StoredRecord

R = TypeVar("R")


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


def key_of(record: Record) -> tuple[str, str]:
    """The record's kind and id."""
    return kind_of(record).name, id_of(record)


def with_changed(snapshot: Snapshot, changed: Sequence[Record]) -> Snapshot:
    """The snapshot as it will be, for the names that changed records have for each other."""
    records = {name: dict(kept) for name, kept in snapshot.records.items()}
    for record in changed:
        kind, id = key_of(record)
        records[kind][id] = record
    return msgspec.structs.replace(snapshot, records=records)


def without(snapshot: Snapshot, gone: Sequence[tuple[str, str]]) -> Snapshot:
    if not gone:
        return snapshot
    records = {
        name: {id: record for id, record in kept.items() if (name, id) not in gone}
        for name, kept in snapshot.records.items()
    }
    return msgspec.structs.replace(snapshot, records=records)


def first_snapshot(batch: int, kept: Sequence[StoredRecord]) -> Snapshot:
    """Everything decoded."""
    records: dict[str, dict[str, Any]] = {name: {} for name in KINDS}
    for stored in kept:
        records[stored.kind][stored.id] = decode(stored.kind, stored.document)
    revisions = {(stored.kind, stored.id): stored.revision for stored in kept}
    return Snapshot(batch=batch, records=records, revisions=revisions)


def followed(last: Snapshot, batch: int, changes: Sequence[RecordVersion]) -> Snapshot:
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


def free_to_leave(snapshot: Snapshot, leaving: Set[tuple[str, str]]) -> None:
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
