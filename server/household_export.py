"""The household in open formats: ``household.jsonl`` to read in again, a CSV table of each kind beside it.

``household.jsonl`` (``counterfoil-household-1``, JSON Lines) holds every batch and version of the records,
typed and imported prices and counts, shared texts, notes, photos and published pages. What it says is checked
as if it were typed before any of it is written; written and read it is line by line, for it may be large.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Protocol

import msgspec

from .after.publishing.editions import read_list, read_page
from .home.checking import Known, check_records
from .home.kinds import KINDS, Record, decode, id_of, kind_of
from .home.tables import PRICE_HISTORY, TABLE_KINDS
from .homes import Home
from .importing import currency_of
from .intake.bad_input import BadInput, Finding, shorten
from .intake.decoding import finding_of
from .intake.tables.lists import HOUSEHOLD_FORMAT
from .store.household_lines import (
    FormatLine,
    HouseholdLine,
    PublishedLine,
    VersionLine,
    read_lines,
)
from .store.records import SqliteRecords
from .store.sqlite import SqliteStore
from .store.sqlite_facts import SqliteFacts
from .tables_out import history_parts, table_of

HOUSEHOLD = "household.jsonl"
_MEND_FILE = "take the file as `counterfoil export` wrote it"
_decode_line = msgspec.json.Decoder(HouseholdLine).decode


async def write_household(store: SqliteStore, file: Path) -> None:
    """Writes ``household.jsonl``, line by line: years of prices are many. Raises ``OSError``."""
    encode = msgspec.json.Encoder().encode

    def write(connection: sqlite3.Connection) -> None:
        with file.open("wb") as out:
            out.write(encode(FormatLine(format=HOUSEHOLD_FORMAT)) + b"\n")
            for line in read_lines(connection):
                out.write(encode(line) + b"\n")

    await store.look(write)


async def write_tables(store: SqliteStore, folder: Path) -> None:
    """Writes a CSV table of each kind, ``coupon.csv`` and the others. Raises ``OSError``."""
    snapshot = await Home(SqliteRecords(store)).snapshot()
    facts = SqliteFacts(store)
    currency = currency_of(snapshot)
    stock = await facts.all_stock()
    for kind in TABLE_KINDS:
        if kind != PRICE_HISTORY:
            (folder / f"{kind}.csv").write_bytes(table_of(kind, snapshot, stock, currency))
    with (folder / f"{PRICE_HISTORY}.csv").open("wb") as out:
        async for part in history_parts(facts, list(snapshot.products), currency):
            out.write(part)


class HouseholdFile:
    """``household.jsonl`` of an export that was looked through. ``lines`` reads it again, so that no more
    than a line of it is held at a time."""

    def __init__(self, path: Path) -> None:
        """Reads and checks the whole file: every record decoded, the newest checked beside each other."""
        self._path = path
        self._digest = hashlib.sha256()
        newest: dict[tuple[str, str], tuple[int, Record | None]] = {}
        for number, line in self._read(self._digest):
            if isinstance(line, PublishedLine):
                _check_published(number, line, str(path))
            elif isinstance(line, VersionLine):
                newest[line.kind, line.id] = (number, _record(number, line, str(path)))
        _check_beside(newest, str(path))

    def lines(self) -> Iterator[HouseholdLine]:
        """The lines after the first. Raises ``BadInput``, at the end at the latest, where the file is not the
        one that was looked through: nothing of it may be kept then."""
        digest = hashlib.sha256()
        for _, line in self._read(digest):
            yield line
        if digest.digest() != self._digest.digest():
            mend = "it was changed while it was read: import it again"
            raise BadInput(Finding(field="FOLDER", value=shorten(str(self._path)), mend=mend))

    def _read(self, digest: _Digest) -> Iterator[tuple[int, HouseholdLine]]:
        """Each line after the first, with its number."""
        file = str(self._path)
        is_first = True
        for number, text in _texts(self._path, digest):
            try:
                line = _decode_line(text)
            except (msgspec.DecodeError, RecursionError) as error:
                raise BadInput(_in_line(number, error), file=file) from None
            if not is_first:
                yield number, line
            elif not isinstance(line, FormatLine) or line.format != HOUSEHOLD_FORMAT:
                raise BadInput(Finding(field="line 1", value="another format", mend=_MEND_FILE), file=file)
            is_first = False
        if is_first:
            raise BadInput(Finding(field="line 1", value="another format", mend=_MEND_FILE), file=file)


def household_file(folder: Path) -> HouseholdFile | None:
    """The checked lines of an export; None for one from before there were any. Raises ``BadInput``."""
    file = folder / HOUSEHOLD
    return HouseholdFile(file) if file.exists() else None


class _Digest(Protocol):
    def update(self, data: bytes, /) -> None: ...


def _texts(path: Path, digest: _Digest) -> Iterator[tuple[int, bytes]]:
    """The lines that say something, with their numbers; ``digest`` gets every byte."""
    try:
        with path.open("rb") as file:
            for number, text in enumerate(file, start=1):
                digest.update(text)
                if text.strip():
                    yield number, text
    except OSError as error:
        mend = f"it cannot be read ({error.strerror})"
        raise BadInput(Finding(field="FOLDER", value=shorten(str(path)), mend=mend)) from error


def _record(number: int, line: VersionLine, file: str) -> Record | None:
    """The record of a version; None where it was removed."""
    if line.kind not in KINDS:
        finding = Finding(field=f"line {number}, kind", value=shorten(line.kind), mend=_MEND_FILE)
        raise BadInput(finding, file=file)
    document = bytes(line.document)
    try:
        record = None if document == b"null" else decode(line.kind, document)
    except (msgspec.DecodeError, RecursionError) as error:
        finding = finding_of(error, document, KINDS[line.kind].type)
        field = f"line {number}, document.{finding.field}"
        raise BadInput(msgspec.structs.replace(finding, field=field), file=file) from None
    if record is not None and (kind_of(record).name, id_of(record)) != (line.kind, line.id):
        finding = Finding(field=f"line {number}, id", value=shorten(line.id), mend=_MEND_FILE)
        raise BadInput(finding, file=file)
    return record


def _check_beside(newest: Mapping[tuple[str, str], tuple[int, Record | None]], file: str) -> None:
    kept = [(number, record) for number, record in newest.values() if record is not None]
    misfits = check_records([record for _, record in kept], Known())
    if misfits:
        raise BadInput(
            *(
                Finding(
                    field=f"line {kept[misfit.place][0]}, document.{misfit.field}",
                    value=shorten(misfit.value),
                    mend=misfit.mend,
                )
                for misfit in misfits
            ),
            file=file,
        )


def _check_published(number: int, line: PublishedLine, file: str) -> None:
    try:
        if line.slug:
            read_page(line.slug, bytes(line.document))
        else:
            read_list(bytes(line.document))
    except BadInput as error:
        [finding] = error.findings
        finding = msgspec.structs.replace(finding, field=f"line {number}, document", mend=_MEND_FILE)
        raise BadInput(finding, file=file) from None


def _in_line(number: int, error: msgspec.DecodeError | RecursionError) -> Finding:
    said = str(error).removesuffix("`")
    return Finding(field=f"line {number}", value=shorten(said), mend=_MEND_FILE)
