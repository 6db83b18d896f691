"""The columns of a record's type: one for each value that it can hold, with its words and synonyms.

Columns follow from the struct. A struct within it adds its fields; a choice of structs (what a coupon
gives) adds a column for which one it is and the fields of all; a list of structs (tiers) adds its fields
once for each entry. Names are the fields' in plain words: ``regular_cents`` is "regular price" and holds
2.50, ``off_bp`` is "off percent" and holds 50%. A heading that ends in "cents" holds whole cents.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, get_args

import msgspec
from msgspec import NODEFAULT, inspect

from ...engine.offers import DateText, DecimalText, Gtin, Id
from . import cells
from .cells import Cell
from .column_words import PREFIXES, SYNONYMS, joined, named

Path = tuple[str | int, ...]

# Numbers that are amounts of money where another column says so: in which struct, which field, when.
_IN_MONEY: Mapping[tuple[str, str], tuple[Path, str]] = {("Tier", "threshold"): (("by",), "spend")}


class Column(msgspec.Struct, frozen=True, kw_only=True):
    """A column: its ``name``, where its value stands in the record, and how the value is written.

    ``default``: what an empty cell means (``NODEFAULT``: it must not be empty). ``may_be_none``: the word
    "none" says so. ``explicit``: the value is written even where it is the default, because the part
    of the record that it stands in is there only if it is written. ``of``: the choices (their tags) that
    have such a value, empty for all. ``headings``: every heading that means it, beside the cell that
    reads below that heading. ``in_money``: the column and its value with which this one is an amount of
    money, and a number otherwise (a tier's threshold, where the reward goes by spend).
    """

    name: str
    path: Path
    cell: Cell
    default: Any
    may_be_none: bool
    explicit: bool
    of: tuple[str, ...]
    headings: Mapping[str, Cell]
    in_money: tuple[Path, str] | None = None

    @property
    def is_needed(self) -> bool:
        """Whether every record must have a value here."""
        return self.default is NODEFAULT and not self.explicit

    @property
    def may_be_empty(self) -> bool:
        """Whether it is a list that every record has, but that may be without entries: "none"."""
        return self.default is NODEFAULT and self.cell.says == cells.IDS

    @property
    def is_a_text(self) -> bool:
        """Whether an empty text is a value of its own."""
        return self.cell.says == "text"


@cache
def columns_of(kind: type[Any]) -> tuple[Column, ...]:
    """The columns of a struct, in the order of its fields."""
    described = inspect.type_info(kind)
    assert isinstance(described, inspect.StructType)
    found = tuple(_fields(described, (), "", explicit=False))
    taken = {column.name for column in found}
    return tuple(
        msgspec.structs.replace(
            column,
            headings={
                heading: cell
                for heading, cell in column.headings.items()
                # A name of another column is that column's.
                if heading == column.name or heading not in taken
            },
        )
        for column in found
    )


def plain_heading(heading: str) -> str:
    """A heading as it is compared: small letters, single spaces, no other signs."""
    return " ".join(re.findall(r"[^\W_]+", heading.lower()))


def column_by_heading(kind: type[Any], heading: str) -> tuple[Column, Cell] | None:
    """The column that a heading means, and how cells below it are read."""
    return _by_heading(kind).get(plain_heading(heading))


def column_at(kind: type[Any], path: Path) -> Column | None:
    """The column for a place in the record, or for what contains it."""
    by_path = {column.path: column for column in columns_of(kind)}
    for length in range(len(path), 0, -1):
        if path[:length] in by_path:
            return by_path[path[:length]]
        for known, column in by_path.items():
            if known[:length] == path[:length]:
                return column
    return None


@cache
def _by_heading(kind: type[Any]) -> Mapping[str, tuple[Column, Cell]]:
    found: dict[str, tuple[Column, Cell]] = {}
    for column in columns_of(kind):
        for heading, cell in column.headings.items():
            found.setdefault(heading, (column, cell))
    return found


# --- from the type ----------------------------------------------------------------------


def _fields(
    struct: inspect.StructType, path: Path, prefix: str, *, explicit: bool, of: tuple[str, ...] = ()
) -> Iterator[Column]:
    for field in struct.fields:
        kind, may_be_none = _without_none(field.type)
        here = (*path, field.encode_name)
        words = named(struct.cls.__name__, field.encode_name)
        default: Any = NODEFAULT if field.required else field.default
        if default is NODEFAULT and field.default_factory is not NODEFAULT:
            default = field.default_factory()
        inner = joined(prefix, PREFIXES.get(field.encode_name, words))
        match kind:
            case inspect.StructType():
                needs = explicit or may_be_none or any(each.required for each in kind.fields)
                yield from _fields(kind, here, inner, explicit=needs, of=of)
            case inspect.UnionType():
                yield from _choice(kind, here, inner, needed=field.required)
            case inspect.VarTupleType(item_type=inspect.StructType() as entry):
                for index in range(kind.max_length or 1):
                    numbered = inner if index == 0 else f"{inner} {index + 1}"
                    yield from _fields(entry, (*here, index), numbered, explicit=True)
            case _:
                cell = _cell(kind, field.encode_name)
                name = joined(prefix, words)
                yield Column(
                    name=name,
                    path=here,
                    cell=cell,
                    default=default,
                    may_be_none=may_be_none and default is not None,
                    explicit=explicit,
                    of=of,
                    headings=_headings(name, here, cell, kind, field.encode_name),
                    in_money=_IN_MONEY.get((struct.cls.__name__, field.encode_name)),
                )


def _choice(union: inspect.UnionType, path: Path, name: str, *, needed: bool) -> Iterator[Column]:
    """Which struct it is, then the fields of all: those of one name share a column."""
    structs = [each for each in union.types if isinstance(each, inspect.StructType)]
    tags = tuple(str(each.tag) for each in structs)
    cell = cells.one_of(tags)
    at = (*path, structs[0].tag_field or "kind")
    yield Column(
        name=name,
        path=at,
        cell=cell,
        default=NODEFAULT if needed else None,
        may_be_none=False,
        explicit=not needed,
        of=(),
        headings={name: cell, plain_heading(" ".join(map(str, at))): cell},
    )
    shared: dict[str, Column] = {}
    for struct in structs:
        for column in _fields(struct, path, name, explicit=True, of=(str(struct.tag),)):
            other = shared.get(column.name)
            both = column if other is None else msgspec.structs.replace(other, of=(*other.of, *column.of))
            shared[column.name] = both
    yield from shared.values()


def _without_none(kind: inspect.Type) -> tuple[inspect.Type, bool]:
    if not isinstance(kind, inspect.UnionType):
        return kind, False
    options = tuple(option for option in kind.types if not isinstance(option, inspect.NoneType))
    may_be_none = len(options) < len(kind.types)
    return (options[0] if len(options) == 1 else inspect.UnionType(options)), may_be_none


def _cell(kind: inspect.Type, name: str) -> Cell:
    match kind:
        case inspect.BoolType():
            return cells.yes_or_no()
        case inspect.LiteralType():
            return cells.one_of(tuple(str(value) for value in kind.values))
        case inspect.IntType() if name.endswith("cents"):
            return cells.money(0)  # a lowest amount above 0 is the type's to say: choices share columns
        case inspect.IntType() if name.endswith("bp"):
            return cells.percent(2, kind.ge or 0, kind.le or 10_000)
        case inspect.IntType():
            return cells.whole(kind.ge, kind.le)
        case inspect.VarTupleType():
            return cells.identifiers(kind.min_length or 0, kind.max_length)
        case inspect.DictType(value_type=inspect.IntType() as value):
            # Tax rates are in parts per 100,000, amounts by region in cents.
            return cells.mapping(
                cells.money(value.ge) if name.endswith("cents") else cells.percent(3, 0, value.le or 100_000)
            )
        case inspect.StrType(pattern=pattern) if pattern == get_args(DecimalText)[1].pattern:
            return cells.money_decimal() if name.endswith("cents") else cells.number()
        case inspect.StrType(pattern=pattern) if pattern == get_args(DateText)[1].pattern:
            return cells.day()
        case inspect.StrType(pattern=pattern) if pattern == get_args(Gtin)[1].pattern:
            return cells.barcode()
        case inspect.StrType(pattern=pattern) if pattern == get_args(Id)[1].pattern:
            return cells.identifier()
        case inspect.StrType():
            return cells.words(kind.max_length)
        case _:
            raise TypeError(f"no column is known for {kind}")


def _headings(name: str, path: Path, cell: Cell, kind: inspect.Type, field: str) -> dict[str, Cell]:
    raw = plain_heading(" ".join(str(part + 1) if isinstance(part, int) else part for part in path))
    # The first of several entries may be numbered or not.
    first = [name.replace(f"{word} ", f"{word} 1 ", 1) for word in ("asks", "tier") if path[1:2] == (0,)]
    headings = dict.fromkeys((name, *first, *SYNONYMS.get(name, ())), cell)
    if isinstance(kind, inspect.IntType) and field.endswith("cents"):
        in_cents = cells.whole(0, cells.MOST_CENTS)
        headings |= {f"{heading} cents": in_cents for heading in headings} | {raw: in_cents}
    elif isinstance(kind, inspect.StrType) and field.endswith("cents"):
        headings |= {f"{name} cents": cells.number(), raw: cells.number()}
    elif field.endswith("bp"):
        headings |= {raw: cells.whole(kind.ge, kind.le)} if isinstance(kind, inspect.IntType) else {}
    else:
        headings.setdefault(raw, cell)
    return headings
