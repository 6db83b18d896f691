"""Made-up records of every kind that a table may hold, as odd as their types allow."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import msgspec
from hypothesis import strategies as st
from msgspec import inspect

from counterfoil.home.tables import TABLE_TYPES
from counterfoil.intake.tables.columns import columns_of

_PATTERNS: Mapping[str, st.SearchStrategy[str]] = {
    "Id": st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,6}", fullmatch=True),
    "DecimalText": st.from_regex(r"[0-9]{1,4}(\.[0-9]{1,6})?", fullmatch=True),
    "DateText": st.dates(date(2020, 1, 1), date(2030, 12, 31)).map(date.isoformat),
    "Gtin": st.from_regex(r"[0-9]{8}|[0-9]{12,14}", fullmatch=True),
}
# Texts that spreadsheets, separators, quotes and guards could spoil.
TEXTS = st.one_of(
    st.sampled_from(
        ("", "'", "''", "=1+1", "'=x", " oats ", "+1", "-", "@x", "\tx", 'a "b"', "a,b;c\td", "x\r\ny")
    ),
    st.text(alphabet=st.characters(codec="utf-8"), max_size=12),
)


def records(kind: str) -> st.SearchStrategy[Any]:
    """Records of a kind; references and dates in them need not make sense."""
    described = inspect.type_info(TABLE_TYPES[kind])
    assert isinstance(described, inspect.StructType)
    return _struct(described)


def _struct(struct: inspect.StructType) -> st.SearchStrategy[Any]:
    needed = {f.name: _value(f.type, f.name) for f in struct.fields if f.required}
    others = {f.name: _value(f.type, f.name) for f in struct.fields if not f.required}
    return st.fixed_dictionaries(needed, optional=others).map(lambda values: struct.cls(**values))


def _value(kind: inspect.Type, name: str) -> st.SearchStrategy[Any]:
    match kind:
        case inspect.NoneType():
            return st.none()
        case inspect.UnionType():
            return st.one_of(*(_value(each, name) for each in kind.types))
        case inspect.StructType():
            return _struct(kind)
        case inspect.BoolType():
            return st.booleans()
        case inspect.IntType():
            return st.integers(kind.ge or 0, 10_000 if kind.le is None else kind.le)
        case inspect.LiteralType():
            return st.sampled_from(kind.values)
        case inspect.VarTupleType():
            most = min(kind.max_length or 4, 4)
            return st.lists(_value(kind.item_type, name), min_size=kind.min_length or 0, max_size=most).map(
                tuple
            )
        case inspect.DictType():
            return st.dictionaries(TEXTS, _value(kind.value_type, name), max_size=3)
        case inspect.StrType(pattern=None):
            return TEXTS
        case inspect.StrType():
            return _by_pattern(kind.pattern or "")
        case _:
            raise TypeError(f"nothing is made up for {kind}")


def _by_pattern(pattern: str) -> st.SearchStrategy[str]:
    from counterfoil.engine import offers

    for name, strategy in _PATTERNS.items():
        meta: msgspec.Meta = getattr(offers, name).__metadata__[0]
        if meta.pattern == pattern:
            return strategy
    raise TypeError(f"nothing is made up for {pattern}")


def every_column(kind: str) -> tuple[str, ...]:
    """The names of a kind's columns."""
    return tuple(column.name for column in columns_of(TABLE_TYPES[kind]))
