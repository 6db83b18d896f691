"""Reading a form of the Desk: each field as its type, every mistake by its field, and what was typed kept.

A form is read whole: a field that does not fit is noted and reading goes on, so that a person sees all
mistakes at once. ``finish`` raises them. The template gets ``typed`` back, and so loses nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import TypeVar

from litestar.datastructures import FormMultiDict, UploadFile

from ..engine.money import NotMoney, parse
from ..intake.bad_input import BadInput, Finding, shorten

MOST_CENTS = 10_000_000  # as ``engine/offers.py`` has it
V = TypeVar("V", bound=str)


class Typed(Mapping[str, str]):
    """What was typed, field by field, for the form to show again; a field that was not sent is ""."""

    def __init__(self, values: Mapping[str, Sequence[str]]) -> None:
        self._values = values

    def __getitem__(self, name: str) -> str:
        values = self._values.get(name, ())
        return values[0] if values else ""

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def all(self, name: str) -> Sequence[str]:
        """Every value of a field that may be sent several times (check boxes)."""
        return self._values.get(name, ())


class Fields:
    """The fields of a form that was sent. ``currency`` and ``exponent``: of the household."""

    def __init__(self, form: FormMultiDict, *, currency: str = "USD", exponent: int = 2) -> None:
        self._values: dict[str, list[str]] = {}
        for name, value in form.multi_items():
            if not isinstance(value, UploadFile):
                self._values.setdefault(name, []).append(str(value))
        self._currency = currency
        self._exponent = exponent
        self.findings: list[Finding] = []

    @classmethod
    def of(cls, values: Mapping[str, Sequence[str]], *, currency: str = "USD", exponent: int = 2) -> Fields:
        """The fields of a form that nobody has sent yet: a blank one, or one filled from a record."""
        return cls(
            FormMultiDict((name, value) for name, several in values.items() for value in several),
            currency=currency,
            exponent=exponent,
        )

    @property
    def typed(self) -> Typed:
        """What was typed."""
        return Typed(self._values)

    def wrong(self, field: str, mend: str, value: object = None) -> None:
        """Notes a finding; the value is what was typed unless another is given."""
        found = self.text(field) if value is None else value
        self.findings.append(Finding(field=field, value=shorten(found), mend=mend))

    def finish(self) -> None:
        """Raises ``BadInput`` with every finding, if there is any."""
        if self.findings:
            raise BadInput(*self.findings)

    def text(self, name: str, *, needed: str = "", longest: int = 400) -> str:
        """A text without spaces around it. ``needed``: the mend where it must not be empty."""
        text = self.typed[name].strip()
        if needed and not text:
            self.findings.append(Finding(field=name, value="nothing", mend=needed))
        if len(text) > longest:
            self.findings.append(
                Finding(field=name, value=shorten(text), mend=f"at most {longest} characters")
            )
            return text[:longest]
        return text

    def lines(self, name: str) -> tuple[str, ...]:
        """Every value of a field that comes several times, without the empty ones."""
        return tuple(text for value in self.typed.all(name) if (text := value.strip()))

    def flag(self, name: str) -> bool:
        """Whether a box is ticked."""
        return bool(self.text(name))

    def choice(self, name: str, options: Sequence[V], default: V | None = None) -> V:
        """One of the options; where nothing was sent, the default or the first."""
        text = self.text(name)
        if not text:
            return options[0] if default is None else default
        for option in options:
            if option == text:
                return option
        self.wrong(name, f"one of: {', '.join(options)}")
        return options[0]

    def cents(self, name: str, *, needed: str = "", least: int = 0) -> int | None:
        """An amount of money in minor units; None where nothing was typed."""
        text = self.text(name, needed=needed)
        if not text:
            return None
        try:
            cents = parse(text, self._currency, self._exponent)
        except NotMoney as wrong:
            self.wrong(name, wrong.mend)
            return None
        if cents < least or cents > MOST_CENTS:
            self.wrong(name, "more than nothing" if cents < least else "a smaller amount: that is no price")
            return None
        return cents

    def whole(self, name: str, *, needed: str = "", low: int = 0, high: int = 10_000) -> int | None:
        """A whole number; None where nothing was typed."""
        text = self.text(name, needed=needed)
        if not text:
            return None
        if not (text.isascii() and text.isdigit() and len(text) < 12 and low <= int(text) <= high):
            self.wrong(name, f"a whole number from {low} to {high}")
            return None
        return int(text)

    def percent(self, name: str, *, needed: str = "", places: int = 2, most: int = 100) -> int | None:
        """A percentage in units of 10^-``places`` percent (2: basis points); None where nothing was typed."""
        text = self.text(name, needed=needed).removesuffix("%").strip()
        if not text:
            return None
        before, _, after = text.partition(".")
        digits = f"{before}{after.ljust(places, '0')}"
        if not (text.isascii() and digits.isdigit() and len(digits) < 12 and len(after) <= places):
            self.wrong(name, f"a percentage with at most {places} digits after the point, like 20")
            return None
        if int(digits) > most * 10**places:
            self.wrong(name, f"at most {most} %")
            return None
        return int(digits)

    def decimal(self, name: str, *, needed: str = "") -> str | None:
        """A decimal number as the engine has it (a text, read exactly); None where nothing was typed."""
        text = self.text(name, needed=needed)
        if not text:
            return None
        before, _, after = text.partition(".")
        whole = before or "0"
        digits = (whole + after).isdigit() and text.isascii()
        if not (digits and len(whole) <= 9 and len(after) <= 6 and not text.endswith(".")):
            self.wrong(name, "a number like 12 or 2.5, with at most six digits after the point")
            return None
        return f"{whole}.{after}" if after else whole

    def day(self, name: str, *, needed: str = "") -> str | None:
        """An ISO 8601 day; None where nothing was typed."""
        text = self.text(name, needed=needed)
        if not text:
            return None
        try:
            return date.fromisoformat(text).isoformat()
        except ValueError:
            self.wrong(name, "no such day in the calendar: write year-month-day, like 2026-12-05")
            return None

    def known(self, name: str, ids: Iterable[str], *, what: str, needed: str = "") -> str | None:
        """The id of something that is there; None where nothing was chosen."""
        text = self.text(name, needed=needed)
        if text and text not in set(ids):
            self.wrong(name, f"there is no such {what}: choose one of the list")
            return None
        return text or None
