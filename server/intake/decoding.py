"""A decoder's complaint in plain words: the field's whole path, what stood there, how to mend it.

msgspec says ``Object missing required field `cents` - at `$.prices[3]` ``. A planner who wrote
the file by hand reads ``prices[3].cents: found nothing; mend: add it: a whole number ...``.
"""

from __future__ import annotations

import re
from typing import Any, cast, get_args

import msgspec
from msgspec import inspect

from ..engine.offers import DateText, DecimalText, Gtin, Id
from .bad_input import Finding, shorten

_NAMED = re.compile(r"`([^`]+)`")
_STEP = re.compile(r"\.([^.\[]+)|\[(\d+)\]|\[(\.\.\.)\]")
_AT = " - at `$"

# What a text must look like, by the pattern that its type carries.
_PATTERNS: dict[str, str] = {
    get_args(Id)[1].pattern: "letters, digits, points, hyphens and underscores, such as oat-bar-6",
    get_args(DecimalText)[1].pattern: 'digits with a point, in quotes, such as "2.5"',
    get_args(DateText)[1].pattern: "a date as year-month-day, such as 2026-12-05",
    get_args(Gtin)[1].pattern: "the 8, 12, 13 or 14 digits under the barcode, in quotes",
    "^[A-Z]{3}$": "a currency's three letters, such as USD",
}


def finding_of(error: msgspec.DecodeError | RecursionError, data: bytes, wanted: type[Any]) -> Finding:
    """The one finding behind ``error``, raised when ``data`` was decoded as ``wanted``."""
    if isinstance(error, RecursionError):
        return Finding(field="", value="brackets within brackets", mend="it is nested too deeply: flatten it")
    if not isinstance(error, msgspec.ValidationError):
        return _no_json(str(error), data)
    try:
        whole: object = msgspec.json.decode(data)
    except (msgspec.DecodeError, RecursionError) as worse:
        # The field that does not fit came first, but further on the text is no JSON at all.
        return finding_of(worse, data, wanted)
    said, _, path = str(error).partition(_AT)
    raw, kind, field = _follow(whole, inspect.type_info(wanted), path.rstrip("`"))
    named = _NAMED.search(said)
    if said.startswith("Object missing required field") and named:
        field = _join(field, named[1])
        mend = f"add it: {_describe(_member(kind, raw, named[1]), field)}"
        return Finding(field=shorten(field), value="nothing", mend=mend)
    if said.startswith("Object contains unknown field") and named:
        known = ", ".join(_members(kind, raw)) or "no field at all"
        mend = f"no field of this name is known here: mend its spelling, or take it out (known: {known})"
        return Finding(
            field=shorten(_join(field, named[1])), value=_show(_entries(raw).get(named[1])), mend=mend
        )
    return Finding(field=shorten(field), value=_show(raw), mend=f"write {_describe(kind, field)}")


def _no_json(said: str, data: bytes) -> Finding:
    """The finding for a text that is no JSON; its field is the place, counted in lines and columns from 1."""
    byte = re.search(r"\(byte (\d+)\)", said)
    at = min(int(byte[1]), len(data)) if byte else len(data)
    before = data[:at].decode("utf-8", "replace")
    place = f"line {before.count(chr(10)) + 1}, column {len(before) - before.rfind(chr(10))}"
    if not data.strip():
        return Finding(field=place, value="an empty file", mend="write one JSON document")
    if byte is None and "truncated" in said:
        mend = "the file is cut off: close what is open, or fetch the whole file again"
        return Finding(field=place, value="the end of the file", mend=mend)
    if byte is None:
        return Finding(field="", value=shorten(said), mend="save the file as UTF-8")
    why = said.removeprefix("JSON is malformed: ").partition(" (byte")[0]
    found = shorten(data[at : at + 20].decode("utf-8", "replace").split("\n")[0]) or "the end of the line"
    return Finding(field=place, value=found, mend=f"this is not JSON ({why}): mend it there or just before")


# --- walking a document and its type side by side -------------------------------------


def _follow(raw: object, kind: inspect.Type, path: str) -> tuple[object, inspect.Type, str]:
    """What stands at msgspec's ``path``, its type, and the path as a reader writes it (no leading point).

    msgspec writes ``[...]`` for "some entry of a map": the first that does not fit is taken.
    """
    field = ""
    for name, index, _some in _STEP.findall(path):
        kind = _pick(kind, raw)
        if name:
            kind = _member(kind, raw, name)
            raw = _entries(raw).get(name)
            field = _join(field, name)
        elif index:
            kind = _item(kind)
            raw = cast("list[object]", raw)[int(index)]
            field += f"[{index}]"
        else:
            kind = kind.value_type if isinstance(kind, inspect.DictType) else inspect.AnyType()
            key, raw = _first_misfit(raw, kind)
            field = _join(field, key)
    return raw, kind, field


