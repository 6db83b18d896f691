"""A row as a record and a record as a row.

A column that the table lacks leaves what the record has there already; an empty cell means the default. So
a table of two columns changes one field of many records, and a whole table says everything.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast

import msgspec
from msgspec import NODEFAULT

from ..bad_input import Finding, shorten
from .cells import NONE_WORDS, Cell, Currency, NotRead, money
from .columns import Column, column_at, column_by_heading, columns_of, plain_heading
from .delimited import EMPTY_TEXT, says_empty, unguarded
from .flat_values import NotARecord, Values, assembled, found_wrong, path_of, value_at


class _Unread(str):
    """A cell that can only be read once the rest of the row is known."""


class Heading(msgspec.Struct, frozen=True, kw_only=True):
    """The columns of a table in its order; None: one that is left out because nothing is known of it."""

    columns: tuple[tuple[Column, Cell] | None, ...]
    unknown: tuple[str, ...]
    twice: tuple[str, ...]
    missing: tuple[str, ...]


def read_heading(kind: type[Any], heading: Sequence[str]) -> Heading:
    """What the words of a heading row mean for records of a type."""
    found = tuple(column_by_heading(kind, words) for words in heading)
    names = [each[0].name for each in found if each]
    return Heading(
        columns=found,
        unknown=tuple(words for words, each in zip(heading, found, strict=True) if words and each is None),
        twice=tuple(dict.fromkeys(name for name in names if names.count(name) > 1)),
        missing=tuple(c.name for c in columns_of(kind) if c.is_needed and c.name not in names),
    )


def named_in(kind: type[Any], heading: Heading, cells: Sequence[str], currency: Currency) -> Values:
    """The values of a row. Raises ``NotARecord`` with a finding for each cell that cannot be read."""
    values: Values = {}
    findings: list[Finding] = []
    for place, known in enumerate(heading.columns):
        if known is None:
            continue
        column, cell = known
        text = cells[place] if place < len(cells) else ""
        try:
            values[column.path] = _value(column, cell, text, currency)
        except NotRead as wrong:
            findings.append(Finding(field=column.name, value=shorten(text.strip()), mend=wrong.mend))
    if any(cell.strip() for cell in cells[len(heading.columns) :]):
        extra = cells[len(heading.columns)]
        findings.append(
            Finding(
                field="", value=shorten(extra), mend="more cells than columns: quote a text with separators"
            )
        )
    if findings:
        raise NotARecord(*findings, values=values)
    return values


def record_of(kind: type[Any], values: Values, before: Any | None, currency: Currency) -> Any:
    """The record that a row's values make, or make of the one that was there. Raises ``NotARecord``."""
    columns = columns_of(kind)
    whole = (values_of(before) if before is not None else {}) | values
    wrong: list[Finding] = []
    for column in columns:
        unread = whole.get(column.path)
        if isinstance(unread, _Unread):
            try:
                whole[column.path] = _cell_of(column, whole).read(unread, currency)
            except NotRead as error:
                wrong.append(Finding(field=column.name, value=shorten(str(unread)), mend=error.mend))
    # What is given of one choice drops what was there of another.
    for column in columns:
        if column.of and column.path in whole and whole[column.path] is not NODEFAULT:
            chosen = whole.get((*column.path[:-1], "kind"))
            if chosen in column.of:
                continue
            if column.path in values:
                said = column.cell.write(whole[column.path], currency)
                named = heading_of_choice(columns, column)
                mend = (
                    f"“{named}” is empty: say there what it is"
                    if not isinstance(chosen, str)
                    else f"“{chosen.replace('_', ' ')}” has no such value: leave it empty, or mend “{named}”"
                )
                wrong.append(Finding(field=column.name, value=shorten(said), mend=mend))
            whole[column.path] = NODEFAULT
    if wrong:
        raise NotARecord(*wrong)
    document = assembled(columns, whole)
    try:
        return msgspec.convert(document, kind)
    except msgspec.ValidationError:
        raise NotARecord(found_wrong(kind, document)) from None


def values_of(record: Any) -> Values:
    """Every value of a record by its path; what it does not have is left out."""
    values: Values = {}
    for column in _columns_of_record(record):
        found = value_at(record, column.path)
        if found is not NODEFAULT and (found is not None or column.may_be_none):
            values[column.path] = found
    return values


def row_of(record: Any, currency: Currency) -> list[str | None]:
    """The cells of a record under ``heading_of`` its type, not guarded yet."""
    values = values_of(record)
    return [_text(column, values, currency) for column in _columns_of_record(record)]


def heading_of(kind: type[Any]) -> list[str]:
    """The names of all columns."""
    return [column.name for column in columns_of(kind)]


def differences(before: Any, after: Any, currency: Currency) -> list[tuple[str, str, str]]:
    """Every column that differs between two records of a type: its name, what it was, what it is."""
    was, now = values_of(before), values_of(after)
    return [
        (column.name, shown(column, was, currency), shown(column, now, currency))
        for column in _columns_of_record(after)
        if was.get(column.path) != now.get(column.path)
    ]


def shown(column: Column, values: Values, currency: Currency) -> str:
    """A value as its cell, "nothing" where there is none."""
    value = values.get(column.path, NODEFAULT)
    if value is NODEFAULT or value == () or value == {} or value == "":
        return "nothing"
    return "none" if value is None else _cell_of(column, values).write(value, currency)


def column_of_field(kind: type[Any], field: str) -> str:
    """The column for a field's path as the checks write it (``asks[0].products[2]``); "" for none."""
    column = column_at(kind, path_of(field))
    return column.name if column else ""


def is_meant(heading: Sequence[str], name: str) -> bool:
    """Whether a heading row has a column called so."""
    return any(plain_heading(words) == name for words in heading)


def _columns_of_record(record: Any) -> tuple[Column, ...]:
    return columns_of(cast("type[Any]", type(record)))


def heading_of_choice(columns: Sequence[Column], of: Column) -> str:
    """The column that chooses whether a record has the value of another."""
    return next(column.name for column in columns if column.path == (*of.path[:-1], "kind"))


# --- one value ----------------------------------------------------------------------------


def _value(column: Column, cell: Cell, text: str, currency: Currency) -> Any:
    """The value; ``NODEFAULT`` where the cell is empty."""
    if column.is_a_text:
        bare = unguarded(text)
        if says_empty(text):
            return ""
        return cell.read(bare, currency) if bare else NODEFAULT
    bare = text.strip().removeprefix("'").strip()
    if not bare:
        return NODEFAULT
    if column.may_be_none and bare.lower() in NONE_WORDS:
        return None
    if column.may_be_empty and bare.lower() == "none":
        return ()
    return _Unread(bare) if column.in_money else cell.read(bare, currency)


def _cell_of(column: Column, values: Values) -> Cell:
    """How the column's value is written in this record."""
    if column.in_money is not None and values.get(column.in_money[0]) == column.in_money[1]:
        return money(1)
    return column.cell


def _text(column: Column, values: Values, currency: Currency) -> str | None:
    value = values.get(column.path, NODEFAULT)
    if value is NODEFAULT:
        return ""
    if value == ():
        return "none" if column.may_be_empty else ""
    if column.may_be_empty and value == ("none",):
        return "none;"
    if value is None:
        return "none" if column.may_be_none else ""
    if not column.explicit and value == column.default:
        return ""
    if column.is_a_text and value == "":
        return EMPTY_TEXT if column.default is NODEFAULT else ""
    return _cell_of(column, values).write(value, currency)
