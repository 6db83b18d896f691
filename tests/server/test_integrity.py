"""Damage is found at the start, named, and told with what to do; a sound file is never doubted."""

from __future__ import annotations

import asyncio
import sqlite3
from pathlib import Path

import pytest

from counterfoil.cli import main
from counterfoil.store.facts import PriceRow, StockRow
from counterfoil.store.interface import StoreUnusable
from counterfoil.store.sqlite import FILE_NAME, SqliteStore
from counterfoil.store.sqlite_facts import SqliteFacts

from .conftest import Phone, as_json, paired, small_trip

PAGE = 4096


@pytest.fixture
def database(tmp_path: Path) -> Path:
    """A household's file with 300 events, closed."""
    with paired(tmp_path) as home:
        home.post("/api/trips", json=as_json(small_trip()))
        phone = Phone(home, "phone-a")
        phone.sync(*[phone.in_trolley() for _ in range(300)])
    with sqlite3.connect(tmp_path / FILE_NAME) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return tmp_path / FILE_NAME


def prepare(database: Path) -> None:
    SqliteStore(database.parent).prepare()


def said_of(database: Path) -> str:
    """What the start says of a file; "" of a sound one."""
    try:
        prepare(database)
    except StoreUnusable as error:
        return str(error)
    return ""


def test_a_sound_file_opens(database: Path) -> None:
    prepare(database)


def test_every_damaged_page_is_found_with_the_mend(database: Path) -> None:
    """Each page in turn is filled with noise; the last check is that the file was sound before."""
    sound = database.read_bytes()
    pages = len(sound) // PAGE
    assert pages > 20
    missed: list[int] = []
    for page in range(pages):
        spoilt = bytearray(sound)
        spoilt[page * PAGE : (page + 1) * PAGE] = b"\xa5" * PAGE
        database.write_bytes(spoilt)
        if "counterfoil restore FILE" not in said_of(database):
            missed.append(page)
    database.write_bytes(sound)
    prepare(database)
    assert missed == []


def test_a_file_cut_short_is_found(database: Path) -> None:
    database.write_bytes(database.read_bytes()[: PAGE * 10])
    with pytest.raises(StoreUnusable, match="counterfoil restore FILE"):
        prepare(database)


def test_the_server_does_not_start_over_a_damaged_file(
    database: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content = bytearray(database.read_bytes())
    content[PAGE * 8 : PAGE * 9] = b"\xa5" * PAGE
    database.write_bytes(content)
    assert main(["serve", "--port", "0", "--data", str(database.parent)]) == 2
    said = capsys.readouterr().err
    assert "is damaged" in said
    assert "put a backup in its place (counterfoil restore FILE)" in said
    assert "What the phones noted since then is still on them" in said


@pytest.mark.parametrize(
    ("change", "told"),
    [
        *(
            (f"DROP TRIGGER {guard}", f"the guard {guard} of the {words} is gone")
            for table, words in (
                ("events", "events"),
                ("record_versions", "records' versions"),
                ("notes", "notes"),
            )
            for guard in (f"{table}_are_never_edited", f"{table}_are_never_removed")
        ),
        ("UPDATE trips SET document = CAST('{}' AS BLOB)", "the trip oats-week is not what was saved"),
        ("DELETE FROM trips", "names a row of trips that is gone"),
        ("UPDATE sqlite_sequence SET seq = 7 WHERE name = 'events'", "the last was 7"),
    ],
)
def test_a_file_changed_by_another_hand_is_noticed(database: Path, change: str, told: str) -> None:
    with sqlite3.connect(database) as connection:
        connection.execute(change)
    with pytest.raises(StoreUnusable, match=told):
        prepare(database)


def test_prices_and_stock_do_not_make_a_sound_file_look_damaged(tmp_path: Path) -> None:
    """SQLite 3.40 finds NULL where there is none if the key of a table without rowids is not in front."""

    async def work() -> None:
        store = SqliteStore(tmp_path)
        await store.open()
        try:
            price = PriceRow(
                product="oats", store="alder", day="2026-12-05", cents=200, each_cents=200, how="tag"
            )
            move = StockRow(product="oats", day="2026-12-05", units=1, how="bought")
            await SqliteFacts(store).replace("trip:oats-week", [price], [move])
        finally:
            await store.close()

    asyncio.run(work())

    assert said_of(tmp_path / FILE_NAME) == ""
