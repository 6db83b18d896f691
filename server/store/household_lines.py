"""The household outside of trips, line by line: every batch and version, prices and stock of its own, notes.

``read_lines`` gives one moment of the store; ``take_in_lines`` writes such lines into a store. Into one
without any batch they go as they were, numbers included. Elsewhere only what is new joins, as one more
batch: a record that is not here, or that stands here as it stood in an earlier version of the lines. What is
reckoned from trips is left out: it is reckoned again.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence

import msgspec

from . import imported
from .facts import PriceRow, StockRow
from .records import RecordChange, write_batch
from .shared_texts import SharedText


class Line(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="line"):
    """One line; ``line`` says which kind it is."""


class FormatLine(Line, frozen=True, kw_only=True, tag="format"):
    """The first line."""

    format: str


class BatchLine(Line, frozen=True, kw_only=True, tag="batch"):
    """A change that belongs together."""

    number: int
    at: str
    device: str
    words: str
    takes_back: int | None = None


class VersionLine(Line, frozen=True, kw_only=True, tag="version"):
    """A version of a record; ``document`` null: removed."""

    kind: str
    id: str
    revision: int
    batch: int
    title: str
    words: str
    starts: str
    ends: str
    document: msgspec.Raw


class PriceLine(Line, frozen=True, kw_only=True, tag="price"):
    """A price that was typed (``source`` "typed"), came with a batch ("import-7") or a note ("note:ID")."""

    source: str
    product: str
    store: str
    day: str
    cents: int
    each_cents: int
    how: str


class StockLine(Line, frozen=True, kw_only=True, tag="stock"):
    """A move or count of such a source."""

    source: str
    product: str
    day: str
    units: int
    how: str


class SetAsideLine(Line, frozen=True, kw_only=True, tag="set_aside"):
    """Prices and counts that a batch took back."""

    batch: int
    document: msgspec.Raw


class SharedTextLine(Line, frozen=True, kw_only=True, tag="shared_text"):
    """A text that a phone was handed."""

    text: SharedText


class NoteLine(Line, frozen=True, kw_only=True, tag="note"):
    """What the household wrote down itself."""

    id: str
    day: str
    kind: str
    document: msgspec.Raw
    device: str
    written_at: str


class PhotoLine(Line, frozen=True, kw_only=True, tag="receipt_photo"):
    """A photo of a receipt; the picture in base64."""

    id: str
    jpeg: bytes
    width: int
    height: int
    kept_at: str


HouseholdLine = (
    FormatLine
    | BatchLine
    | VersionLine
    | PriceLine
    | StockLine
    | SetAsideLine
    | SharedTextLine
    | NoteLine
    | PhotoLine
)

_OF_A_NOTE = "note:"
_EXPORTED = f"({imported.OWN} OR source LIKE '{_OF_A_NOTE}%')"
_SHARED = ", ".join(SharedText.__struct_fields__)


class LinesTakenIn(msgspec.Struct, frozen=True, kw_only=True):
    """How much joined: ``records`` added or brought up to date, ``records_known`` as they are here,
    ``records_other`` that stand otherwise here and were left, prices and counts, notes (photos too)."""

    records: int = 0
    records_known: int = 0
    records_other: int = 0
    prices: int = 0
    stock: int = 0
    notes: int = 0


def read_lines(connection: sqlite3.Connection) -> Iterator[HouseholdLine]:
    """Every line after the first, batches before what came with them."""
    yield from _small_lines(connection)
    yield from _prices(connection)
    yield from _stock(connection)


def _small_lines(connection: sqlite3.Connection) -> Iterator[HouseholdLine]:
    for row in connection.execute(
        "SELECT number, at, device, words, takes_back FROM batches ORDER BY number"
    ):
        yield BatchLine(number=row[0], at=row[1], device=row[2], words=row[3], takes_back=row[4])
    for row in connection.execute(
        "SELECT kind, id, revision, batch, title, words, starts, ends, document FROM record_versions"
        " ORDER BY batch, kind, id"
    ):
        *about, document = row
        fields = dict(zip(VersionLine.__struct_fields__, about, strict=False))
        yield VersionLine(**fields, document=msgspec.Raw(document or b"null"))
    for batch, document in connection.execute("SELECT batch, document FROM facts_set_aside ORDER BY batch"):
        yield SetAsideLine(batch=batch, document=msgspec.Raw(document))
    for row in connection.execute(f"SELECT {_SHARED} FROM shared_texts ORDER BY received, id"):
        yield SharedTextLine(text=SharedText(**dict(zip(SharedText.__struct_fields__, row, strict=True))))
    for row in connection.execute(
        "SELECT id, day, kind, document, device, written_at FROM notes ORDER BY sequence"
    ):
        yield NoteLine(
            id=row[0], day=row[1], kind=row[2], document=msgspec.Raw(row[3]), device=row[4], written_at=row[5]
        )
    for row in connection.execute("SELECT id, jpeg, width, height, kept_at FROM receipt_photos ORDER BY id"):
        yield PhotoLine(**dict(zip(PhotoLine.__struct_fields__, row, strict=True)))


def _prices(connection: sqlite3.Connection) -> Iterator[PriceLine]:
    for row in connection.execute(
        "SELECT source, product, store, day, cents, each_cents, how FROM prices_seen"
        f" WHERE {_EXPORTED} ORDER BY source, product, store, day, how"
    ):
        yield PriceLine(**dict(zip(PriceLine.__struct_fields__, row, strict=True)))


def _stock(connection: sqlite3.Connection) -> Iterator[StockLine]:
    for row in connection.execute(
        f"SELECT source, product, day, units, how FROM stock_moves WHERE {_EXPORTED} ORDER BY source, place"
    ):
        yield StockLine(**dict(zip(StockLine.__struct_fields__, row, strict=True)))


def take_in_lines(
    connection: sqlite3.Connection, lines: Sequence[HouseholdLine], at: str, device: str
) -> LinesTakenIn:
    """Writes what is new, inside the caller's transaction."""
    notes = _take_notes(connection, lines)
    _take_facts_of_notes(connection, lines)
    if list(connection.execute("SELECT 1 FROM batches LIMIT 1")):
        return msgspec.structs.replace(_join(connection, lines, at, device), notes=notes)
    return msgspec.structs.replace(_as_they_were(connection, lines), notes=notes)


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
    own = [*_prices(connection), *_stock(connection)]
    prices = {_price(line) for line in own if isinstance(line, PriceLine)}
    return prices, {_move(line) for line in own if isinstance(line, StockLine)}


