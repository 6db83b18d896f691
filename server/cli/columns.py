"""Tables on a terminal: plain text in columns, money to the right.

columns([("Oats", "$1.99"), ("Soap", "$12.00")], right={1})
->  Oats   $1.99
    Soap  $12.00
"""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Sequence

from ..intake.bad_input import plain

WIDEST = 34  # characters of one cell; a longer name is cut, so that a row stays a row
LINE = 96  # characters of a line of words
AMOUNT_LINE = 78  # characters of a line that ends with an amount
AMOUNT = 14  # of them kept free for it


def columns(
    rows: Sequence[Sequence[str]],
    *,
    right: Collection[int] = (),
    heading: Sequence[str] = (),
    indent: str = "",
) -> str:
    """``rows`` below an optional ``heading`` with a rule; ``right``: indexes of right-aligned columns."""
    table = [[cell(text) for text in row] for row in ([heading] if heading else []) + list(rows)]
    if not table:
        return ""
    widths = [max(len(text) for text in column) for column in zip(*table, strict=True)]
    if heading:
        table.insert(1, ["-" * width for width in widths])
    return "\n".join(
        indent
        + "  ".join(
            text.rjust(width) if place in right else text.ljust(width)
            for place, (text, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in table
    )


def cell(text: str) -> str:
    """``text`` on one line, cut to ``WIDEST``."""
    line = plain(text)
    return line if len(line) <= WIDEST else line[: WIDEST - 1] + "…"


def words(text: str, *, indent: str = "") -> str:
    """A sentence, whole, broken at words; what continues stands two further to the right."""
    return "\n".join(_wrap(text, LINE, indent))


def amount(what: str, money: str, *, indent: str = "") -> str:
    """``what`` on the left, the money at its end on the right."""
    *above, last = _wrap(what, AMOUNT_LINE - AMOUNT, indent)
    return "\n".join([*above, last + money.rjust(AMOUNT_LINE - len(last))])


def _wrap(text: str, width: int, indent: str) -> list[str]:
    lines = textwrap.wrap(plain(text), width, initial_indent=indent, subsequent_indent=indent + "  ")
    return lines or [indent]
