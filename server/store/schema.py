"""The schema, step by numbered step.

A step that has been released is never edited: what it made is out there. A change is a new step at the end.
"""

from __future__ import annotations

import hashlib
from typing import NamedTuple


class Migration(NamedTuple):
    """One step: its number (1, 2, 3, ... without gaps), what it is for, its statements."""

    number: int
    name: str
    statements: tuple[str, ...]

    @property
    def digest(self) -> str:
        """SHA-256 of the statements (hex)."""
        return hashlib.sha256("\n".join(self.statements).encode()).hexdigest()


MIGRATIONS: tuple[Migration, ...] = (
    Migration(
        1,
        "trips, events, and what is reckoned from them",
        (
            """
            CREATE TABLE trips (
                id TEXT PRIMARY KEY,
                version INTEGER NOT NULL CHECK (version >= 1),
                title TEXT NOT NULL,
                day TEXT NOT NULL,
                content TEXT NOT NULL,
                document BLOB NOT NULL,
                saved_at TEXT NOT NULL
            ) STRICT
            """,
            # AUTOINCREMENT: a sequence number is never given twice, so a cursor stays true.
            """
            CREATE TABLE events (
                sequence INTEGER PRIMARY KEY AUTOINCREMENT,
                id TEXT NOT NULL UNIQUE,
                device TEXT NOT NULL,
                counter INTEGER NOT NULL,
                at TEXT NOT NULL,
                trip TEXT NOT NULL REFERENCES trips (id),
                kind TEXT NOT NULL,
                payload TEXT NOT NULL,
                received TEXT NOT NULL
            ) STRICT
            """,
            "CREATE INDEX events_by_trip ON events (trip, sequence)",
            """
            CREATE TRIGGER events_are_never_edited BEFORE UPDATE ON events
            BEGIN SELECT RAISE(ABORT, 'events are never edited'); END
            """,
            """
            CREATE TRIGGER events_are_never_removed BEFORE DELETE ON events
            BEGIN SELECT RAISE(ABORT, 'events are never removed'); END
            """,
            """
            CREATE TABLE trip_progress (
                trip TEXT PRIMARY KEY REFERENCES trips (id),
                events INTEGER NOT NULL,
                devices INTEGER NOT NULL,
                transactions_done INTEGER NOT NULL,
                last_heard TEXT NOT NULL
            ) STRICT
            """,
        ),
    ),
    Migration(
        2,
        "who may come in, and what is ours alone",
        (
            # Of keys and codes only the SHA-256 is kept: who reads the file cannot use them.
            """
            CREATE TABLE devices (
                id TEXT PRIMARY KEY,
                key_hash BLOB NOT NULL UNIQUE,
                role TEXT NOT NULL CHECK (role IN ('owner', 'phone')),
                name TEXT NOT NULL,
                paired_at TEXT NOT NULL,
                last_seen TEXT NOT NULL,
                revoked_at TEXT NOT NULL
            ) STRICT
            """,
            """
            CREATE TABLE pairing_codes (
                code_hash BLOB PRIMARY KEY,
                role TEXT NOT NULL CHECK (role IN ('owner', 'phone')),
                ends_at INTEGER NOT NULL
            ) STRICT
            """,
            # log: which log this is; forms: signs the tokens of the Desk's forms.
            """
            CREATE TABLE house (
                name TEXT PRIMARY KEY,
                value TEXT NOT NULL
            ) STRICT
            """,
            "INSERT INTO house (name, value) VALUES"
            " ('log', lower(hex(randomblob(16)))), ('forms', lower(hex(randomblob(32))))",
        ),
    ),
    Migration(
        3,
        "the household: its records with every version, its prices, its stock, what phones shared",
        (
            # One change that belongs together (a form, an import), so that it can be taken back whole.
            """
            CREATE TABLE batches (
                number INTEGER PRIMARY KEY AUTOINCREMENT,
                at TEXT NOT NULL,
                device TEXT NOT NULL,
                words TEXT NOT NULL,
                takes_back INTEGER REFERENCES batches (number)
            ) STRICT
            """,
            # document NULL: removed in this version.
            """
            CREATE TABLE record_versions (
                kind TEXT NOT NULL,
                id TEXT NOT NULL,
                revision INTEGER NOT NULL CHECK (revision >= 1),
                batch INTEGER NOT NULL REFERENCES batches (number),
                title TEXT NOT NULL,
                words TEXT NOT NULL,
                starts TEXT NOT NULL,
                ends TEXT NOT NULL,
                document BLOB,
                PRIMARY KEY (kind, id, revision)
            ) STRICT, WITHOUT ROWID
            """,
            "CREATE INDEX record_versions_by_batch ON record_versions (batch)",
            """
            CREATE TRIGGER record_versions_are_never_edited BEFORE UPDATE ON record_versions
            BEGIN SELECT RAISE(ABORT, 'versions are never edited'); END
            """,
            """
            CREATE TRIGGER record_versions_are_never_removed BEFORE DELETE ON record_versions
            BEGIN SELECT RAISE(ABORT, 'versions are never removed'); END
            """,
            """
            CREATE TABLE records (
                kind TEXT NOT NULL,
                id TEXT NOT NULL,
                revision INTEGER NOT NULL,
                title TEXT NOT NULL,
                words TEXT NOT NULL,
                starts TEXT NOT NULL,
                ends TEXT NOT NULL,
                document BLOB NOT NULL,
                PRIMARY KEY (kind, id)
            ) STRICT
            """,
            "CREATE INDEX records_by_title ON records (kind, title COLLATE NOCASE, id)",
            "CREATE INDEX records_by_end ON records (kind, ends, id)",
            # The key's columns first: SQLite 3.40 calls a sound table without rowids damaged otherwise.
            """
            CREATE TABLE prices_seen (
                product TEXT NOT NULL,
                store TEXT NOT NULL,
                day TEXT NOT NULL,
                source TEXT NOT NULL,
                how TEXT NOT NULL,
                cents INTEGER NOT NULL,
                each_cents INTEGER NOT NULL,
                PRIMARY KEY (product, store, day, source, how)
            ) STRICT, WITHOUT ROWID
            """,
            "CREATE INDEX prices_seen_by_source ON prices_seen (source)",
            """
            CREATE TABLE stock_moves (
                source TEXT NOT NULL,
                place INTEGER NOT NULL,
                product TEXT NOT NULL,
                day TEXT NOT NULL,
                units INTEGER NOT NULL,
                how TEXT NOT NULL,
                PRIMARY KEY (source, place)
            ) STRICT, WITHOUT ROWID
            """,
            # With all that a reader of moves asks for: the larder reads years of them from the index alone.
            "CREATE INDEX stock_moves_by_product ON stock_moves (product, day, how, units)",
            """
            CREATE TABLE trip_facts (
                trip TEXT PRIMARY KEY REFERENCES trips (id),
                content TEXT NOT NULL,
                events INTEGER NOT NULL,
                document BLOB NOT NULL
            ) STRICT
            """,
            """
            CREATE TABLE shared_texts (
                id TEXT PRIMARY KEY,
                device TEXT NOT NULL,
                at TEXT NOT NULL,
                title TEXT NOT NULL,
                text TEXT NOT NULL,
                url TEXT NOT NULL,
                received TEXT NOT NULL,
                done_at TEXT NOT NULL
            ) STRICT
            """,
        ),
    ),
    Migration(
        4,
        "prices and counts of an import that was taken back, so that this can be taken back too",
        (
            """
            CREATE TABLE facts_set_aside (
                batch INTEGER PRIMARY KEY REFERENCES batches (number),
                document BLOB NOT NULL
            ) STRICT
            """,
        ),
    ),
    Migration(
        5,
        "what the household writes down itself after a trip, and photos of its receipts",
        (
            """
            CREATE TABLE notes (
                sequence INTEGER PRIMARY KEY AUTOINCREMENT,
                id TEXT NOT NULL UNIQUE,
                day TEXT NOT NULL,
                kind TEXT NOT NULL,
                document BLOB NOT NULL,
                device TEXT NOT NULL,
                written_at TEXT NOT NULL
            ) STRICT
            """,
            """
            CREATE TRIGGER notes_are_never_edited BEFORE UPDATE ON notes
            BEGIN SELECT RAISE(ABORT, 'notes are never edited'); END
            """,
            """
            CREATE TRIGGER notes_are_never_removed BEFORE DELETE ON notes
            BEGIN SELECT RAISE(ABORT, 'notes are never removed'); END
            """,
            """
            CREATE TABLE receipt_photos (
                id TEXT PRIMARY KEY,
                jpeg BLOB NOT NULL,
                width INTEGER NOT NULL,
                height INTEGER NOT NULL,
                kept_at TEXT NOT NULL
            ) STRICT
            """,
        ),
    ),
    Migration(
        6,
        "how the facts of a trip were reckoned, so that they are reckoned anew when that changes",
        ("ALTER TABLE trip_facts ADD COLUMN reckoned_as TEXT NOT NULL DEFAULT ''",),
    ),
    Migration(
        7,
        "what published pages are made of, so that a backup holds them",
        (
            """
            CREATE TABLE published (
                site TEXT NOT NULL,
                slug TEXT NOT NULL,
                document BLOB NOT NULL,
                kept_at TEXT NOT NULL,
                PRIMARY KEY (site, slug)
            ) STRICT
            """,
        ),
    ),
    Migration(
        8,
        "which photos of receipts were erased, and when",
        (
            """
            CREATE TABLE photos_erased (
                id TEXT PRIMARY KEY,
                erased_at TEXT NOT NULL,
                device TEXT NOT NULL
            ) STRICT
            """,
        ),
    ),
    Migration(
        9,
        "which device's key the name in events belongs to",
        (
            """
            CREATE TABLE senders (
                name TEXT PRIMARY KEY,
                device TEXT NOT NULL,
                since TEXT NOT NULL
            ) STRICT
            """,
        ),
    ),
    Migration(
        10,
        "the plan of each trip, as it was proven",
        (
            """
            CREATE TABLE plans (
                trip TEXT PRIMARY KEY REFERENCES trips (id),
                content TEXT NOT NULL,
                planner TEXT NOT NULL,
                document BLOB NOT NULL
            ) STRICT
            """,
        ),
    ),
)
