"""What a form of a record is: how it is read, how a record fills it, which field a finding is about."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ....home.kinds import Record
from ...fields import Typed
from .sheet import Sheet, Values

# Amounts as they are typed: without a sign, with the currency's digits after the point.
Written = Callable[[int], str]


@dataclass(frozen=True, kw_only=True)
class Form:
    """One kind of record as a form.

    ``read``: the records of a sheet; ``id`` is the one that is changed, None for a new one. Findings are
    left in the sheet's fields. ``fill``: what a record looks like when typed. ``blank``: a new form.
    ``choosers``: the names of its lists of products. ``field_of``: which field a path in the record means.
    ``more``: a field that counts rows, the most of them, and what the first field of a row begins with.
    """

    kind: str
    template: str
    read: Callable[[Sheet, str | None], Sequence[Record]]
    fill: Callable[[Any, Written], Values]
    field_of: Callable[[str], str]
    blank: Mapping[str, Sequence[str]] = field(default_factory=dict[str, Sequence[str]])
    choosers: Callable[[Typed], Sequence[str]] = lambda typed: ()
    more: tuple[str, int, str] | None = None
    context: Callable[[Sheet], Mapping[str, object]] = lambda sheet: {}


def rows_of(typed: Typed, name: str, least: int, most: int) -> int:
    """How many rows a form shows, by the field that counts them."""
    text = typed[name]
    return min(max(int(text), least), most) if text.isascii() and text.isdigit() and len(text) < 4 else least


def optional(number: int | None) -> list[str]:
    """A number as it is typed; nothing for None."""
    return [] if number is None else [str(number)]


def texts(**values: str | None) -> Values:
    """Fields that have something in them."""
    return {name: [value] for name, value in values.items() if value}


def written_percent(amount: int, places: int = 2) -> str:
    """``amount`` of 10^-``places`` percent as it is typed: 1250 -> ``12.5``."""
    digits = str(amount).rjust(places + 1, "0")
    return f"{digits[:-places]}.{digits[-places:]}".rstrip("0").rstrip(".")
