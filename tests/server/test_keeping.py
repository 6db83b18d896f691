"""Backup, restore, export, import, rebuild: what comes back is what was there."""

from __future__ import annotations

import asyncio
import csv
import json
import random
import sqlite3
import tracemalloc
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any, TypeVar

import msgspec
import pytest

from counterfoil.cli import main
from counterfoil.homes import Home, Snapshot
from counterfoil.store.facts import PriceRow, StockRow
from counterfoil.store.household_lines import read_lines
from counterfoil.store.integrity import find_damage
from counterfoil.store.kept_trips import take_in
from counterfoil.store.keyring import SqliteKeyring
from counterfoil.store.reckoned import reckoned_facts
from counterfoil.store.records import SqliteRecords
from counterfoil.store.shared_texts import SharedText, SqliteSharedTexts
from counterfoil.store.sqlite import FILE_NAME, SqliteStore
from counterfoil.store.sqlite_facts import SqliteFacts

from .conftest import COUPON, OATS, OATS_TAG, STORE, Client, Phone, as_json, key_for, paired, small_trip

T = TypeVar("T")
Said = pytest.CaptureFixture[str]


def over(data: Path, work: Callable[[SqliteStore], Awaitable[T]]) -> T:
    """The answer of ``work`` over an open store."""

    async def run() -> T:
        store = SqliteStore(data)
        await store.open()
        try:
            return await work(store)
        finally:
            await store.close()

    return asyncio.run(run())


def state(data: Path) -> dict[str, Any]:
    """Everything that a household would miss: trips, events, what is reckoned from them."""

    async def read(store: SqliteStore) -> dict[str, Any]:
        trips = await store.trips()
        events = [event for trip in trips for event in await store.events_of(trip.id)]
        return {
            "trips": [await store.trip(trip.id) for trip in trips],
            "progress": list(trips),
            "events": [msgspec.structs.replace(event, sequence=0) for event in events],
        }

    return over(data, read)


def run(*arguments: str | Path) -> int:
    return main([str(argument) for argument in arguments])


@pytest.fixture
def lived_in(tmp_path: Path) -> Path:
    """Data of a household after a trip: two versions, two phones, something undone, something unreadable."""
    data = tmp_path / "data"
    with paired(data) as home:
        home.post("/api/trips", json=as_json(small_trip()))
        anna, ben = Phone(home, "phone-a"), Phone(home, "phone-b")
        first = anna.in_trolley()
        anna.sync(first, anna.event({"kind": "undone", "event": first["id"]}))
        ben.sync(ben.event({"kind": "smelled_good", "how": [1, 2.50, None], "☂": "\n\t"}), ben.in_trolley(2))
        home.post("/api/trips", json=as_json(small_trip(version=2, title="=Oats; again")))
    return data


def test_a_backup_put_back_is_the_same_household(lived_in: Path, tmp_path: Path, capsys: Said) -> None:
    before = state(lived_in)
    assert run("backup", tmp_path / "copy.sqlite3", "--data", lived_in) == 0
    assert "1 trips, 4 events" in capsys.readouterr().out
    assert run("restore", tmp_path / "copy.sqlite3", "--data", tmp_path / "elsewhere") == 0
    assert state(tmp_path / "elsewhere") == before
    assert (tmp_path / "copy.sqlite3").stat().st_mode & 0o077 == 0


def test_what_a_backup_replaces_is_set_aside(lived_in: Path, tmp_path: Path) -> None:
    run("backup", tmp_path / "copy", "--data", lived_in)
    with paired(lived_in) as home:
        phone = Phone(home, "phone-late")
        phone.sync(phone.in_trolley())
    later = state(lived_in)
    assert run("restore", tmp_path / "copy", "--data", lived_in) == 0
    assert len(state(lived_in)["events"]) == 4
    [aside] = lived_in.glob("counterfoil-replaced-*.sqlite3")
    (tmp_path / "old").mkdir()
    aside.rename(tmp_path / "old" / FILE_NAME)
    assert state(tmp_path / "old") == later


