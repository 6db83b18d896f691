"""Lines of an export written into a store (``household_lines.py``).

Into a store without any batch they go as they were, numbers included. Elsewhere only what is new joins, as
one more batch: a record that is not here, or that stands here as it stood in an earlier version of the lines.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence

import msgspec

from . import imported
from .batches import RecordChange, write_batch
from .facts import PriceRow, StockRow, forget_note_facts
from .household_lines import (
    SHARED_COLUMNS,
    BatchLine,
    HouseholdLine,
    NoteLine,
    PhotoErasedLine,
    PhotoLine,
    PriceLine,
    PublishedLine,
    SetAsideLine,
    SharedTextLine,
    StockLine,
    VersionLine,
    price_lines,
    stock_lines,
)
from .shared_texts import SharedText


class LinesTakenIn(msgspec.Struct, frozen=True, kw_only=True):
    """How much joined: ``records`` added or brought up to date, ``records_known`` as they are here,
    ``records_other`` that stand otherwise here and were left, prices and counts, notes (photos too), and
    ``pages`` that were published."""

    records: int = 0
    records_known: int = 0
    records_other: int = 0
    prices: int = 0
    stock: int = 0
    notes: int = 0
    pages: int = 0


def take_in_lines(
    connection: sqlite3.Connection, lines: Sequence[HouseholdLine], at: str, device: str
) -> LinesTakenIn:
    """Writes what is new, inside the caller's transaction."""
    notes = _take_notes(connection, lines)
    pages = _take_published(connection, lines)
    forget_note_facts(connection)  # the household's currency may be another here
    if list(connection.execute("SELECT 1 FROM batches LIMIT 1")):
        return msgspec.structs.replace(_join(connection, lines, at, device), notes=notes, pages=pages)
    return msgspec.structs.replace(_as_they_were(connection, lines), notes=notes, pages=pages)


def _as_they_were(connection: sqlite3.Connection, lines: Sequence[HouseholdLine]) -> LinesTakenIn:
    prices: dict[str, list[PriceRow]] = {}
    stock: dict[str, list[StockRow]] = {}
    for line in lines:
        match line:
            case BatchLine():
                connection.execute(
                    "INSERT INTO batches (number, at, device, words, takes_back) VALUES (?, ?, ?, ?, ?)",
                    (line.number, line.at, line.device, line.words, line.takes_back),
                )
            case VersionLine():
                document = _document(line.document)
                values = (line.kind, line.id, line.revision)
                about = (line.title, line.words, line.starts, line.ends, document)
                connection.execute(
                    "INSERT INTO record_versions (kind, id, revision, batch, title, words, starts, ends,"
                    " document) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    (*values, line.batch, *about),
                )
            case SetAsideLine():
                connection.execute(
                    "INSERT INTO facts_set_aside (batch, document) VALUES (?, ?)",
                    (line.batch, bytes(line.document)),
                )
            case _:
                pass
    for line in _own_lines(lines):
        if isinstance(line, PriceLine):
            prices.setdefault(line.source, []).append(_price(line))
        else:
            stock.setdefault(line.source, []).append(_move(line))
    connection.execute(
        "INSERT INTO records (kind, id, revision, title, words, starts, ends, document)"
        " SELECT kind, id, revision, title, words, starts, ends, document FROM record_versions AS last"
        " WHERE document IS NOT NULL AND revision = (SELECT MAX(revision) FROM record_versions AS every"
        " WHERE every.kind = last.kind AND every.id = last.id)"
    )
    for source in {*prices, *stock}:
        imported.insert(connection, source, prices.get(source, ()), stock.get(source, ()))
    [(records,)] = connection.execute("SELECT COUNT(*) FROM records")
    return LinesTakenIn(
        records=records,
        prices=sum(map(len, prices.values())),
        stock=sum(map(len, stock.values())),
    )


