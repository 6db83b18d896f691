"""One value as a cell's text and back: each reader takes what a person writes and says how to mend the rest.

2.50      money, in the household's currency       20%         a percentage
yes       a yes or no                              2026-12-05  a day (ISO 8601)
a; b      a list of ids                            none        no limit, where that is not the default
north 0.75; south 1.00                             a value for each region or tax class
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, NamedTuple, cast

import msgspec

from ...engine.money import NotMoney, parse

MOST_CENTS = 10_000_000  # as ``engine/offers.py`` has it
NONE_WORDS = ("none", "no limit", "unlimited")
IDS = "ids, with semicolons between them"
_YES = ("yes", "y", "true", "1", "x")
_NO = ("no", "n", "false", "0")
_BETWEEN_IDS = re.compile(r"[;,|\s]+")
_BARE_KEY = re.compile(r"[^\s;:\"0-9](?:[^;:\"]*[^\s;:\"0-9])?")
_ENTRY = re.compile(r'\s*(?:("(?:[^"\\]|\\.)*")|([^;:"]*?))\s*[:\s]\s*([^\s;:"]+)\s*(?:;|$)')
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")


class Currency(NamedTuple):
    """The household's: its letters (ISO 4217) and how many digits stand after the point."""

    code: str = "USD"
    exponent: int = 2


class NotRead(ValueError):
    """A cell that cannot be what its column holds; the message is the mend."""

    def __init__(self, mend: str) -> None:
        super().__init__(mend)
        self.mend = mend


class Cell(msgspec.Struct, frozen=True):
    """How the values of a column are read from text (not empty) and written as text."""

    read: Callable[[str, Currency], object]
    write: Callable[[Any, Currency], str]
    says: str  # what is written in it, for a heading's explanation
    example: str = ""


def whole(low: int | None, high: int | None) -> Cell:
    """A whole number within its bounds."""

    def read(text: str, currency: Currency) -> object:
        bare = text.removesuffix(".0")  # a spreadsheet's way to write a whole number
        if not (bare.isascii() and bare.isdigit() and len(bare) < 12):
            raise NotRead(_bounds("a whole number", low, high))
        if (low is not None and int(bare) < low) or (high is not None and int(bare) > high):
            raise NotRead(_bounds("a whole number", low, high))
        return int(bare)

    return Cell(read, lambda value, _: str(value), _bounds("a whole number", low, high))


def money(low: int | None) -> Cell:
    """An amount in minor units, written with its point."""

    def read(text: str, currency: Currency) -> object:
        try:
            cents = parse(text, *currency)
        except NotMoney as wrong:
            comma = " (a point, not a comma)" if "," in text else ""
            raise NotRead(f"{wrong.mend}{comma}") from None
        if cents < (low or 0):
            raise NotRead("more than nothing")
        if cents > MOST_CENTS:
            raise NotRead("a smaller amount: that is no price")
        return cents

    return Cell(read, lambda value, currency: _pointed(str(value), currency.exponent), "an amount", "2.50")


def money_decimal() -> Cell:
    """A decimal text in minor units (a stock-up price), written in whole ones: "2.5" cents as 0.025."""

    def read(text: str, currency: Currency) -> object:
        if text.endswith("cents"):
            return _decimal(text.removesuffix("cents").strip())
        symbol_off = re.sub(r"^[^0-9.]{1,4}", "", text)
        before, _, after = _decimal(symbol_off).partition(".")
        moved = after.ljust(currency.exponent, "0")
        left = (before + moved[: currency.exponent]).lstrip("0") or "0"
        rest = moved[currency.exponent :]
        return _decimal(f"{left}.{rest}" if rest else left)

    def write(value: str, currency: Currency) -> str:
        before, _, after = value.partition(".")
        shown = _pointed(before, currency.exponent) + after
        return shown if _again(shown, value, currency) else f"{value} cents"

    def _again(shown: str, value: str, currency: Currency) -> bool:
        try:
            return read(shown, currency) == value
        except NotRead:
            return False

    return Cell(read, write, "an amount, parts of a cent too", "0.25")


def percent(places: int, low: int, high: int) -> Cell:
    """A percentage, kept in units of 10^-``places`` percent."""

    def read(text: str, currency: Currency) -> object:
        bare = text.removesuffix("%").strip()
        before, _, after = bare.partition(".")
        digits = f"{before or '0'}{after.ljust(places, '0')}"
        if not (bare and bare.isascii() and digits.isdigit() and len(digits) < 12 and len(after) <= places):
            raise NotRead(f"a percentage with at most {places} digits after the point, like 20%")
        if not text.endswith("%") and 0 < float(bare) < 1:
            raise NotRead(f"{bare}% or {float(bare):.0%}? Write it with its percent sign")
        if not low <= int(digits) <= high:
            raise NotRead(f"from {_percent(low, places)} to {_percent(high, places)}")
        return int(digits)

    return Cell(read, lambda value, _: _percent(value, places), "a percentage", "20%")


