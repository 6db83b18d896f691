"""Bad input, as one typed error: which field, what stood there, what to do.

A refusal at the register is an answer and never comes here; a fault of ours is any other
exception. Command line, page and API show the same findings, each in its own shape.
"""

from __future__ import annotations

import msgspec

LONGEST_VALUE = 200  # characters of an offending value that are worth showing


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that is wrong: the path of the ``field`` ("" for the whole), what stood there, the mend."""

    field: str
    value: str
    mend: str


class BadInput(Exception):
    """What came in cannot be used; ``findings`` (at least one) say why. ``file``: its name, if it had one."""

    def __init__(self, *findings: Finding, file: str = "") -> None:
        super().__init__("; ".join(f"{finding.field}: {finding.mend}" for finding in findings))
        self.findings = findings
        self.file = file

    @property
    def lines(self) -> tuple[str, ...]:
        """One line for each finding: ``FILE: FIELD: found VALUE; mend: WHAT TO DO``."""
        return tuple(
            ": ".join(part for part in (self.file, finding.field, f"found {finding.value}") if part)
            + f"; mend: {finding.mend}"
            for finding in self.findings
        )


def plain(text: str) -> str:
    """``text`` on one line, with nothing in it that could steer the terminal that shows it."""
    return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text)


def shorten(value: object) -> str:
    """``value`` as plain text of at most 200 characters, safe to print and to encode."""
    text = plain(value if isinstance(value, str) else repr(value))
    return text if len(text) <= LONGEST_VALUE else text[: LONGEST_VALUE - 1] + "…"
