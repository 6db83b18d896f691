"""JSON instead of a table: a list of records of a kind, a trip, or an export of this program.

A record in JSON is whole, as ``counterfoil schema`` describes it: fields that it leaves out have their
defaults. A row's number counts the list from 1; in JSON Lines it is the line.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, cast

import msgspec

from ..bad_input import BadInput, Finding, shorten
from ..decoding import finding_of
from ..documents import read_trip
from .delimited import MOST_ROWS, check_number_of_rows

Types = Mapping[str, type[Any]]
HOUSEHOLD_FORMAT = "counterfoil-household-1"
EXPORT_FORMAT = "counterfoil-export-1"


class Listed(msgspec.Struct, frozen=True, kw_only=True):
    """An entry of a list: its ``row``, its kind, and the record, or (None) why it is none."""

    row: int
    kind: str
    record: Any | None
    findings: tuple[Finding, ...] = ()


def is_json(data: bytes) -> bool:
    """Whether a file is JSON rather than a table."""
    return data.removeprefix(b"\xef\xbb\xbf").lstrip()[:1] in (b"{", b"[")


def is_list(data: bytes) -> bool:
    """Whether a file is a JSON list of records of one kind rather than a trip or an export."""
    return data.removeprefix(b"\xef\xbb\xbf").lstrip()[:1] == b"["


def read_list(
    data: bytes, kind: str | None, types: Types, *, most_rows: int = MOST_ROWS
) -> tuple[tuple[Listed, ...], Any | None]:
    """The records of a JSON file, or the trip that it is. Raises ``BadInput`` where it is neither.

    ``kind``: of the records in a list; None: told by their fields.
    """
    data = data.removeprefix(b"\xef\xbb\xbf")
    if data.lstrip()[:1] == b"{":
        return _document(data, types, most_rows)
    try:
        raws = msgspec.json.decode(data, type=list[msgspec.Raw])
        check_number_of_rows(len(raws), most_rows)
        whole = cast("list[object]", msgspec.json.decode(data))
    except (msgspec.DecodeError, RecursionError) as error:
        raise BadInput(finding_of(error, data, list[Any])) from None
    name = kind or _kind_of(whole, types)
    return tuple(_listed(row, name, raw, types) for row, raw in enumerate(raws, start=1)), None


def _document(data: bytes, types: Types, most_rows: int) -> tuple[tuple[Listed, ...], Any | None]:
    try:
        lines = [bytes(raw) for raw in msgspec.json.Decoder(msgspec.Raw).decode_lines(data)]
    except (msgspec.DecodeError, RecursionError):
        lines = [data]
    if len(lines) > 1:
        return tuple(_newest(lines, types, most_rows)), None
    try:
        whole: object = msgspec.json.decode(data)
    except (msgspec.DecodeError, RecursionError) as error:
        raise BadInput(finding_of(error, data, dict[str, Any])) from None
    if cast("dict[str, object]", whole).get("format") == EXPORT_FORMAT:
        mend = (
            "for its records take household.jsonl of the same folder; `counterfoil import FOLDER` takes all"
        )
        raise BadInput(Finding(field="file", value="export.json of a whole export", mend=mend))
    return (), read_trip(data)


class _Version(msgspec.Struct):
    line: str = ""
    kind: str = ""
    id: str = ""
    document: msgspec.Raw = msgspec.Raw(b"null")


def _newest(lines: list[bytes], types: Types, most_rows: int) -> Iterator[Listed]:
    """Of an export's versions, each record's last; removed ones and all else are left out."""
    last: dict[tuple[str, str], tuple[int, msgspec.Raw]] = {}
    for number, line in enumerate(lines, start=1):
        try:
            version = msgspec.json.decode(line, type=_Version)
        except msgspec.DecodeError as error:
            finding = finding_of(error, line, _Version)
            field = f"line {number}" + (f", {finding.field}" if finding.field else "")
            raise BadInput(msgspec.structs.replace(finding, field=field)) from None
        if number == 1 and version.line != "format":
            mend = "the first line names the format: take household.jsonl as it was exported"
            raise BadInput(Finding(field="line 1", value=shorten(line.decode("utf-8", "replace")), mend=mend))
        if version.line == "version" and version.kind in types:
            last[version.kind, version.id] = (number, version.document)
    kept = [(number, kind, raw) for (kind, _), (number, raw) in last.items() if bytes(raw) != b"null"]
    check_number_of_rows(len(kept), most_rows)
    for number, kind, raw in kept:
        yield _listed(number, kind, raw, types)


def _listed(row: int, kind: str, raw: msgspec.Raw, types: Types) -> Listed:
    try:
        return Listed(row=row, kind=kind, record=msgspec.json.decode(raw, type=types[kind]))
    except (msgspec.DecodeError, RecursionError) as error:
        found = finding_of(error, bytes(raw), types[kind])
        return Listed(row=row, kind=kind, record=None, findings=(found,))


def _kind_of(entries: list[object], types: Types) -> str:
    """The one kind that has all the fields of the entries and whose needed fields they have."""
    objects = [cast("dict[str, object]", entry) for entry in entries if isinstance(entry, dict)]
    names = {name for entry in objects for name in entry}
    fitting = [
        name
        for name, kind in types.items()
        if names <= set(kind.__struct_encode_fields__)
        and all(
            set(entry) >= {field.encode_name for field in msgspec.structs.fields(kind) if field.required}
            for entry in objects
        )
    ]
    if objects and len(fitting) == 1:
        return fitting[0]
    mend = "say of what kind the records are" + (f": {' or '.join(fitting)}" if fitting and objects else "")
    raise BadInput(Finding(field="kind", value="a list of records", mend=mend))
