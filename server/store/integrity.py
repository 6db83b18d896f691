"""Finds out what is wrong with a database, and says it with what to do.

``find_damage`` looks through the whole file, at the start and before a copy is trusted.
``available`` turns what SQLite reports in the middle of work into ``StoreUnavailable``: nothing
was written then, and whoever asked may ask again.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

from .interface import StoreUnavailable

MEND_DAMAGE = (
    "Keep a copy of the file, then put a backup in its place (counterfoil restore FILE). "
    "What the phones noted since then is still on them and comes again."
)

# The triggers that keep what was written as it was written, by what they guard.
_GUARDS = {
    f"{table}_are_never_{done}": words
    for table, words in (
        ("events", "events"),
        ("record_versions", "records' versions"),
        ("notes", "notes"),
    )
    for done in ("edited", "removed")
}
# Primary result codes of SQLite (sqlite.org/rescode.html), by what they mean for whoever waits.
_HELD = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}
_NO_ROOM = {sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN}
_DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}


def find_damage(connection: sqlite3.Connection) -> str | None:
    """The first thing that is wrong with the file, or None: its pages, its references, its log, its trips."""
    try:
        [(said,)] = connection.execute("PRAGMA integrity_check(1)").fetchall()
        if said != "ok":
            return _plainly(str(said))
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_schema")}
        if "events" not in tables:
            return None  # new, or not ours: the migrations tell
        return (
            _broken_reference(connection)
            or _missing_guard(tables)
            or _broken_log(connection)
            or _broken_trip(connection)
        )
    except sqlite3.DatabaseError as error:
        if error.sqlite_errorcode & 0xFF in _DAMAGED:
            return str(error)
        raise


@contextmanager
def available(path: Path) -> Generator[None]:
    """Tells a database that is held, full or damaged as ``StoreUnavailable``; other errors stay."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        if code in _HELD:
            raise StoreUnavailable(
                "Another program holds the database (a copy being made, an import). "
                "Nothing of this was stored; send it again in a moment.",
                retry_seconds=2,
            ) from error
        if code in _NO_ROOM:
            raise StoreUnavailable(
                f"The server cannot write its data ({error}): its disk is full or not writable. "
                "Nothing of this was stored; make room at the server, then it is taken.",
                retry_seconds=60,
            ) from error
        if code in _DAMAGED:
            raise StoreUnavailable(
                f"The server's database {path.name} is damaged ({error}). Nothing of this was stored. "
                f"Stop the server. {MEND_DAMAGE}",
                retry_seconds=600,
            ) from error
        raise


def _broken_reference(connection: sqlite3.Connection) -> str | None:
    broken = connection.execute("PRAGMA foreign_key_check").fetchone()
    return f"row {broken[1]} of {broken[0]} names a row of {broken[2]} that is gone" if broken else None


def _missing_guard(schema: set[str]) -> str | None:
    """Whether events, records' versions or notes could have been edited or removed. A file of before a table
    was there lacks its guards too."""
    for guard, words in sorted(_GUARDS.items()):
        if guard.partition("_are_")[0] in schema and guard not in schema:
            return f"the guard {guard} of the {words} is gone"
    return None


def _broken_log(connection: sqlite3.Connection) -> str | None:
    """Whether numbers could be given twice."""
    [(last,)] = connection.execute("SELECT COALESCE(MAX(sequence), 0) FROM events")
    [(given,)] = connection.execute(
        "SELECT COALESCE(MAX(seq), 0) FROM sqlite_sequence WHERE name = 'events'"
    ).fetchall()
    return f"event {last} has a number that was never given (the last was {given})" if last > given else None


def _broken_trip(connection: sqlite3.Connection) -> str | None:
    for trip, content, document in connection.execute("SELECT id, content, document FROM trips"):
        if hashlib.sha256(document).hexdigest() != content:
            return f"the trip {trip} is not what was saved"
    return None


def _plainly(said: str) -> str:
    return " ".join(said.split())
