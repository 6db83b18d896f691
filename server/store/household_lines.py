"""The household outside of trips, line by line: every batch and version, prices and stock of its own, notes.

``read_lines`` gives one moment of the store; ``joining.py`` writes such lines into a store. What is reckoned
from trips and notes is left out: it is reckoned again.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

import msgspec

from . import imported
from .shared_texts import SharedText


class Line(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="line"):
    """One line; ``line`` says which kind it is."""


class FormatLine(Line, frozen=True, kw_only=True, tag="format"):
    """The first line."""

    format: str


class BatchLine(Line, frozen=True, kw_only=True, tag="batch"):
    """A change that belongs together."""

    number: int
    at: str
    device: str
    words: str
    takes_back: int | None = None


class VersionLine(Line, frozen=True, kw_only=True, tag="version"):
    """A version of a record; ``document`` null: removed."""

    kind: str
    id: str
    revision: int
    batch: int
    title: str
    words: str
    starts: str
    ends: str
    document: msgspec.Raw


class PriceLine(Line, frozen=True, kw_only=True, tag="price"):
    """A price that was typed (``source`` "typed") or came with a batch ("import-7")."""

    source: str
    product: str
    store: str
    day: str
    cents: int
    each_cents: int
    how: str


class StockLine(Line, frozen=True, kw_only=True, tag="stock"):
    """A move or count of such a source."""

    source: str
    product: str
    day: str
    units: int
    how: str


class SetAsideLine(Line, frozen=True, kw_only=True, tag="set_aside"):
    """Prices and counts that a batch took back."""

    batch: int
    document: msgspec.Raw


class SharedTextLine(Line, frozen=True, kw_only=True, tag="shared_text"):
    """A text that a phone was handed."""

    text: SharedText


class NoteLine(Line, frozen=True, kw_only=True, tag="note"):
    """What the household wrote down itself."""

    id: str
    day: str
    kind: str
    document: msgspec.Raw
    device: str
    written_at: str


class PhotoLine(Line, frozen=True, kw_only=True, tag="receipt_photo"):
    """A photo of a receipt; the picture in base64."""

    id: str
    jpeg: bytes
    width: int
    height: int
    kept_at: str


class PhotoErasedLine(Line, frozen=True, kw_only=True, tag="photo_erased"):
    """A photo that was here and was erased."""

    id: str
    erased_at: str
    device: str


class PublishedLine(Line, frozen=True, kw_only=True, tag="published"):
    """What a published page is made of; ``slug`` "": the list of the site's trips."""

    site: str
    slug: str
    document: msgspec.Raw
    kept_at: str


HouseholdLine = (
    FormatLine
    | BatchLine
    | VersionLine
    | PriceLine
    | StockLine
    | SetAsideLine
    | SharedTextLine
    | NoteLine
    | PhotoLine
    | PhotoErasedLine
    | PublishedLine
)

SHARED_COLUMNS = ", ".join(SharedText.__struct_fields__)


def read_lines(connection: sqlite3.Connection) -> Iterator[HouseholdLine]:
    """Every line after the first, batches before what came with them."""
    yield from _small_lines(connection)
    yield from price_lines(connection)
    yield from stock_lines(connection)


def _small_lines(connection: sqlite3.Connection) -> Iterator[HouseholdLine]:
    for row in connection.execute(
        "SELECT number, at, device, words, takes_back FROM batches ORDER BY number"
    ):
        yield BatchLine(number=row[0], at=row[1], device=row[2], words=row[3], takes_back=row[4])
    for row in connection.execute(
        "SELECT kind, id, revision, batch, title, words, starts, ends, document FROM record_versions"
        " ORDER BY batch, kind, id"
    ):
        *about, document = row
        fields = dict(zip(VersionLine.__struct_fields__, about, strict=False))
        yield VersionLine(**fields, document=msgspec.Raw(document or b"null"))
    for batch, document in connection.execute("SELECT batch, document FROM facts_set_aside ORDER BY batch"):
        yield SetAsideLine(batch=batch, document=msgspec.Raw(document))
    for row in connection.execute(f"SELECT {SHARED_COLUMNS} FROM shared_texts ORDER BY received, id"):
        yield SharedTextLine(text=SharedText(**dict(zip(SharedText.__struct_fields__, row, strict=True))))
    for row in connection.execute(
        "SELECT id, day, kind, document, device, written_at FROM notes ORDER BY sequence"
    ):
        yield NoteLine(
            id=row[0], day=row[1], kind=row[2], document=msgspec.Raw(row[3]), device=row[4], written_at=row[5]
        )
    for row in connection.execute("SELECT id, erased_at, device FROM photos_erased ORDER BY id"):
        yield PhotoErasedLine(**dict(zip(PhotoErasedLine.__struct_fields__, row, strict=True)))
    for row in connection.execute("SELECT id, jpeg, width, height, kept_at FROM receipt_photos ORDER BY id"):
        yield PhotoLine(**dict(zip(PhotoLine.__struct_fields__, row, strict=True)))
    for site, slug, document, kept_at in connection.execute(
        "SELECT site, slug, document, kept_at FROM published ORDER BY site, slug"
    ):
        yield PublishedLine(site=site, slug=slug, document=msgspec.Raw(document), kept_at=kept_at)


def price_lines(connection: sqlite3.Connection) -> Iterator[PriceLine]:
    for row in connection.execute(
        "SELECT source, product, store, day, cents, each_cents, how FROM prices_seen"
        f" WHERE {imported.OWN} ORDER BY source, product, store, day, how"
    ):
        yield PriceLine(**dict(zip(PriceLine.__struct_fields__, row, strict=True)))


def stock_lines(connection: sqlite3.Connection) -> Iterator[StockLine]:
    for row in connection.execute(
        "SELECT source, product, day, units, how FROM stock_moves"
        f" WHERE {imported.OWN} ORDER BY source, place"
    ):
        yield StockLine(**dict(zip(StockLine.__struct_fields__, row, strict=True)))
