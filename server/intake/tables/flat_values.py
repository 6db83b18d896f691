"""A record's values by their paths, and the nested document that they make."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any, cast

import msgspec
from msgspec import NODEFAULT

from ..bad_input import Finding, shorten
from ..decoding import finding_of
from .cells import Currency
from .columns import Column, Path, column_at

Values = dict[Path, Any]
_STEP = re.compile(r"\[(\d+)\]|([^.\[\]]+)")


class NotARecord(Exception):
    """A row that is no record; ``findings`` name the columns."""

    def __init__(self, *findings: Finding, values: Mapping[Path, Any] | None = None) -> None:
        super().__init__(findings[0].mend)
        self.findings = findings
        self.values = values or {}  # what could be read nevertheless


def value_at(record: Any, path: Path) -> Any:
    """What stands there in a record; ``NODEFAULT`` where it has no such place."""
    found: Any = record
    for step in path:
        if found is None:
            return NODEFAULT
        if isinstance(step, int):
            entries = cast("tuple[Any, ...]", found)
            if step >= len(entries):
                return NODEFAULT
            found = entries[step]
            continue
        config = cast("msgspec.structs.StructConfig", found.__struct_config__)
        # A choice says itself which one it is; where another has no such field, there is no value.
        found = config.tag if step == config.tag_field else getattr(found, step, NODEFAULT)
        if found is NODEFAULT:
            return NODEFAULT
    return found


def assembled(columns: Sequence[Column], values: Mapping[Path, Any]) -> dict[str, Any]:
    """The nested document of flat values. Raises ``NotARecord`` where a list begins with a later entry."""
    document: dict[str, Any] = {}
    for column in columns:
        value = values.get(column.path, NODEFAULT)
        if value is NODEFAULT:
            continue
        place: Any = document
        *parents, last = column.path
        for step, following in zip(parents, column.path[1:], strict=True):
            if isinstance(step, int):
                if step > len(place):
                    before = column.name.replace(str(step + 1), str(step) if step > 1 else "").replace(
                        "  ", " "
                    )
                    mend = f"“{before}” is empty: fill that in first"
                    raise NotARecord(Finding(field=column.name, value=shorten(value), mend=mend))
                if step == len(place):
                    place.append({})
                place = place[step]
            else:
                place = place.setdefault(step, [] if isinstance(following, int) else {})
        place[last] = value
    return document


def found_wrong(kind: type[Any], document: Mapping[str, Any]) -> Finding:
    """What msgspec finds wrong, told by the column's name and what is written in it."""
    data = msgspec.json.encode(document)
    try:
        msgspec.json.decode(data, type=kind)
    except msgspec.ValidationError as error:
        said = finding_of(error, data, kind)
    else:
        raise AssertionError("what cannot be converted cannot be decoded")
    column = column_at(kind, path_of(said.field))
    if column is None:
        return said
    found = _from(document, column.path)
    value = "nothing" if found is NODEFAULT else column.cell.write(found, Currency())
    says = "more than nothing" if found == 0 else column.cell.says
    return Finding(field=column.name, value=shorten(value), mend=f"write {says}")


def path_of(field: str) -> Path:
    """A field's path as the checks write it: ``asks[0].products[2]``."""
    return tuple(int(index) if index else name for index, name in _STEP.findall(field))


def _from(document: Any, path: Path) -> Any:
    found = document
    for step in path:
        try:
            found = found[step]
        except (KeyError, IndexError, TypeError):
            return NODEFAULT
    return found