def test_after_a_restore_phones_send_again_what_was_lost_and_miss_nothing(
    lived_in: Path, tmp_path: Path
) -> None:
    """A phone's events came after the backup was made; the other phone's cursor is ahead of the log."""
    run("backup", tmp_path / "copy", "--data", lived_in)
    with paired(lived_in) as home:
        late, other = Phone(home, "phone-late"), Phone(home, "phone-other")
        lost = late.in_trolley()
        log = late.sync(lost)["log"]
        other.sync()
    run("restore", tmp_path / "copy", "--data", lived_in)
    with paired(lived_in) as home:
        late.client = other.client = home
        answer = late.sync()
        assert answer["log"] != log  # so the phone sends everything of its own again
        assert late.sync(lost)["acknowledged"] == [lost["id"]]
        assert lost in other.sync()["events"]


def test_a_lost_phone_stays_out_when_an_old_backup_is_put_back(lived_in: Path, tmp_path: Path) -> None:
    key = key_for(lived_in, "phone", "Lost phone")
    run("backup", tmp_path / "copy", "--data", lived_in)

    async def revoke(store: SqliteStore) -> None:
        keyring = SqliteKeyring(store)
        device = await keyring.device_of(key)
        assert device is not None
        await keyring.revoke(device.id)

    over(lived_in, revoke)
    run("restore", tmp_path / "copy", "--data", lived_in)
    device = over(lived_in, lambda store: SqliteKeyring(store).device_of(key))
    assert device is not None
    assert device.revoked_at


def test_a_backup_is_made_while_the_server_runs_and_writes(client: Client, tmp_path: Path) -> None:
    client.post("/api/trips", json=as_json(small_trip()))
    phone = Phone(client, "phone-a")
    phone.sync(phone.in_trolley())
    assert run("backup", tmp_path / "copy", "--data", tmp_path / "data") == 0
    phone.sync(phone.in_trolley())
    with sqlite3.connect(tmp_path / "copy") as copy:
        assert find_damage(copy) is None
        assert copy.execute("SELECT COUNT(*) FROM events").fetchone() == (1,)


def test_nothing_is_put_back_under_a_running_server(client: Client, tmp_path: Path, capsys: Said) -> None:
    client.post("/api/trips", json=as_json(small_trip()))
    run("backup", tmp_path / "copy", "--data", tmp_path / "data")
    assert run("restore", tmp_path / "copy", "--data", tmp_path / "data") == 2
    assert "Stop the server first." in capsys.readouterr().err
    phone = Phone(client, "phone-a")
    assert len(phone.sync(phone.in_trolley())["acknowledged"]) == 1


def test_a_file_that_is_no_backup_is_neither_overwritten_nor_put_back(
    lived_in: Path, tmp_path: Path, capsys: Said
) -> None:
    (tmp_path / "letter.txt").write_text("Dear Aunt,")
    assert run("backup", tmp_path / "letter.txt", "--data", lived_in) == 2
    assert run("restore", tmp_path / "letter.txt", "--data", lived_in) == 2
    assert run("restore", tmp_path / "nothing", "--data", lived_in) == 2
    assert (tmp_path / "letter.txt").read_text() == "Dear Aunt,"
    assert len(state(lived_in)["events"]) == 4
    assert capsys.readouterr().err.count("; mend: ") == 3


def test_a_damaged_backup_is_not_put_back(lived_in: Path, tmp_path: Path, capsys: Said) -> None:
    copy = tmp_path / "copy"
    run("backup", copy, "--data", lived_in)
    content = bytearray(copy.read_bytes())
    content[4096 * 3 : 4096 * 9] = bytes(4096 * 6)
    copy.write_bytes(content)
    assert run("restore", copy, "--data", lived_in) == 2
    assert "damaged" in capsys.readouterr().err
    assert len(state(lived_in)["events"]) == 4


def test_an_export_read_in_elsewhere_is_the_same_household(
    lived_in: Path, tmp_path: Path, capsys: Said
) -> None:
    before = state(lived_in)
    assert run("export", tmp_path / "out", "--data", lived_in) == 0
    assert run("import", tmp_path / "out", "--data", tmp_path / "elsewhere") == 0
    assert "1 trips and 4 events added" in capsys.readouterr().out
    assert state(tmp_path / "elsewhere") == before