def yes_or_no() -> Cell:
    """A truth."""

    def read(text: str, currency: Currency) -> object:
        word = text.lower()
        if word not in (*_YES, *_NO):
            raise NotRead("yes or no")
        return word in _YES

    return Cell(read, lambda value, _: "yes" if value else "no", "yes or no", "yes")


def one_of(values: tuple[str, ...]) -> Cell:
    """One of a few words; written with spaces, read with spaces, hyphens or underscores."""

    def read(text: str, currency: Currency) -> object:
        word = re.sub(r"[\s_-]+", "_", text.lower())
        if word not in values:
            raise NotRead(f"one of: {', '.join(_spaced(value) for value in values)}")
        return word

    says = " / ".join(_spaced(value) for value in values)
    return Cell(read, lambda value, _: _spaced(value), says, _spaced(values[0]))


def day() -> Cell:
    """An ISO 8601 day."""

    def read(text: str, currency: Currency) -> object:
        try:
            read = date.fromisoformat(text)
        except ValueError:
            read = None
        if read is None or read.isoformat() != text:
            raise NotRead("a day as year-month-day, like 2026-12-05")
        return text

    return Cell(read, lambda value, _: str(value), "a day as 2026-12-05", "2026-12-05")


def number() -> Cell:
    """A decimal text."""
    return Cell(lambda text, _: _decimal(text), lambda value, _: str(value), "a number like 12 or 2.5", "12")


def identifier() -> Cell:
    """An id."""
    return Cell(lambda text, _: _id(text), lambda value, _: str(value), "an id", "oat-bar-6")


def identifiers(low: int, high: int | None) -> Cell:
    """A list of ids."""

    def read(text: str, currency: Currency) -> object:
        ids = tuple(_id(part) for part in _BETWEEN_IDS.split(text) if part)
        if len(ids) < low or (high is not None and len(ids) > high):
            raise NotRead(_bounds("ids with semicolons between them", low, high))
        return ids

    says = IDS if low == 0 else f"at least {low} ids, with semicolons between them"
    return Cell(read, lambda value, _: "; ".join(value), says, "oats; oat-bar-6")


def barcode() -> Cell:
    """The digits under a bar code."""

    def read(text: str, currency: Currency) -> object:
        bare = re.sub(r"[\s-]", "", text)
        if not (bare.isascii() and bare.isdigit() and len(bare) in (8, 12, 13, 14)):
            mend = "the 8, 12, 13 or 14 digits under the bar code"
            lost = "; a spreadsheet drops zeros in front unless the column is text"
            raise NotRead(mend + lost)
        return bare

    return Cell(read, lambda value, _: str(value), "the digits under the bar code", "036000291452")


def words(longest: int | None) -> Cell:
    """Free text."""

    def read(text: str, currency: Currency) -> object:
        if longest is not None and len(text) > longest:
            raise NotRead(f"at most {longest} characters")
        return text

    return Cell(read, lambda value, _: str(value), "text", "")


def mapping(inner: Cell) -> Cell:
    """A value for each of several names: ``north 0.75; south 1.00``."""

    def read(text: str, currency: Currency) -> object:
        found: dict[str, object] = {}
        at = 0
        while at < len(text):
            entry = _ENTRY.match(text, at)
            if entry is None:
                raise NotRead(f"names and values, like “north {inner.example}; south {inner.example}”")
            key = cast("str", msgspec.json.decode(entry[1])) if entry[1] else entry[2]
            if key in found:
                raise NotRead(f"“{key}” once only")
            found[key] = inner.read(entry[3], currency)
            at = entry.end()
        return found

    def write(value: Mapping[str, object], currency: Currency) -> str:
        def named(key: str) -> str:
            return key if _BARE_KEY.fullmatch(key) else msgspec.json.encode(key).decode()

        return "; ".join(f"{named(key)} {inner.write(one, currency)}" for key, one in value.items())

    return Cell(read, write, f"names with {inner.says} each", f"north {inner.example}; south {inner.example}")


def _spaced(value: str) -> str:
    return value.replace("_", " ")


def _pointed(digits: str, exponent: int) -> str:
    padded = digits.rjust(exponent + 1, "0")
    return padded if exponent == 0 else f"{padded[:-exponent]}.{padded[-exponent:]}"


def _percent(value: int, places: int) -> str:
    shown = _pointed(str(value), places)
    return f"{shown.rstrip('0').rstrip('.')}%" if places else f"{shown}%"


def _decimal(text: str) -> str:
    before, point, after = text.partition(".")
    left = before or "0"
    sound = text.isascii() and (left + after).isdigit() and len(left) <= 9 and len(after) <= 6
    if not sound or (point and not after):
        raise NotRead("a number like 12 or 2.5, with at most six digits after the point")
    return f"{left}.{after}" if after else left


def _id(text: str) -> str:
    if not _ID.fullmatch(text):
        raise NotRead("letters, digits, points, hyphens and underscores, such as oat-bar-6")
    return text


def _bounds(what: str, low: int | None, high: int | None) -> str:
    if high is not None:
        return f"{what} from {low or 0} to {high}"
    return f"{what}, {low} or more" if low else what
