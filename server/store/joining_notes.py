"""Lines of an export that stand by themselves: notes, photos, texts that phones shared, published pages."""

from __future__ import annotations

import sqlite3

import msgspec

from .household_lines import (
    SHARED_COLUMNS,
    HouseholdLine,
    NoteLine,
    PhotoErasedLine,
    PhotoLine,
    PublishedLine,
    SharedTextLine,
)
from .shared_texts import SharedText

_MARKS = ", ".join("?" * len(SharedText.__struct_fields__))


class NotesJoining:
    """Takes what is new beside what is here. ``notes``: how many of notes, photos and texts; ``pages``: how
    many that were published."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        # A site of which anything is here stays as it is.
        self._sites = {site for (site,) in connection.execute("SELECT DISTINCT site FROM published")}
        self.notes = 0
        self.pages = 0

    def take(self, line: HouseholdLine) -> bool:
        """Writes the line if it is of this kind; whether it is."""
        match line:
            case SharedTextLine():
                self.notes += self._write(
                    f"INSERT OR IGNORE INTO shared_texts ({SHARED_COLUMNS}) VALUES ({_MARKS})",
                    *msgspec.structs.astuple(line.text),
                )
            case NoteLine():
                self.notes += self._write(
                    "INSERT OR IGNORE INTO notes (id, day, kind, document, device, written_at)"
                    " VALUES (?, ?, ?, ?, ?, ?)",
                    *(line.id, line.day, line.kind, bytes(line.document), line.device, line.written_at),
                )
            case PhotoLine():
                # One that was erased here does not come back with an older export.
                self.notes += self._write(
                    "INSERT OR IGNORE INTO receipt_photos (id, jpeg, width, height, kept_at)"
                    " SELECT ?1, ?2, ?3, ?4, ?5 WHERE NOT EXISTS (SELECT 1 FROM photos_erased WHERE id = ?1)",
                    *(line.id, line.jpeg, line.width, line.height, line.kept_at),
                )
            case PhotoErasedLine():
                # What is kept here stays: only whoever has a picture erases it.
                self._write(
                    "INSERT OR IGNORE INTO photos_erased (id, erased_at, device)"
                    " SELECT ?1, ?2, ?3 WHERE NOT EXISTS (SELECT 1 FROM receipt_photos WHERE id = ?1)",
                    *(line.id, line.erased_at, line.device),
                )
            case PublishedLine():
                if line.site not in self._sites:
                    written = self._write(
                        "INSERT OR IGNORE INTO published (site, slug, document, kept_at) VALUES (?, ?, ?, ?)",
                        *(line.site, line.slug, bytes(line.document), line.kept_at),
                    )
                    self.pages += written if line.slug else 0
            case _:
                return False
        return True

    def _write(self, statement: str, *values: object) -> int:
        """How many rows it wrote."""
        return self._connection.execute(statement, values).rowcount
