"""Steps of the schema: what the household keeps beside its trips."""

from __future__ import annotations

from .migration import Migration

STEPS_OF_HOUSEHOLD: tuple[Migration, ...] = (
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
)