def _join(
    connection: sqlite3.Connection, lines: Sequence[HouseholdLine], at: str, device: str
) -> LinesTakenIn:
    versions: dict[tuple[str, str], list[VersionLine]] = {}
    for line in lines:
        if isinstance(line, VersionLine):
            versions.setdefault((line.kind, line.id), []).append(line)
    changes: list[RecordChange] = []
    known = other = 0
    for (kind, id), history in versions.items():
        newest = history[-1]
        ours = [
            row[0]
            for row in connection.execute(
                "SELECT document FROM record_versions WHERE kind = ? AND id = ? ORDER BY revision DESC",
                (kind, id),
            )
        ]
        document = _document(newest.document)
        if document in ours or (not ours and document is None):
            known += 1  # here, or here once: then ours went on from it
        elif not ours or ours[0] in [_document(line.document) for line in history]:
            changes.append(
                RecordChange(
                    kind=kind,
                    id=id,
                    title=newest.title,
                    words=newest.words,
                    starts=newest.starts,
                    ends=newest.ends,
                    document=document,
                )
            )
        else:
            other += 1
    kept_prices, kept_stock = _own(connection)
    own = list(_own_lines(lines))
    prices = [p for line in own if isinstance(line, PriceLine) and (p := _price(line)) not in kept_prices]
    stock = [m for line in own if isinstance(line, StockLine) and (m := _move(line)) not in kept_stock]
    if changes or prices or stock:
        number = write_batch(connection, changes, at, device, "Brought in from an export")
        imported.write(connection, number, prices, stock)
    return LinesTakenIn(
        records=len(changes),
        records_known=known,
        records_other=other,
        prices=len(prices),
        stock=len(stock),
    )


def _own(connection: sqlite3.Connection) -> tuple[set[PriceRow], set[StockRow]]:
    own = [*price_lines(connection), *stock_lines(connection)]
    prices = {_price(line) for line in own if isinstance(line, PriceLine)}
    return prices, {_move(line) for line in own if isinstance(line, StockLine)}


def _own_lines(lines: Sequence[HouseholdLine]) -> Iterator[PriceLine | StockLine]:
    for line in lines:
        # Exports of older versions had what notes came to.
        if isinstance(line, PriceLine | StockLine) and not line.source.startswith("note:"):
            yield line


def _price(line: PriceLine) -> PriceRow:
    return PriceRow(
        product=line.product,
        store=line.store,
        day=line.day,
        cents=line.cents,
        each_cents=line.each_cents,
        how=line.how,
    )


def _move(line: StockLine) -> StockRow:
    return StockRow(product=line.product, day=line.day, units=line.units, how=line.how)


def _take_notes(connection: sqlite3.Connection, lines: Sequence[HouseholdLine]) -> int:
    before = connection.total_changes
    for line in lines:
        match line:
            case SharedTextLine():
                marks = ", ".join("?" * len(SharedText.__struct_fields__))
                connection.execute(
                    f"INSERT OR IGNORE INTO shared_texts ({SHARED_COLUMNS}) VALUES ({marks})",
                    msgspec.structs.astuple(line.text),
                )
            case NoteLine():
                connection.execute(
                    "INSERT OR IGNORE INTO notes (id, day, kind, document, device, written_at)"
                    " VALUES (?, ?, ?, ?, ?, ?)",
                    (line.id, line.day, line.kind, bytes(line.document), line.device, line.written_at),
                )
            case PhotoLine():
                # One that was erased here does not come back with an older export.
                connection.execute(
                    "INSERT OR IGNORE INTO receipt_photos (id, jpeg, width, height, kept_at)"
                    " SELECT ?1, ?2, ?3, ?4, ?5 WHERE NOT EXISTS (SELECT 1 FROM photos_erased WHERE id = ?1)",
                    (line.id, line.jpeg, line.width, line.height, line.kept_at),
                )
            case PhotoErasedLine():
                # What is kept here stays: only whoever has a picture erases it.
                connection.execute(
                    "INSERT OR IGNORE INTO photos_erased (id, erased_at, device)"
                    " SELECT ?1, ?2, ?3 WHERE NOT EXISTS (SELECT 1 FROM receipt_photos WHERE id = ?1)",
                    (line.id, line.erased_at, line.device),
                )
            case _:
                pass
    return connection.total_changes - before


def _take_published(connection: sqlite3.Connection, lines: Sequence[HouseholdLine]) -> int:
    """A site of which anything is here stays as it is; how many pages were taken in."""
    here = {site for (site,) in connection.execute("SELECT DISTINCT site FROM published")}
    rows = [
        (line.site, line.slug, bytes(line.document), line.kept_at)
        for line in lines
        if isinstance(line, PublishedLine) and line.site not in here
    ]
    connection.executemany(
        "INSERT OR IGNORE INTO published (site, slug, document, kept_at) VALUES (?, ?, ?, ?)", rows
    )
    return sum(slug != "" for _, slug, *_ in rows)


def _document(raw: msgspec.Raw) -> bytes | None:
    document = bytes(raw)
    return None if document == b"null" else document