def test_an_export_read_in_twice_adds_nothing(lived_in: Path, tmp_path: Path, capsys: Said) -> None:
    before = state(lived_in)
    run("export", tmp_path / "out", "--data", lived_in)
    assert run("import", tmp_path / "out", "--data", lived_in) == 0
    assert "0 trips and 0 events added; here before: 1 trips, 4 events." in capsys.readouterr().out
    assert state(lived_in) == before


def test_an_export_holds_no_key_and_defuses_formulas(lived_in: Path, tmp_path: Path) -> None:
    key = key_for(lived_in, name="Pantry phone")
    run("export", tmp_path / "out", "--data", lived_in)
    text = (tmp_path / "out" / "export.json").read_text()
    assert "Pantry phone" in text
    assert key not in text
    assert "hash" not in text
    rows = list(csv.DictReader((tmp_path / "out" / "trips.csv").open(encoding="utf-8", newline="")))
    assert rows[0]["title"] == "'=Oats; again"  # or a spreadsheet would reckon it
    rows = list(csv.DictReader((tmp_path / "out" / "events.csv").open(encoding="utf-8", newline="")))
    assert [row["kind"] for row in rows] == ["in_trolley", "undone", "smelled_good", "in_trolley"]


Spoil = Callable[[dict[str, Any]], object]
SPOILT: dict[str, Spoil] = {
    "events[0].trip": lambda whole: whole["events"][0].update(trip="no-such-week"),
    "events[1].what.kind": lambda whole: whole["events"][1].update(what={}),
    "events[1].counter": lambda whole: whole["events"][1].update(counter=-1),
    "trips[0].document.stores": lambda whole: whole["trips"][0]["document"].update(stores=[]),
    "format": lambda whole: whole.update(format="other"),
}


@pytest.mark.parametrize("field", SPOILT)
def test_an_export_that_was_spoilt_by_hand_is_told_by_field_and_not_taken(
    lived_in: Path, tmp_path: Path, capsys: Said, field: str
) -> None:
    run("export", tmp_path / "out", "--data", lived_in)
    file = tmp_path / "out" / "export.json"
    whole = json.loads(file.read_text())
    SPOILT[field](whole)
    file.write_text(json.dumps(whole))
    capsys.readouterr()
    assert run("import", tmp_path / "out", "--data", tmp_path / "elsewhere") == 2
    assert f"export.json: {field}: found" in capsys.readouterr().err
    assert state(tmp_path / "elsewhere")["trips"] == []


def test_an_export_with_another_event_under_a_known_id_is_not_taken(
    lived_in: Path, tmp_path: Path, capsys: Said
) -> None:
    run("export", tmp_path / "out", "--data", lived_in)
    file = tmp_path / "out" / "export.json"
    file.write_text(file.read_text().replace('"units":2', '"units":9'))
    before = state(lived_in)
    assert run("import", tmp_path / "out", "--data", lived_in) == 2
    assert "events[3].id" in capsys.readouterr().err
    assert state(lived_in) == before


def household(data: Path) -> list[Any]:
    """Everything that the household keeps beside its trips, line by line."""
    return over(data, lambda store: store.look(lambda connection: list(read_lines(connection))))


def snapshot_of(data: Path) -> Snapshot:
    """The household's records as they stand."""
    return over(data, lambda store: Home(SqliteRecords(store)).snapshot())


@pytest.fixture
def settled(lived_in: Path) -> Path:
    """With records in several versions, an import, one that was taken back, typed rows, a shared text."""

    async def live(store: SqliteStore) -> None:
        home, facts = Home(SqliteRecords(store)), SqliteFacts(store)
        await home.save((STORE, OATS, OATS_TAG, COUPON), words="Oats", device="desk")
        await home.save((msgspec.structs.replace(STORE, region="north"),), words="North", device="desk")
        await home.remove("coupon", COUPON.id, device="desk")
        seen = PriceRow(
            product="oats", store="alder", day="2026-11-07", cents=219, each_cents=219, how="import"
        )
        await home.save((), words="Prices", device="desk", prices=(seen,))
        gone = await home.save((), words="Others", device="desk", prices=(seen, seen), stock=(COUNTED,))
        await home.take_back(gone, device="desk")
        await facts.add_prices("typed", (msgspec.structs.replace(seen, cents=189, how="typed"),))
        await facts.add_stock("typed", (COUNTED,))
        text = SharedText(id="t1", device="phone-a", at="2026-11-30", title="", text="$1/2 oats", url="")
        await SqliteSharedTexts(store).keep((text,))

    over(lived_in, live)
    return lived_in


