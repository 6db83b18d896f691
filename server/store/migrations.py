"""Brings a database to the newest step of the schema (``schema.py``).

Each database records the steps it has taken with the hash of their text, and is checked against the list at
every start.
"""

from __future__ import annotations

import sqlite3

from .interface import StoreUnusable
from .schema import MIGRATIONS


def migrate(connection: sqlite3.Connection, now: str) -> int:
    """Brings the database to the newest step inside the caller's transaction; how many steps it took.

    Raises ``StoreUnusable`` where a step taken is not the one of that number here: the data
    is of a newer version, or somebody edited a released step.
    """
    connection.execute(
        "CREATE TABLE IF NOT EXISTS migrations (number INTEGER PRIMARY KEY, name TEXT NOT NULL,"
        " digest TEXT NOT NULL, taken_at TEXT NOT NULL) STRICT"
    )
    taken: dict[int, str] = dict(connection.execute("SELECT number, digest FROM migrations ORDER BY number"))
    known = {migration.number: migration for migration in MIGRATIONS}
    for number, digest in taken.items():
        if number not in known:
            raise StoreUnusable(
                f"The data is of a newer version of Counterfoil (it has taken step {number}, this one knows "
                f"{len(known)}). Install the newer version, or use another data folder."
            )
        if digest != known[number].digest:
            raise StoreUnusable(
                f"Step {number} of the data's schema is not the one of this version. "
                "Install the version that made the data, or use another data folder."
            )
    steps = [migration for migration in MIGRATIONS if migration.number not in taken]
    for step in steps:
        for statement in step.statements:
            connection.execute(statement)
        connection.execute(
            "INSERT INTO migrations (number, name, digest, taken_at) VALUES (?, ?, ?, ?)",
            (step.number, step.name, step.digest, now),
        )
    return len(steps)
