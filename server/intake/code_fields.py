"""The fields of a GS1 North American coupon code, one after the other, or the first that is wrong.

Syntax after the GS1 Syntax Dictionary's ``couponcode`` linter, which cites the *North American Coupon
Application Guideline Using GS1 DataBar Expanded Symbols*, R2.0 (Joint Industry Coupon Committee, 2015).
Fields follow each other without separators; one of variable length is preceded by a digit, the *variable
length indicator* (VLI). The data have no check digit of their own: the symbol carries it.
"""

from __future__ import annotations

from datetime import date

import msgspec


class CodeError(msgspec.Struct, frozen=True, kw_only=True):
    """Why digits are no code: which ``field``, its ``position`` in the data (from 1, after 8110), what
    stood there, and the ``mend``. An answer, not an exception: the next step is to read the symbol again."""

    field: str
    position: int
    value: str
    mend: str


class WrongField(Exception):
    """Ends the reading of a code within this package; ``read_coupon_code`` makes a value of it."""

    def __init__(self, error: CodeError) -> None:
        super().__init__(error.mend)
        self.error = error


READ_AGAIN = "read the symbol again, or type the digits under it anew"


class CodeDigits:
    """The data of a code and how far they are read. Every ``take`` raises ``WrongField`` when it cannot."""

    def __init__(self, digits: str) -> None:
        self.digits = digits
        self.at = 0  # how many digits are read

    @property
    def next_digit(self) -> str:
        """The digit that would be read next, "" at the end."""
        return self.digits[self.at : self.at + 1]

    def take(self, field: str, length: int) -> str:
        """The next ``length`` digits."""
        taken = self.digits[self.at : self.at + length]
        if len(taken) < length:
            missing = length - len(taken)
            raise self.wrong(
                field,
                taken,
                f"the code ends {missing} digit{'' if missing == 1 else 's'} early; {READ_AGAIN}",
            )
        self.at += length
        return taken

    def take_one_of(self, field: str, allowed: str) -> str:
        """The next digit, which must be one of ``allowed``."""
        digit = self.take(field, 1)
        if digit not in allowed:
            self.at -= 1
            raise self.wrong(field, digit, f"this digit is one of {', '.join(allowed)}; {READ_AGAIN}")
        return digit

    def take_variable(self, field: str, allowed: str, beyond: int) -> str:
        """A VLI out of ``allowed``, then as many digits as it says and ``beyond`` more."""
        length = int(self.take_one_of(f"length of {field}", allowed)) + beyond
        return self.take(field, length)

    def take_date(self, field: str) -> str:
        """A calendar date YYMMDD as an ISO 8601 date.

        The year is one of 2000 to 2099: the code is younger than that century (own reasoning; the general
        rule of GS1 looks at today's date, which would let an old code change its meaning)."""
        six = self.take(field, 6)
        try:
            return date(2000 + int(six[:2]), int(six[2:4]), int(six[4:])).isoformat()
        except ValueError:
            self.at -= 6
            raise self.wrong(
                field, six, f"a date is year, month, day, and must exist; {READ_AGAIN}"
            ) from None

    def wrong(self, field: str, value: str, mend: str) -> WrongField:
        """The error that names ``field`` at the place where reading stands."""
        return WrongField(CodeError(field=field, position=self.at + 1, value=value, mend=mend))


def data_of(text: str, identifier: str, least: int, most: int) -> CodeDigits:
    """The digits after the application identifier, however the element string was written.

    Taken off, each if there: the symbology identifier (``]e0``, ``]C1``, ``]d2``, ``]Q3``), FNC1 (as the
    group separator, ASCII 29) at either end, the identifier bare or in brackets, spaces. That is never
    ambiguous: data after 8110 begin with 0 to 6, after 8112 with 0 or 1. Raises ``WrongField``.
    """
    bare = "".join(text.split(" ")).strip("\t\r\n\x1d")
    for mark in ("]e0", "]C1", "]d2", "]Q3"):
        bare = bare.removeprefix(mark)
    bare = bare.removeprefix("\x1d")
    for written in (f"({identifier})", f"[{identifier}]", identifier):
        if bare.startswith(written):
            bare = bare[len(written) :]
            break
    for place, letter in enumerate(bare):
        if letter not in "0123456789":
            mend = f"a coupon code has digits only; {READ_AGAIN}"
            raise WrongField(CodeError(field="digits", position=place + 1, value=letter, mend=mend))
    if len(bare) > most:
        mend = f"after {identifier} come {least} to {most} digits, here are {len(bare)}; {READ_AGAIN}"
        raise WrongField(
            CodeError(field="digits", position=most + 1, value=bare[most : most + 20], mend=mend)
        )
    if not bare:
        mend = f"type the digits of the coupon: after {identifier} come {least} to {most}"
        raise WrongField(CodeError(field="digits", position=1, value="", mend=mend))
    return CodeDigits(bare)
