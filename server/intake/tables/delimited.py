"""Comma separated text (RFC 4180) in and out: encoding, separator, quotes, and cells that are no formulas.

Read: UTF-8, with or without a byte order mark; commas, semicolons or tabs, told by the heading row.
Written: UTF-8, commas, CRLF. A cell that a spreadsheet would take for a formula gets an apostrophe in
front, as does one whose spaces at the ends matter; reading takes that apostrophe off again.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

import msgspec

from ..bad_input import BadInput, Finding, shorten

MOST_ROWS = 20_000
MOST_BYTES = 5_000_000
MOST_COLUMNS = 200
LONGEST_CELL = 200_000  # characters; a coupon for 2,000 products names 160,000 of them
SEPARATORS = (",", ";", "\t")
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"
_OTHER_MARKS = {b"\xff\xfe": "UTF-16", b"\xfe\xff": "UTF-16", b"PK\x03\x04": "a spreadsheet's own file"}
# What a spreadsheet may take for the beginning of a formula.
_FORMULA_STARTS = (
    "=",
    "+",
    "-",
    "@",
    "\t",
    "\r",
    "\n",
    "\N{FULLWIDTH EQUALS SIGN}",
    "\N{FULLWIDTH PLUS SIGN}",
)
_GUARD = "'"
# A cell for a text that every record has and that is empty; an empty cell would say that it is not known.
EMPTY_TEXT = None


class Line(msgspec.Struct, frozen=True):
    """A row of the table: its number as a spreadsheet counts it (the heading is 1), and its cells."""

    row: int
    cells: tuple[str, ...]


class Table(msgspec.Struct, frozen=True, kw_only=True):
    """The heading and the rows below it; rows without any text are left out but counted."""

    heading: tuple[str, ...]
    lines: tuple[Line, ...]
    separator: str


def read_table_text(data: bytes, *, most_rows: int = MOST_ROWS) -> Table:
    """The rows of a file. Raises ``BadInput`` for another encoding, quotes left open, too many rows."""
    text = _decoded(data)
    separator = _separator(text)
    try:
        csv.field_size_limit(LONGEST_CELL)
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True))
    except csv.Error as error:
        raise BadInput(_broken(text, separator, str(error))) from None
    first = next((n for n, row in enumerate(rows) if any(cell.strip() for cell in row)), None)
    if first is None:
        raise BadInput(Finding(field="file", value="no rows", mend="write a heading row and rows below it"))
    heading = tuple(cell.strip() for cell in rows[first])
    if len(heading) > MOST_COLUMNS:
        found = f"{len(heading)} columns"
        raise BadInput(Finding(field="file", value=found, mend=f"at most {MOST_COLUMNS} columns"))
    below = [
        Line(number, tuple(row))
        for number, row in enumerate(rows[first + 1 :], start=first + 2)
        if any(cell.strip() for cell in row)
    ]
    check_number_of_rows(len(below), most_rows)
    return Table(heading=heading, lines=tuple(below), separator=separator)


def check_number_of_rows(count: int, most: int) -> None:
    """Raises ``BadInput`` for more rows than are taken at once."""
    if count > most:
        mend = f"at most {most:,} at once: split the file, with the same heading row in each part"
        raise BadInput(Finding(field="file", value=f"{count:,} rows", mend=mend))


def write_table(heading: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """The table as bytes. Texts are guarded, numbers stay as they are, ``EMPTY_TEXT`` is an empty text."""
    return write_rows([list(heading)]) + write_rows(rows)


def write_rows(rows: Iterable[Sequence[object]]) -> bytes:
    """Rows alone, as ``write_table`` writes them."""
    out = io.StringIO()
    writer = csv.writer(out)
    for row in rows:
        writer.writerow([_written(cell) for cell in row])
    return out.getvalue().encode()


def _written(cell: object) -> object:
    if cell is EMPTY_TEXT:
        return _GUARD
    return guarded(cell) if isinstance(cell, str) else cell


def guarded(text: str) -> str:
    """``text`` as a cell that no spreadsheet reckons with and that ``unguarded`` gives back to the letter."""
    return f"{_GUARD}{text}" if _needs_guard(text) else text


def says_empty(cell: str) -> bool:
    """Whether a cell was ``EMPTY_TEXT``."""
    return cell == _GUARD


def unguarded(cell: str) -> str:
    """What a cell says: spaces around it do not count, unless an apostrophe guards them.

    >>> unguarded(" oats "), unguarded("'=2 off"), unguarded("' oats"), unguarded("'til May")
    ('oats', '=2 off', ' oats', "'til May")
    """
    if cell.startswith(_GUARD) and _needs_guard(cell[1:]):
        return cell[1:]
    return cell.strip()


def _needs_guard(text: str) -> bool:
    return text.startswith((*_FORMULA_STARTS, _GUARD)) or text != text.strip()


def _decoded(data: bytes) -> str:
    for mark, name in _OTHER_MARKS.items():
        if data.startswith(mark):
            mend = "save it as CSV in UTF-8 (in a spreadsheet: Save as, “CSV UTF-8”)"
            raise BadInput(Finding(field="file", value=f"{name}, not UTF-8", mend=mend))
    body = data.removeprefix(_BYTE_ORDER_MARK)
    try:
        return body.decode()
    except UnicodeDecodeError as error:
        at = error.start
        line = body.count(b"\n", 0, at) + 1
        around = body[max(at - 20, 0) : at + 20].decode("cp1252", "replace").replace("\n", " ")
        raise BadInput(
            Finding(
                field=f"byte {at + len(data) - len(body) + 1}, line {line}",
                value=shorten(f"0x{body[at]:02x} in “{around}”"),
                mend="this is no UTF-8: save it as CSV in UTF-8 (in a spreadsheet: Save as, “CSV UTF-8”)",
            )
        ) from None


def _separator(text: str) -> str:
    """The one of ``SEPARATORS`` that stands most often in the heading, outside quotes; a comma for none."""
    heading = next((line for line in text.splitlines() if line.strip()), "")
    bare = "".join(heading.split('"')[::2])
    return max(SEPARATORS, key=bare.count)


def _broken(text: str, separator: str, said: str) -> Finding:
    """Which row the reader was in when it gave up: rows are counted again up to there."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    row = 1
    try:
        for _ in reader:
            row += 1
    except csv.Error:
        pass
    if "field larger" in said:
        return Finding(
            field=f"row {row}", value="a very long cell", mend="close the quotes that were opened there"
        )
    mend = 'put a text that has quotes or separators in it in quotes, each quote in it doubled: "12"" pan"'
    return Finding(field=f"row {row}", value=shorten(said), mend=mend)