COUNTED = StockRow(product="oats", day="2026-11-07", units=3, how="counted")


def test_an_export_carries_the_household_with_every_version(settled: Path, tmp_path: Path) -> None:
    before = household(settled)
    assert run("export", tmp_path / "out", "--data", settled) == 0
    assert run("import", tmp_path / "out", "--data", tmp_path / "elsewhere") == 0
    assert household(tmp_path / "elsewhere") == before
    assert run("import", tmp_path / "out", "--data", tmp_path / "elsewhere") == 0
    assert household(tmp_path / "elsewhere") == before  # what is here does not come twice
    here, there = (snapshot_of(data) for data in (settled, tmp_path / "elsewhere"))
    assert here == there


def test_a_backup_carries_the_household(settled: Path, tmp_path: Path) -> None:
    before = household(settled)
    run("backup", tmp_path / "copy", "--data", settled)
    run("restore", tmp_path / "copy", "--data", tmp_path / "elsewhere")
    assert household(tmp_path / "elsewhere") == before


def test_an_export_joins_a_household_that_went_on_without_overwriting_it(
    settled: Path, tmp_path: Path, capsys: Said
) -> None:
    run("export", tmp_path / "out", "--data", settled)
    elsewhere = tmp_path / "elsewhere"

    async def begin(store: SqliteStore) -> None:
        home = Home(SqliteRecords(store))
        other = msgspec.structs.replace(OATS, description="Another kind of oats")
        await home.save((STORE, other), words="Elsewhere", device="desk")  # the store as it was at first

    over(elsewhere, begin)
    capsys.readouterr()
    assert run("import", tmp_path / "out", "--data", elsewhere) == 0
    said = capsys.readouterr().out
    # The store went on from what it was there; the tag is new.
    assert "2 records, 2 prices, 1 stock moves, 1 notes added; here before: 1 records." in said
    assert "1 records stand otherwise here" in said
    snapshot = snapshot_of(elsewhere)
    assert snapshot.stores["alder"].region == "north"
    assert snapshot.products["oats"].description == "Another kind of oats"
    assert list(snapshot.coupons) == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"kind":"store"', '"kind":"shop"', "line 11, kind: found shop"),
        ('"cents":200', '"cents":-200', "document.cents: found -200"),
        ('"region":"north"', '"channel_of":"nowhere"', "document.channel_of: found nowhere"),
        ("counterfoil-household-1", "counterfoil-household-9", "line 1: found another format"),
        ('{"line":"batch"', '{"line":"bunch"', "line 2: found"),
    ],
)
def test_a_household_that_was_spoilt_by_hand_is_told_by_line_and_nothing_is_taken(
    settled: Path, tmp_path: Path, capsys: Said, old: str, new: str, said: str
) -> None:
    run("export", tmp_path / "out", "--data", settled)
    file = tmp_path / "out" / "household.jsonl"
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new))
    assert run("import", tmp_path / "out", "--data", tmp_path / "elsewhere") == 2
    assert said in capsys.readouterr().err
    assert state(tmp_path / "elsewhere")["trips"] == []


def test_what_was_only_counted_does_not_come_twice(lived_in: Path, tmp_path: Path, capsys: Said) -> None:
    """A household without a single record, which has counted what is at home."""
    over(lived_in, lambda store: SqliteFacts(store).add_stock("typed", (COUNTED,)))
    run("export", tmp_path / "out", "--data", lived_in)
    before = household(lived_in)
    assert run("import", tmp_path / "out", "--data", lived_in) == 0
    assert "0 records, 0 prices, 0 stock moves" in capsys.readouterr().out
    assert household(lived_in) == before


