"""A disk that is full, a database held by another: told as 503 with when to come back, and nothing lost."""

from __future__ import annotations

import asyncio
import resource
import sqlite3
from pathlib import Path
from typing import Any, cast

import pytest
from litestar import Litestar

from counterfoil.store.integrity import available
from counterfoil.store.interface import StoreUnavailable
from counterfoil.store.sqlite import FILE_NAME, SqliteStore
from tests.faults.carrier import Carrier, nothing_lost
from tests.faults.victim import Victim
from tests.server.conftest import Client, as_json, paired, small_trip


def sync(client: Client, phone: Carrier) -> Any:
    return client.post("/sync", json=phone.batch())


def told_to_come_back(answer: Any, why: str) -> None:
    """A 503 that says why, that nothing was stored, and when to try again."""
    assert answer.status_code == 503
    error = answer.json()["error"]
    assert why in error["mend"]
    assert "Nothing of this was stored" in error["mend"]
    assert int(answer.headers["retry-after"]) > 0


def test_a_database_held_by_another_program_is_waited_for_and_then_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("counterfoil.store.sqlite.BUSY_TIMEOUT_MS", 20)
    phone = Carrier("phone-a")
    phone.note()
    with paired(tmp_path) as home:
        home.post("/api/trips", json=as_json(small_trip()))
        other = sqlite3.connect(tmp_path / FILE_NAME, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        told_to_come_back(sync(home, phone), "Another program holds the database")
        # Who only asks is answered all the same, and the Desk goes on.
        assert sync(home, Carrier("onlooker")).status_code == 200
        assert home.get("/desk").status_code == 200
        other.execute("ROLLBACK")
        other.close()
        phone.settle(sync(home, phone).json())
    nothing_lost([phone], tmp_path / FILE_NAME)


def test_a_full_disk_takes_nothing_by_halves_and_goes_on_when_there_is_room(tmp_path: Path) -> None:
    """SQLite's own limit on pages stands in for the disk: the same error, at the same places."""
    phone = Carrier("phone-a")
    with paired(tmp_path) as home:
        home.post("/api/trips", json=as_json(small_trip()))
        pages = limit_pages(home, 1)  # SQLite answers with the pages there are
        limit_pages(home, pages + 4)
        for _ in range(400):
            phone.note()
        batch = phone.batch(at_most=400)
        told_to_come_back(home.post("/sync", json=batch), "disk is full")
        with sqlite3.connect(tmp_path / FILE_NAME) as connection:
            assert connection.execute("SELECT COUNT(*) FROM events").fetchone() == (0,)
        limit_pages(home, 100_000)
        while phone.settle(sync(home, phone).json()):
            pass
    nothing_lost([phone], tmp_path / FILE_NAME)


def test_a_real_server_on_a_full_disk_answers_and_loses_nothing(tmp_path: Path) -> None:
    """No file of the process may grow beyond 300 KB: the write-ahead log runs into it."""
    phone = Carrier("phone-a")
    data = tmp_path / "data"
    victim = Victim(data, largest_file=300_000).start()
    try:
        assert victim.post("/api/trips", as_json(small_trip()))[0] == 201
        full = False
        for _ in range(100):
            for _ in range(40):
                phone.note()
            status, headers, answer = victim.post("/sync", phone.batch())
            if status == 503:
                assert "disk is full" in answer["error"]["mend"]
                assert int(headers["retry-after"]) > 0
                full = True
                break
            phone.settle(answer)
        assert full, "the disk never filled"
        assert phone.outbox
        victim.kill()
        victim = Victim(data).start()
        while phone.settle(victim.post("/sync", phone.batch())[2]):
            pass
    finally:
        victim.kill()
    nothing_lost([phone], data / FILE_NAME)


def test_a_page_that_rots_while_the_server_runs_is_told_with_the_mend(tmp_path: Path) -> None:
    async def story() -> None:
        store = SqliteStore(tmp_path)
        await store.open()
        try:
            await store.read("SELECT RAISE_AS_SQLITE_DOES()")
        finally:
            await store.close()

    class Rotten(sqlite3.DatabaseError):
        sqlite_errorcode = sqlite3.SQLITE_CORRUPT

    with pytest.raises(StoreUnavailable, match=r"is damaged .*counterfoil restore FILE"), available(tmp_path):
        raise Rotten("database disk image is malformed")
    with pytest.raises(sqlite3.OperationalError, match="no such function"):
        asyncio.run(story())  # a fault of ours stays a fault


def limit_pages(client: Client, most: int) -> int:
    """Sets how many pages the server's database may have; the pages that it may have now."""
    app = cast(Litestar, cast(Any, client).app)
    store: SqliteStore = app.state.store

    def limit(connection: sqlite3.Connection) -> int:
        return connection.execute(f"PRAGMA max_page_count = {most}").fetchone()[0]

    with client.portal() as portal:
        return portal.call(store.write, limit)


def test_the_limit_on_files_is_there() -> None:
    """The full disk above is a limit of the system; without it the test would prove nothing."""
    assert hasattr(resource, "RLIMIT_FSIZE")
