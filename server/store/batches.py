"""A batch inside its transaction: what it expects, what it writes, what would undo it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

import msgspec

COLUMNS = "kind, id, revision, title, words, starts, ends, document"


class RecordChange(msgspec.Struct, frozen=True, kw_only=True):
    """What one record becomes; ``document`` None removes it.

    ``revision``: the one that the change was made to (0: there is none yet); None: whichever is there.
    """

    kind: str
    id: str
    title: str = ""
    words: str = ""
    starts: str = ""
    ends: str = ""
    document: bytes | None = None
    revision: int | None = None


class RecordChanged(Exception):
    """A record is not as the change expects it: somebody changed it meanwhile, or removed it."""

    def __init__(self, kind: str, id: str, kept_revision: int) -> None:
        super().__init__(f"{kind} {id} is kept in revision {kept_revision}")
        self.kind = kind
        self.id = id
        self.kept_revision = kept_revision


def differs(connection: sqlite3.Connection, change: RecordChange) -> bool:
    """Whether the change would change anything; raises ``RecordChanged`` if it expects something else."""
    expect(connection, change)
    kept = list(
        connection.execute("SELECT document FROM records WHERE kind = ? AND id = ?", (change.kind, change.id))
    )
    return (kept[0][0] if kept else None) != change.document


def expect(connection: sqlite3.Connection, change: RecordChange) -> None:
    """Raises ``RecordChanged`` if the record is in another revision than the change was made to."""
    if change.revision is None:
        return
    kept = list(
        connection.execute("SELECT revision FROM records WHERE kind = ? AND id = ?", (change.kind, change.id))
    )
    revision = kept[0][0] if kept else 0
    if revision != change.revision:
        raise RecordChanged(change.kind, change.id, revision)


def write_batch(
    connection: sqlite3.Connection,
    changes: Iterable[RecordChange],
    at: str,
    device: str,
    words: str,
    takes_back: int | None = None,
) -> int:
    """Writes versions as a new batch, inside the caller's transaction; its number."""
    number = connection.execute(
        "INSERT INTO batches (at, device, words, takes_back) VALUES (?, ?, ?, ?) RETURNING number",
        (at, device, words, takes_back),
    ).fetchone()[0]
    for change in changes:
        [(last,)] = connection.execute(
            "SELECT COALESCE(MAX(revision), 0) FROM record_versions WHERE kind = ? AND id = ?",
            (change.kind, change.id),
        )
        about = (change.title, change.words, change.starts, change.ends, change.document)
        connection.execute(
            "INSERT INTO record_versions (kind, id, revision, batch, title, words, starts, ends, document)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (change.kind, change.id, last + 1, number, *about),
        )
        if change.document is None:
            connection.execute("DELETE FROM records WHERE kind = ? AND id = ?", (change.kind, change.id))
        else:
            connection.execute(
                f"INSERT OR REPLACE INTO records ({COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (change.kind, change.id, last + 1, *about),
            )
    return int(number)


def as_before(connection: sqlite3.Connection, number: int) -> Iterable[RecordChange]:
    """For each record of the batch, what makes it as it was before."""
    rows = connection.execute(
        "SELECT now.kind, now.id, now.revision, now.document IS NULL, before.title, before.words,"
        " before.starts, before.ends, before.document"
        " FROM record_versions AS now LEFT JOIN record_versions AS before"
        " ON before.kind = now.kind AND before.id = now.id AND before.revision = now.revision - 1"
        " WHERE now.batch = ? ORDER BY now.kind, now.id",
        (number,),
    )
    for kind, id, revision, removed, title, words, starts, ends, document in list(rows):
        yield RecordChange(
            kind=kind,
            id=id,
            title=title or "",
            words=words or "",
            starts=starts or "",
            ends=ends or "",
            document=document,
            revision=0 if removed else revision,
        )
