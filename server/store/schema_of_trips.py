"""Steps of the schema: trips, events, what is reckoned from them, and who may send them."""

from __future__ import annotations

from .migration import Migration

STEPS_OF_TRIPS: tuple[Migration, ...] = (
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
        6,
        "how the facts of a trip were reckoned, so that they are reckoned anew when that changes",
        ("ALTER TABLE trip_facts ADD COLUMN reckoned_as TEXT NOT NULL DEFAULT ''",),
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
