"""Tables on a terminal: plain text in columns, money to the right.

columns([("Oats", "$1.99"), ("Soap", "$12.00")], right={1})
->  Oats   $1.99
    Soap  $12.00
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from ..intake.bad_input import shorten

WIDEST = 34  # characters of one cell; a longer name is cut, so that a row stays a row


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
    """``text`` on one line, without anything that could steer the terminal, cut to ``WIDEST``."""
    line = shorten(text)
    return line if len(line) <= WIDEST else line[: WIDEST - 1] + "…"