def test_an_export_that_changes_while_it_is_read_is_not_taken_by_halves(
    settled: Path, tmp_path: Path, capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is looked through first and then read again, line by line, inside the one transaction."""
    run("export", tmp_path / "out", "--data", settled)
    file = tmp_path / "out" / "household.jsonl"

    def changed_meanwhile(*given: Any) -> Any:
        file.write_text(file.read_text().replace("$1/2 oats", "$2/1 oats"))
        return take_in(*given)

    monkeypatch.setattr("counterfoil.exports.take_in", changed_meanwhile)
    assert run("import", tmp_path / "out", "--data", tmp_path / "elsewhere") == 2
    assert "it was changed while it was read: import it again" in capsys.readouterr().err
    assert state(tmp_path / "elsewhere")["trips"] == []
    assert household(tmp_path / "elsewhere") == []


def test_an_export_of_any_size_is_read_in_with_little_memory(lived_in: Path, tmp_path: Path) -> None:
    """Forty photos of half a megabyte; a line of the file has one of them."""
    with sqlite3.connect(lived_in / FILE_NAME) as connection:
        connection.executemany(
            "INSERT INTO receipt_photos (id, jpeg, width, height, kept_at) VALUES (?, ?, 9, 9, '')",
            ((f"{n:064}", random.Random(n).randbytes(500_000)) for n in range(40)),
        )
    run("export", tmp_path / "out", "--data", lived_in)
    assert (tmp_path / "out" / "household.jsonl").stat().st_size > 25_000_000
    tracemalloc.start()
    try:
        assert run("import", tmp_path / "out", "--data", tmp_path / "elsewhere") == 0
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most < 12_000_000
    assert over(tmp_path / "elsewhere", lambda store: store.look(_photos)) == 40


def _photos(connection: sqlite3.Connection) -> int:
    return connection.execute("SELECT COUNT(*) FROM receipt_photos").fetchone()[0]


def test_rebuild_reckons_prices_and_stock_of_trips_again(settled: Path, capsys: Said) -> None:
    assert run("rebuild", "--data", settled) == 0
    before = over(settled, lambda store: store.look(reckoned_facts))
    assert before
    with sqlite3.connect(settled / FILE_NAME) as connection:
        connection.execute("UPDATE prices_seen SET cents = 1, each_cents = 1 WHERE source LIKE 'trip:%'")
    capsys.readouterr()
    assert run("rebuild", "--data", settled) == 0
    assert "is mended" in capsys.readouterr().out
    assert over(settled, lambda store: store.look(reckoned_facts)) == before


def test_rebuild_mends_what_was_reckoned_wrong(lived_in: Path, capsys: Said) -> None:
    before = state(lived_in)
    assert run("rebuild", "--data", lived_in) == 0
    assert "nothing was off" in capsys.readouterr().out
    with sqlite3.connect(lived_in / FILE_NAME) as connection:
        connection.execute("UPDATE trip_progress SET events = 99")
    assert run("rebuild", "--data", lived_in) == 0
    assert "is mended" in capsys.readouterr().out
    assert state(lived_in) == before


def test_a_code_from_the_command_line_lets_an_owner_in_again(lived_in: Path, capsys: Said) -> None:
    """Her browser forgot its cookie; the machine itself is still hers."""
    assert run("pair", "--owner", "--data", lived_in) == 0
    code = capsys.readouterr().out.split()[-1]

    async def redeem(store: SqliteStore) -> str:
        redeemed = await SqliteKeyring(store).redeem(code, "Kitchen computer")
        assert redeemed is not None
        return redeemed[1].role

    assert over(lived_in, redeem) == "owner"


@pytest.mark.parametrize("command", [["backup", "x"], ["export", "x"], ["rebuild"], ["pair"]])
def test_a_folder_without_data_is_named_and_not_made(
    tmp_path: Path, command: list[str], capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(*command, "--data", tmp_path / "nowhere") == 2
    assert "mend: " in capsys.readouterr().err
    assert not (tmp_path / "nowhere").exists()
