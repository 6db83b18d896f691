"""The store: what is written is whole, stays, and its reckonings can be made again."""

from __future__ import annotations

import asyncio
import hashlib
import sqlite3
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

import msgspec
import pytest

from counterfoil.intake.bad_input import BadInput
from counterfoil.store.interface import ArrivingEvent, Store, StoreUnavailable, StoreUnusable, VersionTaken
from counterfoil.store.projections import standing
from counterfoil.store.schema import MIGRATIONS
from counterfoil.store.sqlite import FILE_NAME, SqliteStore
from counterfoil.web import create_app

from .conftest import small_trip

T = TypeVar("T")
TRIP = small_trip()


def with_store(folder: Path, story: Callable[[SqliteStore], Awaitable[T]]) -> T:
    """Runs ``story`` over an open store whose clock stands at noon."""

    async def run() -> T:
        store = SqliteStore(folder, now=lambda: datetime(2026, 12, 5, 12, tzinfo=UTC))
        await store.open()
        try:
            return await story(store)
        finally:
            await store.close()

    return asyncio.run(run())


async def keep_trip(store: Store) -> None:
    await store.save_trip(
        trip_id=TRIP.id, version=1, title=TRIP.title, day=TRIP.day, document=msgspec.json.encode(TRIP)
    )


def event(number: int, device: str = "phone-a", kind: str = "in_trolley", payload: str = "") -> ArrivingEvent:
    return ArrivingEvent(
        id=f"{device}-{number:04}",
        device=device,
        counter=number,
        at="2026-12-05T10:00:00Z",
        trip=TRIP.id,
        kind=kind,
        payload=payload or f'{{"kind":"{kind}","store":"alder","product":"oats","units":1}}',
    )


def test_the_file_is_set_to_survive_a_power_cut(tmp_path: Path) -> None:
    async def story(store: SqliteStore) -> tuple[object, ...]:
        def ask(connection: sqlite3.Connection) -> tuple[object, ...]:
            pragmas = ("journal_mode", "synchronous", "foreign_keys")
            return tuple(connection.execute(f"PRAGMA {pragma}").fetchone()[0] for pragma in pragmas)

        return await store.write(ask)

    assert with_store(tmp_path, story) == ("wal", 2, 1)  # 2 is FULL


def test_all_tables_are_strict(tmp_path: Path) -> None:
    with_store(tmp_path, keep_trip)
    with sqlite3.connect(tmp_path / FILE_NAME) as connection:
        tables = connection.execute(
            "SELECT name, strict FROM pragma_table_list WHERE schema = 'main' AND name NOT LIKE 'sqlite_%'"
        ).fetchall()
    assert {"trips", "events", "trip_progress", "devices", "migrations"} <= dict(tables).keys()
    assert set(dict(tables).values()) == {1}


def test_a_second_start_takes_no_step_and_loses_nothing(tmp_path: Path) -> None:
    with_store(tmp_path, keep_trip)
    [trip] = with_store(tmp_path, lambda store: store.trips())
    assert (trip.id, trip.version) == ("oats-week", 1)
    with sqlite3.connect(tmp_path / FILE_NAME) as connection:
        taken = connection.execute("SELECT number, digest FROM migrations").fetchall()
    assert taken == [(step.number, step.digest) for step in MIGRATIONS]


def test_the_steps_are_numbered_without_gaps() -> None:
    assert [step.number for step in MIGRATIONS] == list(range(1, len(MIGRATIONS) + 1))


def test_data_of_a_newer_version_is_left_alone(tmp_path: Path) -> None:
    with_store(tmp_path, keep_trip)
    with sqlite3.connect(tmp_path / FILE_NAME) as connection:
        connection.execute("INSERT INTO migrations VALUES (99, 'of tomorrow', '', '')")
    with pytest.raises(StoreUnusable, match="newer version"):
        with_store(tmp_path, keep_trip)


def test_an_edited_step_is_noticed(tmp_path: Path) -> None:
    with_store(tmp_path, keep_trip)
    with sqlite3.connect(tmp_path / FILE_NAME) as connection:
        connection.execute("UPDATE migrations SET digest = 'other'")
    with pytest.raises(StoreUnusable, match="Step 1"):
        with_store(tmp_path, keep_trip)


def test_a_file_that_is_no_database_is_named_with_the_mend(tmp_path: Path) -> None:
    (tmp_path / FILE_NAME).write_text("shopping list\n" * 100)
    with pytest.raises(StoreUnusable, match=r"counterfoil\.sqlite3 cannot be used.*backup"):
        with_store(tmp_path, keep_trip)


def test_an_application_over_unusable_data_is_not_even_made(tmp_path: Path) -> None:
    (tmp_path / FILE_NAME).write_text("shopping list\n" * 100)
    with pytest.raises(BadInput, match="put a backup in its place"):
        create_app(tmp_path)


def test_a_reader_cannot_write(tmp_path: Path) -> None:
    async def story(store: SqliteStore) -> None:
        await store.read("DELETE FROM trips")

    with pytest.raises(StoreUnavailable, match="readonly"):
        with_store(tmp_path, story)


