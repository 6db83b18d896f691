"""Lines of an export written into a store (``household_lines.py``), one after the other.

Into a blank store they go as they were, numbers included. Elsewhere only what is new joins, as
one more batch: a record that is not here, or that stands here as it stood in an earlier version of the lines.
A line is let go once it is written: an export holds years of prices, and photos.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterable, Iterator
from typing import Protocol

import msgspec

from . import imported
from .batches import RecordChange, write_batch
from .facts import PriceRow, StockRow
from .household_lines import (
    BatchLine,
    HouseholdLine,
    PriceLine,
    SetAsideLine,
    StockLine,
    VersionLine,
)
from .joining_notes import NotesJoining
from .sqlite_facts import forget_note_facts


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
    connection: sqlite3.Connection, lines: Iterable[HouseholdLine], at: str, device: str
) -> LinesTakenIn:
    """Writes what is new, inside the caller's transaction; what ``lines`` raises undoes all of it."""
    records: _Joining = _AsTheyWere(connection) if _is_blank(connection) else _Beside(connection, at, device)
    notes = NotesJoining(connection)
    for line in lines:
        if not notes.take(line):
            records.take(line)
    forget_note_facts(connection)  # the household's currency may be another here
    return msgspec.structs.replace(records.finish(), notes=notes.notes, pages=notes.pages)


def _is_blank(connection: sqlite3.Connection) -> bool:
    """Whether nobody has typed or brought in anything here."""
    found = connection.execute(
        "SELECT EXISTS (SELECT 1 FROM batches)"
        f" OR EXISTS (SELECT 1 FROM prices_seen WHERE {imported.OWN})"
        f" OR EXISTS (SELECT 1 FROM stock_moves WHERE {imported.OWN})"
    ).fetchone()
    return not found[0]


class _Joining(Protocol):
    def take(self, line: HouseholdLine) -> None: ...

    def finish(self) -> LinesTakenIn: ...


