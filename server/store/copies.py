"""A copy of the whole database, and a database from such a copy.

A backup is consistent while the server runs and writes (SQLite's backup interface reads one
moment of it), is looked through before it takes its name, and is one file. What is put back is
another log than before: its numbers start far above any that was given, and its name is new, so
that phones notice and send again what they hold.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
from collections.abc import Generator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from .integrity import find_damage
from .interface import StoreUnusable
from .migrations import migrate
from .photos import erase_photo
from .sqlite import FILE_NAME

# Added to the highest sequence number of what is put back: more events than come between two backups.
NUMBERS_SKIPPED = 1_000_000
_SQLITE_HEADER = b"SQLite format 3\0"


class Copied(msgspec.Struct, frozen=True, kw_only=True):
    """What a copy holds; ``pages``: those published for readers. ``set_aside``: where the database before it
    went, "" if there was none."""

    trips: int
    events: int
    pages: int
    set_aside: str = ""


def back_up(data: Path, file: Path) -> Copied:
    """Copies the database of ``data`` to ``file``, which an older backup may have had.

    Raises ``StoreUnusable``: no database, a damaged one, a file that is no backup, no room.
    """
    source = data / FILE_NAME
    if not source.is_file():
        raise StoreUnusable(f"{data} holds no data. Name the folder with --data.")
    if file.exists() and not _is_database(file):
        raise StoreUnusable(f"{file} is there and is no backup. Choose another name for the new one.")
    beside = file.with_name(f"{file.name}.part")
    with _told(file), _gone_on_failure(beside):
        _copy(source, beside)
        with closing(sqlite3.connect(beside)) as copy:
            copied = _count(copy)
        _sync(beside)
        beside.replace(file)
        _sync(file.parent)
    return copied


def restore(file: Path, data: Path) -> Copied:
    """Puts a backup in the place of the database of ``data``, which is set aside and not deleted.

    Devices that were revoked since the backup stay revoked, and photos that were erased since then erased.
    Raises ``StoreUnusable``: the server still runs, the file is no sound backup, or of a newer version.
    """
    if not file.is_file() or not _is_database(file):
        raise StoreUnusable(f"{file} is no backup. Name a file that `counterfoil backup` made.")
    target = data / FILE_NAME
    beside = target.with_name(f"{FILE_NAME}.part")
    now = datetime.now(UTC)
    with _told(target), _gone_on_failure(beside):
        data.mkdir(mode=0o700, parents=True, exist_ok=True)
        last_number = _let_go(target) if target.is_file() else 0
        _copy(file, beside)
        with closing(sqlite3.connect(beside, isolation_level=None)) as copy:
            copy.execute("PRAGMA secure_delete = ON")
            copy.execute("BEGIN IMMEDIATE")
            migrate(copy, now.isoformat(timespec="seconds"))
            _make_another_log(copy, last_number)
            if target.is_file():
                _keep_revoked(copy, target)
                _keep_erased(copy, target)
            copy.execute("COMMIT")
            copied = _count(copy)
        _sync(beside)
        set_aside = _set_aside(target, now) if target.is_file() else ""
        beside.replace(target)
        _sync(data)
    return msgspec.structs.replace(copied, set_aside=set_aside)


def _copy(source: Path, target: Path) -> None:
    """One moment of ``source``, whole and looked through, as one file that only its owner reads."""
    target.unlink(missing_ok=True)
    target.touch(mode=0o600)
    with (
        closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as reading,
        closing(sqlite3.connect(target)) as writing,
    ):
        reading.backup(writing)
        writing.execute("PRAGMA journal_mode = DELETE")
        damage = find_damage(writing)
        if damage is not None:
            raise StoreUnusable(f"{source} is damaged: {damage}. Use an older backup.")


def _let_go(database: Path) -> int:
    """Makes sure that nobody uses the database, folds its log into it; the last number it gave."""
    try:
        with closing(sqlite3.connect(database, timeout=1, isolation_level=None)) as connection:
            # Leaving the write-ahead log needs the database for oneself.
            connection.execute("PRAGMA journal_mode = DELETE")
            [(last,)] = connection.execute(
                "SELECT COALESCE(MAX(seq), 0) FROM sqlite_sequence WHERE name = 'events'"
            ).fetchall()
            return last
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            raise StoreUnusable(f"{database} is in use. Stop the server first.") from error
        return 0  # without its tables
    except sqlite3.DatabaseError:
        return 0  # damaged, which is why it is replaced


def _make_another_log(copy: sqlite3.Connection, last_number: int) -> None:
    copy.execute("UPDATE house SET value = ? WHERE name = 'log'", (secrets.token_hex(16),))
    copy.execute("DELETE FROM pairing_codes")
    [(given,)] = copy.execute(
        "SELECT COALESCE(MAX(seq), 0) FROM sqlite_sequence WHERE name = 'events'"
    ).fetchall()
    copy.execute("DELETE FROM sqlite_sequence WHERE name = 'events'")
    copy.execute(
        "INSERT INTO sqlite_sequence (name, seq) VALUES ('events', ?)",
        (max(given, last_number) + NUMBERS_SKIPPED,),
    )


def _keep_revoked(copy: sqlite3.Connection, current: Path) -> None:
    """A lost phone does not come back to life with an old backup."""
    try:
        with closing(sqlite3.connect(f"{current.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            revoked = connection.execute(
                "SELECT revoked_at, key_hash FROM devices WHERE revoked_at <> ''"
            ).fetchall()
    except sqlite3.DatabaseError:
        return  # damaged, or from before devices were paired
    copy.executemany("UPDATE devices SET revoked_at = ? WHERE key_hash = ? AND revoked_at = ''", revoked)


def _keep_erased(copy: sqlite3.Connection, current: Path) -> None:
    """Nor does a photo that was erased for good."""
    try:
        with closing(sqlite3.connect(f"{current.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            erased = connection.execute("SELECT id, erased_at, device FROM photos_erased").fetchall()
    except sqlite3.DatabaseError:
        return  # damaged, or from before photos could be erased
    for photo, at, device in erased:
        erase_photo(copy, photo, at, device)


def _set_aside(database: Path, now: datetime) -> str:
    aside = database.with_name(f"{database.stem}-replaced-{now:%Y%m%d-%H%M%S}{database.suffix}")
    for tail in ("", "-wal", "-shm"):
        part = database.with_name(database.name + tail)
        if part.exists():
            part.replace(aside.with_name(aside.name + tail))
    return str(aside)


def _count(connection: sqlite3.Connection) -> Copied:
    [(trips, events)] = connection.execute(
        "SELECT (SELECT COUNT(*) FROM trips), (SELECT COUNT(*) FROM events)"
    )
    # A backup of data that an older version wrote has not taken every step of the schema yet.
    [(knows_pages,)] = connection.execute("SELECT COUNT(*) FROM sqlite_schema WHERE name = 'published'")
    pages = 0
    if knows_pages:
        [(pages,)] = connection.execute("SELECT COUNT(*) FROM published WHERE slug <> ''")
    return Copied(trips=trips, events=events, pages=pages)


def _is_database(file: Path) -> bool:
    with file.open("rb") as opened:
        return opened.read(len(_SQLITE_HEADER)) == _SQLITE_HEADER


def _sync(path: Path) -> None:
    """To the disk itself: a power cut right after must not take it away."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


@contextmanager
def _gone_on_failure(part: Path) -> Generator[None]:
    try:
        yield
    finally:
        for tail in ("", "-journal"):
            part.with_name(part.name + tail).unlink(missing_ok=True)


@contextmanager
def _told(path: Path) -> Generator[None]:
    try:
        yield
    except (sqlite3.Error, OSError) as error:
        raise StoreUnusable(
            f"{path} could not be written: {error}. Check that its folder is there, can be written to and "
            "has room. Nothing was changed."
        ) from error