@pytest.mark.parametrize("change", ["UPDATE events SET payload = '{}'", "DELETE FROM events"])
def test_events_are_never_edited_or_removed(tmp_path: Path, change: str) -> None:
    async def story(store: SqliteStore) -> None:
        await keep_trip(store)
        await store.exchange("phone-a", None, 0, [event(1)])

    with_store(tmp_path, story)
    with (
        sqlite3.connect(tmp_path / FILE_NAME) as connection,
        pytest.raises(sqlite3.IntegrityError, match="never"),
    ):
        connection.execute(change)


def test_a_batch_that_fails_half_way_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise OSError("disk full")

    async def story(store: SqliteStore) -> int:
        await keep_trip(store)
        with monkeypatch.context() as patch:
            patch.setattr("counterfoil.store.projections.reckon", fail)
            with pytest.raises(OSError, match="disk full"):
                await store.exchange("phone-a", None, 0, [event(1), event(2)])
        assert list(await store.events_of(TRIP.id)) == []
        await store.exchange("phone-a", None, 0, [event(1), event(2)])
        return len(await store.events_of(TRIP.id))

    assert with_store(tmp_path, story) == 2


def test_an_asker_who_goes_away_leaves_a_whole_batch(tmp_path: Path) -> None:
    async def story(store: SqliteStore) -> int:
        await keep_trip(store)
        asking = asyncio.ensure_future(store.exchange("phone-a", None, 0, [event(1), event(2)]))
        await asyncio.sleep(0)
        asking.cancel()
        await store.exchange("phone-b", None, 0, [event(1, "phone-b")])
        return len(await store.events_of(TRIP.id))

    assert with_store(tmp_path, story) == 3


def test_many_phones_at_once_lose_nothing_and_double_nothing(tmp_path: Path) -> None:
    """Twenty phones send 10 events each, every batch twice."""
    batches = [[event(n, f"phone-{phone}") for n in range(10)] for phone in range(20)]

    async def story(store: SqliteStore) -> list[str]:
        await keep_trip(store)
        await asyncio.gather(
            *(store.exchange(batch[0].device, TRIP.id, 0, batch) for batch in batches + batches)
        )
        return [kept.id for kept in await store.events_of(TRIP.id)]

    kept = with_store(tmp_path, story)
    assert sorted(kept) == sorted(each.id for batch in batches for each in batch)


def test_an_event_with_the_trip_gone_is_impossible(tmp_path: Path) -> None:
    async def story(store: SqliteStore) -> None:
        await keep_trip(store)
        await store.exchange("phone-a", None, 0, [event(1)])

    with_store(tmp_path, story)
    with sqlite3.connect(tmp_path / FILE_NAME) as connection:
        connection.execute("PRAGMA foreign_keys = ON")
        with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
            connection.execute("DELETE FROM trips")


def test_reckonings_made_again_from_the_events_are_the_same(tmp_path: Path) -> None:
    def undo(number: int, of: ArrivingEvent) -> ArrivingEvent:
        return event(number, kind="undone", payload=f'{{"kind":"undone","event":"{of.id}"}}')

    first, second = event(1, kind="transaction_done"), event(2, kind="transaction_done")
    taken_back = undo(3, first)
    events = [
        first,
        second,
        taken_back,
        event(4, "phone-b"),
        event(5, kind="undone", payload='{"kind":"undone"}'),
    ]

    async def story(store: SqliteStore) -> None:
        await keep_trip(store)
        for each in events:
            await store.exchange(each.device, None, 0, [each])
        before = await store.trips()
        assert (before[0].events, before[0].devices, before[0].transactions_done) == (5, 2, 1)
        assert await store.rebuild() == 1
        assert await store.trips() == before
        await store.exchange("phone-a", None, 0, [undo(6, taken_back)])
        assert (await store.trips())[0].transactions_done == 2

    with_store(tmp_path, story)


def test_an_undo_can_be_undone() -> None:
    stands = standing({"bought": ["undo"], "undo": ["undo of undo"]})
    assert (stands("bought"), stands("undo"), stands("undo of undo")) == (True, False, True)


def test_undos_that_name_each_other_do_no_harm() -> None:
    stands = standing({"a": ["b"], "b": ["a"]})
    assert isinstance(stands("a"), bool)


def test_a_trip_keeps_the_bytes_that_were_given(tmp_path: Path) -> None:
    async def story(store: SqliteStore) -> None:
        await keep_trip(store)
        stored = await store.trip(TRIP.id)
        assert stored is not None
        assert stored.document == msgspec.json.encode(TRIP)
        assert stored.content == hashlib.sha256(stored.document).hexdigest()
        assert stored.saved_at == "2026-12-05T12:00:00+00:00"
        assert await store.trip("no-such-week") is None
        with pytest.raises(VersionTaken):
            await store.save_trip(trip_id=TRIP.id, version=1, title="", day=TRIP.day, document=b"{}")

    with_store(tmp_path, story)


def test_the_store_is_what_the_interface_says(tmp_path: Path) -> None:
    assert isinstance(SqliteStore(tmp_path), Store)