def _own_lines(lines: Sequence[HouseholdLine]) -> Iterator[PriceLine | StockLine]:
    for line in lines:
        if isinstance(line, PriceLine | StockLine) and not line.source.startswith(_OF_A_NOTE):
            yield line


def _take_facts_of_notes(connection: sqlite3.Connection, lines: Sequence[HouseholdLine]) -> None:
    """What notes say of prices and stock, where nothing of the note is here."""
    found: dict[str, tuple[list[PriceRow], list[StockRow]]] = {}
    for line in lines:
        if isinstance(line, PriceLine | StockLine) and line.source.startswith(_OF_A_NOTE):
            prices, stock = found.setdefault(line.source, ([], []))
            if isinstance(line, PriceLine):
                prices.append(_price(line))
            else:
                stock.append(_move(line))
    for source, (prices, stock) in found.items():
        kept = connection.execute(
            "SELECT EXISTS (SELECT 1 FROM prices_seen WHERE source = ?1)"
            " OR EXISTS (SELECT 1 FROM stock_moves WHERE source = ?1)",
            (source,),
        ).fetchone()
        if not kept[0]:
            imported.insert(connection, source, prices, stock)


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
                    f"INSERT OR IGNORE INTO shared_texts ({_SHARED}) VALUES ({marks})",
                    msgspec.structs.astuple(line.text),
                )
            case NoteLine():
                connection.execute(
                    "INSERT OR IGNORE INTO notes (id, day, kind, document, device, written_at)"
                    " VALUES (?, ?, ?, ?, ?, ?)",
                    (line.id, line.day, line.kind, bytes(line.document), line.device, line.written_at),
                )
            case PhotoLine():
                connection.execute(
                    "INSERT OR IGNORE INTO receipt_photos (id, jpeg, width, height, kept_at)"
                    " VALUES (?, ?, ?, ?, ?)",
                    (line.id, line.jpeg, line.width, line.height, line.kept_at),
                )
            case _:
                pass
    return connection.total_changes - before


def _document(raw: msgspec.Raw) -> bytes | None:
    document = bytes(raw)
    return None if document == b"null" else document
