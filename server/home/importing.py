"""What a table would do to the household: each row's fate, told before anything is written.

``weigh`` compares the rows of a file (``tables.py``) with the household: *new*, *changed* (which columns,
from what to what), *same*, or *refused* (which column, what stood there, how to mend it). Rows may
name each other. A row that names a refused one is refused as well.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any, Literal, cast

import msgspec

from ..intake.bad_input import Finding, shorten
from ..intake.tables.cells import Currency
from ..intake.tables.records import column_of_field, differences
from .checking import Known, check_records
from .kinds import Record, title_of
from .tables import PRICE_HISTORY, STOCK, TABLE_KINDS, PriceOnADay, Row, Rows, StockCount, key_column

FateName = Literal["new", "changed", "same", "refused"]
FATES: tuple[FateName, ...] = ("refused", "changed", "new", "same")
_PLACE = re.compile(r"changed\[(\d+)\]")


class Difference(msgspec.Struct, frozen=True):
    """A column that a row changes."""

    column: str
    before: str
    after: str


class Fate(msgspec.Struct, frozen=True, kw_only=True):
    """What becomes of a row. ``findings``: why it is refused, each with its column; ``changes``: of a
    changed one."""

    row: int
    kind: str
    id: str
    title: str
    fate: FateName
    changes: tuple[Difference, ...] = ()
    findings: tuple[Finding, ...] = ()


class Preview(msgspec.Struct, frozen=True, kw_only=True):
    """Every row's fate in the order of the file, and what taking it in would write."""

    fates: tuple[Fate, ...]
    notes: tuple[Finding, ...]
    records: tuple[Any, ...]
    prices: tuple[PriceOnADay, ...]
    stock: tuple[StockCount, ...]

    def count(self, fate: FateName) -> int:
        """How many rows have a fate."""
        return sum(1 for each in self.fates if each.fate == fate)

    @property
    def writes(self) -> int:
        """How many rows would be written."""
        return len(self.records) + len(self.prices) + len(self.stock)


def weigh(
    rows: Rows,
    records: Mapping[str, Mapping[str, Any]],
    known: Known,
    currency: Currency,
    *,
    prices_kept: Collection[PriceOnADay] = frozenset(),
    stock_kept: Collection[StockCount] = frozenset(),
) -> Preview:
    """Each row's fate. ``prices_kept``, ``stock_kept``: those of the rows that are there already."""
    refused: dict[int, tuple[Finding, ...]] = {}
    first: dict[tuple[str, str], int] = {}
    candidates: list[tuple[int, Record]] = []
    kept_facts = {PRICE_HISTORY: prices_kept, STOCK: stock_kept}
    for place, row in enumerate(rows.rows):
        if row.record is None:
            refused[place] = row.findings
            continue
        earlier = first.setdefault((row.kind, row.id), place)
        if earlier != place:
            mend = (
                f"row {rows.rows[earlier].row} is the same {TABLE_KINDS[row.kind].one}: keep one of the two"
            )
            refused[place] = (Finding(field=key_column(row.kind), value=shorten(row.id), mend=mend),)
        elif row.kind not in kept_facts and records[row.kind].get(row.id) != row.record:
            candidates.append((place, cast("Record", row.record)))
    sound = _sound(rows.rows, candidates, known, refused)
    written = {place for place, _ in sound}
    named = _Named(rows, known, refused)
    fates: list[Fate] = []
    prices: list[PriceOnADay] = []
    stock: list[StockCount] = []
    for place, row in enumerate(rows.rows):
        fact = place not in refused and row.kind in kept_facts
        if fact and (found := tuple(named.missing(row.record))):
            refused[place] = found
        findings = refused.get(place, ())
        before = None if row.kind in kept_facts else records[row.kind].get(row.id)
        fate: FateName = "same"
        if findings:
            fate = "refused"
        elif fact:
            fate = "same" if row.record in kept_facts[row.kind] else "new"
            if fate == "new":
                (prices if row.kind == PRICE_HISTORY else stock).append(row.record)  # pyright: ignore[reportArgumentType]  # by its kind
        elif place in written:
            fate = "new" if before is None else "changed"
        changes = differences(before, row.record, currency) if fate == "changed" else ()
        fates.append(
            Fate(
                row=row.row,
                kind=row.kind,
                id=row.id,
                title=_title(row, before),
                fate=fate,
                changes=tuple(Difference(*each) for each in changes),
                findings=findings,
            )
        )
    return Preview(
        fates=tuple(fates),
        notes=rows.notes,
        records=tuple(record for _, record in sound),
        prices=tuple(prices),
        stock=tuple(stock),
    )


def _sound(
    rows: Sequence[Row],
    candidates: list[tuple[int, Record]],
    known: Known,
    refused: dict[int, tuple[Finding, ...]],
) -> list[tuple[int, Record]]:
    """The candidates that pass the checks beside each other; the others join ``refused``."""
    while candidates:
        misfits = check_records([record for _, record in candidates], known)
        if not misfits:
            break
        found: dict[int, list[Finding]] = {}
        for misfit in misfits:
            place, record = candidates[misfit.place]
            column = column_of_field(type(record), misfit.field) or misfit.field
            found.setdefault(place, []).append(
                Finding(
                    field=column,
                    value="nothing" if misfit.value in ("", "[]") else shorten(misfit.value),
                    mend=_in_rows(misfit.mend, rows, candidates),
                )
            )
        refused.update({place: tuple(findings) for place, findings in found.items()})
        candidates = [each for each in candidates if each[0] not in found]
    return candidates


def _in_rows(mend: str, rows: Sequence[Row], candidates: Sequence[tuple[int, Record]]) -> str:
    """A mend that speaks of places among the changed records, in rows of the file."""

    def row(match: re.Match[str]) -> str:
        return f"row {rows[candidates[int(match[1])][0]].row}"

    named = _PLACE.sub(row, mend)
    return named.replace("kept is a tag", "the household has a tag") if named.startswith("kept ") else named


class _Named:
    """Products and stores that prices and counts may name."""

    def __init__(self, rows: Rows, known: Known, refused: Mapping[int, object]) -> None:
        taken = {(r.kind, r.id) for place, r in enumerate(rows.rows) if place not in refused}
        self._ids = {
            "product": {*known.products, *(id for kind, id in taken if kind == "product")},
            "store": {*known.stores, *(id for kind, id in taken if kind == "store")},
        }

    def missing(self, fact: Any) -> Iterator[Finding]:
        for kind, ids in self._ids.items():
            named = getattr(fact, kind, None)
            if named is not None and named not in ids:
                mend = f"there is no {kind} with this id: bring it in first, or name one that is there"
                yield Finding(field=kind, value=named, mend=mend)


def _title(row: Row, before: Any | None) -> str:
    match row.record:
        case PriceOnADay():
            return f"{row.record.product} at {row.record.store}, {row.record.day}"
        case StockCount():
            return f"{row.record.product}, {row.record.day}"
        case None:
            return title_of(before) if before is not None else row.id
        case _:
            return title_of(row.record)
