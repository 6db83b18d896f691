"""A household kept in a server's folder before the server starts."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from pathlib import Path

from counterfoil.home.kinds import Record
from counterfoil.homes import Home
from counterfoil.store.records import SqliteRecords
from counterfoil.store.sqlite import SqliteStore


def keep(data: Path, records: Sequence[Record], words: str = "A household") -> None:
    """Keeps the records in ``data``, as one batch."""

    async def run() -> None:
        store = SqliteStore(data)
        store.prepare()
        await store.open()
        try:
            await Home(SqliteRecords(store)).save(records, words=words, device="tests")
        finally:
            await store.close()

    asyncio.run(run())