def _entries(raw: object) -> dict[str, object]:
    return cast("dict[str, object]", raw) if isinstance(raw, dict) else {}


def _first_misfit(raw: object, kind: inspect.Type) -> tuple[str, object]:
    """The first entry of a map that is no whole number in its range (all maps of a document hold these)."""
    low, high = (kind.ge, kind.le) if isinstance(kind, inspect.IntType) else (None, None)
    for key, value in _entries(raw).items():
        if not isinstance(value, int) or isinstance(value, bool):
            return key, value
        if (low is not None and value < low) or (high is not None and value > high):
            return key, value
    return "...", raw


def _item(kind: inspect.Type) -> inspect.Type:
    return kind.item_type if isinstance(kind, inspect.ListType | inspect.VarTupleType) else inspect.AnyType()


def _pick(kind: inspect.Type, raw: object) -> inspect.Type:
    """Of a union, the one that ``raw`` means to be: by its tag, else the first that is no null."""
    if not isinstance(kind, inspect.UnionType):
        return kind
    options = [option for option in kind.types if not isinstance(option, inspect.NoneType)]
    for option in options:
        if isinstance(option, inspect.StructType) and _entries(raw).get(option.tag_field or "") == option.tag:
            return option
    return options[0] if len(options) == 1 else kind


def _member(kind: inspect.Type, raw: object, name: str) -> inspect.Type:
    """The type of the field ``name`` of a struct; of a union's tag, the set of its kinds."""
    kind = _pick(kind, raw)
    if isinstance(kind, inspect.StructType):
        for member in kind.fields:
            if member.encode_name == name:
                return member.type
    tags = _tags(kind)
    return inspect.LiteralType(tags) if tags else inspect.AnyType()


def _members(kind: inspect.Type, raw: object) -> list[str]:
    kind = _pick(kind, raw)
    return [member.encode_name for member in kind.fields] if isinstance(kind, inspect.StructType) else []


def _tags(kind: inspect.Type) -> tuple[str, ...]:
    structs = kind.types if isinstance(kind, inspect.UnionType) else (kind,)
    return tuple(
        str(struct.tag) for struct in structs if isinstance(struct, inspect.StructType) and struct.tag
    )


# --- words ------------------------------------------------------------------------------


def _describe(kind: inspect.Type, field: str) -> str:
    """What to write in ``field``, in words: ``a whole number from 0 to 10000``, ``one of: sale, regular``."""
    match kind:
        case inspect.UnionType():
            if tags := _tags(kind):
                return f"an object {{...}} whose kind is one of: {', '.join(tags)}"
            return " or ".join(_describe(option, field) for option in kind.types)
        case inspect.NoneType():
            return "null"
        case inspect.BoolType():
            return "true or false, without quotes"
        case inspect.IntType():
            low, high = kind.ge, kind.le
            ends = (
                f" from {low} to {high}"
                if high is not None
                else f", {low} or more"
                if low is not None
                else ""
            )
            number = "whole cents" if field.endswith("cents") or "_cents." in field else "a whole number"
            return f"{number}{ends}, without quotes"
        case inspect.LiteralType():
            return f"one of: {', '.join(str(value) for value in kind.values)}"
        case inspect.StrType():
            shape = _PATTERNS.get(kind.pattern or "", "a text in quotes")
            return shape + (f" (at most {kind.max_length} characters)" if kind.max_length else "")
        case inspect.ListType() | inspect.VarTupleType():
            low, high = kind.min_length or 0, kind.max_length
            least = f" of {low} or more" if low else ""
            return f"a list [...]{least}" + (f", at most {high} entries" if high else "")
        case inspect.DictType() | inspect.StructType():
            return "an object {...}"
        case _:
            return "something else"


def _join(field: str, name: str) -> str:
    return f"{field}.{name}" if field else name


def _show(raw: object) -> str:
    """The value as it stands in the file, shortened; a whole object or list only by its kind."""
    match raw:
        case dict():
            return "an object {...}"
        case list():
            return f"a list of {len(cast('list[object]', raw))}"
        case _:
            return shorten(msgspec.json.encode(raw).decode())
