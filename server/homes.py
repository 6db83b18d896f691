"""The household as typed records: read once, kept until the next batch, changed only when it is sound.

Routes and commands ask ``Home``, not the store: it decodes and checks, names what is wrong by field,
and refuses to remove what others name. The snapshot is shared and immutable.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Iterator, Mapping, Sequence

import msgspec

from .engine.offers import ShelfPrice
from .home.checking import Misfit, check_records, refers_to
from .home.kinds import (
    KINDS,
    Record,
    decode,
    encode,
    ends_of,
    id_of,
    kind_of,
    starts_of,
    title_of,
    words_of,
)
from .intake.bad_input import BadInput, Finding, shorten
from .intake.decoding import finding_of
from .snapshots import Snapshot, first_snapshot, followed, free_to_leave, key_of, with_changed, without
from .store.batches import RecordChange, RecordChanged
from .store.facts import PriceRow, StockRow
from .store.records import Records

MOST_AT_ONCE = 200  # records that are checked without leaving the event loop


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
            last = self._last = first_snapshot(batch, await self.kept.all_records(*KINDS))
        elif last.batch < batch:
            last = self._last = followed(last, batch, await self.kept.changed_since(last.batch))
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
        snapshot = without(await self.snapshot(), replaced)
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
        free_to_leave(snapshot, {(kind, id)})
        return await self._change(
            [RecordChange(kind=kind, id=id, document=None, revision=revision)],
            f"Removed {KINDS[kind].one}: {title_of(record)}",
            device,
        )

    async def take_back(self, batch: int, *, device: str) -> int:
        """Undoes a batch. Raises ``BadInput`` where a record was changed since, or is named by others."""
        snapshot = await self.snapshot()
        free_to_leave(snapshot, set(await self.kept.begun_by(batch)))
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
    """The records as changes, once they are found sound: by their types, then among each other."""
    if misfits := [*_of_no_type(records)] or check_records(records, snapshot.known):
        raise NotSound(misfits)
    together = with_changed(snapshot, records)
    return [
        *(change_of(record, together, expected.get(key_of(record))) for record in records),
        *(
            RecordChange(kind=kind, id=id, document=None, revision=expected.get((kind, id)))
            for kind, id in replaced
        ),
    ]


def _of_no_type(records: Sequence[Record]) -> Iterator[Misfit]:
    """What could not be read again: one such record, once kept, would keep every page from its snapshot."""
    for place, record in enumerate(records):
        kind, document = kind_of(record), encode(record)
        try:
            decode(kind.name, document)
        except msgspec.ValidationError as error:
            found = finding_of(error, document, kind.type)
            yield Misfit(place=place, field=found.field, value=found.value, mend=found.mend)


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


def _changed_meanwhile(changed: RecordChanged) -> BadInput:
    gone = changed.kept_revision == 0
    mend = "it was removed meanwhile" if gone else "it was changed meanwhile, by another device or window"
    return BadInput(
        Finding(
            field="revision", value=f"{KINDS[changed.kind].one} {changed.id}", mend=f"{mend}: look at it anew"
        )
    )
