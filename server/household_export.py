"""The household in open formats: ``household.jsonl`` to read in again, a CSV table of each kind beside it.

``household.jsonl`` (``counterfoil-household-1``, JSON Lines) holds every batch and version of the records,
typed and imported prices and counts, shared texts, notes and photos. What it says is checked as if it were
typed before any of it is written.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from pathlib import Path

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
from .store.facts import SqliteFacts
from .store.household_lines import (
    FormatLine,
    HouseholdLine,
    PublishedLine,
    VersionLine,
    read_lines,
)
from .store.joining import LinesTakenIn, take_in_lines
from .store.records import SqliteRecords
from .store.sqlite import SqliteStore
from .tables_out import history_parts, table_of

HOUSEHOLD = "household.jsonl"
_MEND_FILE = "take the file as `counterfoil export` wrote it"


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


def read_household(folder: Path) -> list[HouseholdLine]:
    """The checked lines of an export; [] for one from before there were any. Raises ``BadInput``."""
    file = folder / HOUSEHOLD
    try:
        data = file.read_bytes()
    except FileNotFoundError:
        return []
    except OSError as error:
        mend = f"it cannot be read ({error.strerror})"
        raise BadInput(Finding(field="FOLDER", value=shorten(str(file)), mend=mend)) from error
    return decode_lines(data, str(file))


def decode_lines(data: bytes, file: str) -> list[HouseholdLine]:
    """The lines after the first, every record in them decoded and the newest checked beside each other."""
    lines: list[HouseholdLine] = []
    for number, text in enumerate(data.splitlines(), start=1):
        if not text.strip():
            continue
        try:
            lines.append(msgspec.json.decode(text, type=HouseholdLine))
        except (msgspec.DecodeError, RecursionError) as error:
            raise BadInput(_in_line(number, error, text), file=file) from None
    first = lines[0] if lines else None
    if not isinstance(first, FormatLine) or first.format != HOUSEHOLD_FORMAT:
        raise BadInput(Finding(field="line 1", value="another format", mend=_MEND_FILE), file=file)
    _check(lines, file)
    return lines[1:]


async def take_in_household(store: SqliteStore, lines: Sequence[HouseholdLine]) -> LinesTakenIn:
    """Adds what is new, in one transaction."""
    if not lines:
        return LinesTakenIn()
    return await store.write(lambda connection: take_in_lines(connection, lines, store.clock(), "import"))


def _check(lines: Sequence[HouseholdLine], file: str) -> None:
    newest: dict[tuple[str, str], tuple[int, Record | None]] = {}
    for number, line in enumerate(lines, start=1):
        if isinstance(line, PublishedLine):
            _check_published(number, line, file)
        if not isinstance(line, VersionLine):
            continue
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
        newest[line.kind, line.id] = (number, record)
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


def _in_line(number: int, error: msgspec.DecodeError | RecursionError, text: bytes) -> Finding:
    said = str(error).removesuffix("`")
    return Finding(field=f"line {number}", value=shorten(said), mend=_MEND_FILE)
