"""``counterfoil import-table``: a table comes in, each row's fate told as the Desk tells it."""

from __future__ import annotations

import argparse
import asyncio
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from ..home.importing import Fate, Preview
from ..home.tables import TABLE_KINDS
from ..homes import Home
from ..importing import take_in, weigh_file
from ..intake.bad_input import BadInput, Finding, plain, shorten
from ..intake.tables.delimited import MOST_ROWS
from ..store.imported import SqliteImports
from ..store.interface import StoreUnavailable, StoreUnusable
from ..store.records import SqliteRecords
from ..store.sqlite import SqliteStore

MOST_FILE_BYTES = 200_000_000  # years of prices at once; the Desk takes less
MOST_FILE_ROWS = 2_000_000
DEVICE = "command line"
Commands = Any  # argparse keeps the type of its subparsers to itself


def add_import_table(commands: Commands, data: Path) -> None:
    """The command, with ``--data`` (``data`` if left out)."""
    command: argparse.ArgumentParser = commands.add_parser(
        "import-table",
        help="bring a table (CSV or JSON) in",
        description="Brings the rows of a CSV or JSON file in as one change, or none while one is refused.",
    )
    command.add_argument("file", type=Path, metavar="FILE")
    command.add_argument(
        "--kind", choices=list(TABLE_KINDS), help="what its rows are, where the columns do not tell"
    )
    command.add_argument("--dry-run", action="store_true", help="only tell what would become of each row")
    command.add_argument("--leave-out-refused", action="store_true", help="take in all rows but those")
    command.add_argument(
        "--data", type=Path, default=data, metavar="FOLDER", help=f"where the data lie ({data})"
    )
    command.set_defaults(run=_import_table)


def _import_table(chosen: argparse.Namespace) -> int:
    file: Path = chosen.file
    data = _bytes_of(file)
    try:
        preview, batch = asyncio.run(_bring_in(chosen, data))
    except BadInput as error:
        raise BadInput(*error.findings, file=str(file)) from error
    except (StoreUnusable, StoreUnavailable) as error:
        found = shorten(str(chosen.data))
        raise BadInput(Finding(field="--data", value=found, mend=str(error))) from error
    for line in fate_lines(preview):
        print(plain(line))
    counts = ", ".join(f"{preview.count(fate)} {fate}" for fate in ("refused", "changed", "new", "same"))
    print(f"{counts}. {_end(chosen.dry_run, batch)}")
    return 0


async def _bring_in(chosen: argparse.Namespace, data: bytes) -> tuple[Preview, int]:
    store = SqliteStore(chosen.data)
    await store.open()
    try:
        home = Home(SqliteRecords(store))
        most = MOST_FILE_ROWS if chosen.kind == "price_history" else MOST_ROWS
        weighed = await weigh_file(home, SqliteImports(store), data, chosen.kind, most_rows=most)
        preview = weighed.preview
        if chosen.dry_run:
            return preview, 0
        if preview.count("refused") and not chosen.leave_out_refused:
            raise BadInput(*_refusals(preview))
        return preview, await take_in(home, weighed, name=chosen.file.name, device=DEVICE)
    finally:
        await store.close()


def fate_lines(preview: Preview) -> Iterator[str]:
    """A line for each row that is not the same as here, and for each of its changes and findings."""
    for note in preview.notes:
        yield f"column {note.field}: {note.mend}"
    for fate in preview.fates:
        if fate.fate != "same":
            yield f"row {fate.row}: {fate.fate}: {TABLE_KINDS[fate.kind].one} {fate.title or fate.id}"
            for change in fate.changes:
                yield f"    {change.column}: {change.before} -> {change.after}"
            for finding in fate.findings:
                yield f"    {finding.field or 'the row'}: found {finding.value}; mend: {finding.mend}"


def _refusals(preview: Preview) -> Iterator[Finding]:
    for fate in preview.fates:
        for finding in fate.findings:
            yield Finding(field=_place(fate, finding), value=finding.value, mend=finding.mend)


def _place(fate: Fate, finding: Finding) -> str:
    return f"row {fate.row}, {finding.field}" if finding.field else f"row {fate.row}"


def _end(dry_run: bool, batch: int) -> str:
    if dry_run:
        return "Nothing was written."
    return (
        f"Written as change {batch}, which the Desk can take back."
        if batch
        else "There was nothing to write."
    )


def _bytes_of(file: Path) -> bytes:
    try:
        if file.stat().st_size > MOST_FILE_BYTES:
            mend = f"at most {MOST_FILE_BYTES:,}: split it"
            raise BadInput(
                Finding(field="", value=f"{file.stat().st_size:,} bytes", mend=mend), file=str(file)
            )
        return file.read_bytes()
    except OSError as error:
        found = (error.strerror or type(error).__name__).lower()
        mend = "name a file that is there and may be read"
        raise BadInput(Finding(field="", value=found, mend=mend), file=str(file)) from None