class _AsTheyWere:
    """Batches, versions, prices and counts into a store that has none."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._prices = self._stock = 0

    def take(self, line: HouseholdLine) -> None:
        match line:
            case BatchLine():
                self._connection.execute(
                    "INSERT INTO batches (number, at, device, words, takes_back) VALUES (?, ?, ?, ?, ?)",
                    (line.number, line.at, line.device, line.words, line.takes_back),
                )
            case VersionLine():
                about = (line.title, line.words, line.starts, line.ends, _document(line.document))
                self._connection.execute(
                    "INSERT INTO record_versions (kind, id, revision, batch, title, words, starts, ends,"
                    " document) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    (line.kind, line.id, line.revision, line.batch, *about),
                )
            case SetAsideLine():
                self._connection.execute(
                    "INSERT INTO facts_set_aside (batch, document) VALUES (?, ?)",
                    (line.batch, bytes(line.document)),
                )
            case PriceLine() if _is_own(line):
                imported.insert(self._connection, line.source, (_price(line),), ())
                self._prices += 1
            case StockLine() if _is_own(line):
                imported.insert(self._connection, line.source, (), (_move(line),))
                self._stock += 1
            case _:
                pass

    def finish(self) -> LinesTakenIn:
        self._connection.execute(
            "INSERT INTO records (kind, id, revision, title, words, starts, ends, document)"
            " SELECT kind, id, revision, title, words, starts, ends, document FROM record_versions AS last"
            " WHERE document IS NOT NULL AND revision = (SELECT MAX(revision) FROM record_versions AS every"
            " WHERE every.kind = last.kind AND every.id = last.id)"
        )
        [(records,)] = self._connection.execute("SELECT COUNT(*) FROM records")
        return LinesTakenIn(records=records, prices=self._prices, stock=self._stock)


class _Beside:
    """What is new beside what is here. Prices and counts wait in tables of their own until the batch has its
    number, which it gets only if anything is new."""

    def __init__(self, connection: sqlite3.Connection, at: str, device: str) -> None:
        self._connection = connection
        self._at = at
        self._device = device
        self._newest: dict[tuple[str, str], VersionLine] = {}
        self._history: dict[tuple[str, str], set[bytes]] = {}
        self._prices = self._stock = 0
        for table, like in (("new_prices", "prices_seen"), ("new_stock", "stock_moves")):
            connection.execute(f"DROP TABLE IF EXISTS temp.{table}")
            connection.execute(f"CREATE TEMP TABLE {table} AS SELECT * FROM main.{like} WHERE FALSE")

    def take(self, line: HouseholdLine) -> None:
        match line:
            case VersionLine():
                key = (line.kind, line.id)
                self._newest[key] = line
                self._history.setdefault(key, set()).add(_digest(_document(line.document)))
            case PriceLine() if _is_own(line):
                self._prices += self._connection.execute(
                    "INSERT INTO new_prices (product, store, day, source, how, cents, each_cents)"
                    " SELECT ?1, ?2, ?3, '', ?4, ?5, ?6 WHERE NOT EXISTS (SELECT 1 FROM prices_seen"
                    f" WHERE product = ?1 AND store = ?2 AND day = ?3 AND {imported.OWN}"
                    " AND how = ?4 AND cents = ?5 AND each_cents = ?6)",
                    (line.product, line.store, line.day, line.how, line.cents, line.each_cents),
                ).rowcount
            case StockLine() if _is_own(line):
                self._stock += self._connection.execute(
                    "INSERT INTO new_stock (source, place, product, day, units, how)"
                    " SELECT '', 0, ?1, ?2, ?3, ?4 WHERE NOT EXISTS (SELECT 1 FROM stock_moves"
                    f" WHERE product = ?1 AND day = ?2 AND how = ?4 AND {imported.OWN} AND units = ?3)",
                    (line.product, line.day, line.units, line.how),
                ).rowcount
            case _:
                pass

    def finish(self) -> LinesTakenIn:
        changes: list[RecordChange] = []
        known = other = 0
        for (kind, id), newest in self._newest.items():
            ours = self._ours(kind, id)
            document = _document(newest.document)
            if document in ours or (not ours and document is None):
                known += 1  # here, or here once: then ours went on from it
            elif not ours or _digest(ours[0]) in self._history[kind, id]:
                changes.append(_change(newest, document))
            else:
                other += 1
        if changes or self._prices or self._stock:
            number = write_batch(
                self._connection, changes, self._at, self._device, "Brought in from an export"
            )
            imported.write(self._connection, number, self._new_prices(), self._new_stock())
        for table in ("new_prices", "new_stock"):
            self._connection.execute(f"DROP TABLE temp.{table}")
        return LinesTakenIn(
            records=len(changes),
            records_known=known,
            records_other=other,
            prices=self._prices,
            stock=self._stock,
        )

    def _ours(self, kind: str, id: str) -> list[bytes | None]:
        """Every version of the record here, the newest first."""
        rows = self._connection.execute(
            "SELECT document FROM record_versions WHERE kind = ? AND id = ? ORDER BY revision DESC",
            (kind, id),
        )
        return [row[0] for row in rows]

    def _new_prices(self) -> Iterator[PriceRow]:
        for row in self._connection.execute(
            "SELECT product, store, day, cents, each_cents, how FROM new_prices ORDER BY rowid"
        ):
            yield PriceRow(
                product=row[0], store=row[1], day=row[2], cents=row[3], each_cents=row[4], how=row[5]
            )

    def _new_stock(self) -> Iterator[StockRow]:
        for row in self._connection.execute("SELECT product, day, units, how FROM new_stock ORDER BY rowid"):
            yield StockRow(product=row[0], day=row[1], units=row[2], how=row[3])


def _is_own(line: PriceLine | StockLine) -> bool:
    """Exports of older versions had what notes came to."""
    return not line.source.startswith("note:")


def _change(line: VersionLine, document: bytes | None) -> RecordChange:
    return RecordChange(
        kind=line.kind,
        id=line.id,
        title=line.title,
        words=line.words,
        starts=line.starts,
        ends=line.ends,
        document=document,
    )


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


def _document(raw: msgspec.Raw) -> bytes | None:
    document = bytes(raw)
    return None if document == b"null" else document


def _digest(document: bytes | None) -> bytes:
    return hashlib.sha256(b"null" if document is None else document).digest()
