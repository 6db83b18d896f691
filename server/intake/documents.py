"""Trips and transactions from a file or from bytes, decoded and checked, or ``BadInput``.

A document is taken whole or not at all: what is returned has passed its types (``engine/offers.py``,
``engine/papers.py``) and ``engine/check.py``, so that the engine may reckon with it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol, TypeVar

import msgspec

from ..engine.check import check_transaction, check_trip
from ..engine.offers import Trip
from ..engine.papers import Transaction
from .bad_input import BadInput, Finding, shorten
from .decoding import finding_of

# Bytes. A trip with 20,000 tags is about 3 million; anything far beyond is not a trip.
LARGEST_DOCUMENT = 32_000_000
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"  # some editors put it in front; JSON has no place for it


Document = TypeVar("Document", Trip, Transaction)


class _Problem(Protocol):
    @property
    def field(self) -> str: ...
    @property
    def value(self) -> str: ...
    @property
    def mend(self) -> str: ...


def read_trip(source: Path | bytes) -> Trip:
    """A checked trip from a file or from the bytes of one. Raises ``BadInput`` with every finding."""
    return _read(source, Trip, check_trip)


def read_transaction(source: Path | bytes) -> Transaction:
    """A checked transaction from a file or from the bytes of one. Raises ``BadInput`` with every finding."""
    return _read(source, Transaction, check_transaction)


def _read(
    source: Path | bytes, wanted: type[Document], check: Callable[[Document], Sequence[_Problem]]
) -> Document:
    file = str(source) if isinstance(source, Path) else ""
    data = (_bytes_of(source) if isinstance(source, Path) else source).removeprefix(_BYTE_ORDER_MARK)
    try:
        document = msgspec.json.decode(data, type=wanted)
    except (msgspec.DecodeError, RecursionError) as error:
        raise BadInput(finding_of(error, data, wanted), file=file) from None
    if problems := check(document):
        findings = (
            Finding(field=problem.field, value=shorten(problem.value), mend=problem.mend)
            for problem in problems
        )
        raise BadInput(*findings, file=file)
    return document


def _bytes_of(path: Path) -> bytes:
    """The whole file. Raises ``BadInput`` when there is none, it cannot be read, or it is absurdly large."""
    try:
        if path.stat().st_size > LARGEST_DOCUMENT:
            found = f"{path.stat().st_size} bytes"
            mend = f"a document has at most {LARGEST_DOCUMENT}: name the right file"
            raise BadInput(Finding(field="", value=found, mend=mend), file=str(path))
        return path.read_bytes()
    except OSError as error:
        found = (error.strerror or type(error).__name__).lower()
        mend = "name a file that is there and may be read"
        raise BadInput(Finding(field="", value=found, mend=mend), file=str(path)) from None
