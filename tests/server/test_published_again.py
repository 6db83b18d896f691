"""Promise kept here: what was published is in every backup and export, and is made again of it, at the same
addresses, once the folder is gone."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

import msgspec
import pytest

from counterfoil.cli import main
from counterfoil.store import schema
from counterfoil.store.copies import back_up
from counterfoil.store.sqlite import SqliteStore
from tests.after.readers import files
from tests.after.test_publishing_commands import PAGE, published, words

from .conftest import Client, paired, small_trip

Said = pytest.CaptureFixture[str]


def run(*arguments: str | Path) -> int:
    return main([str(argument) for argument in arguments])


def bring_in(client: Client, **changed: Any) -> None:
    trip = msgspec.structs.replace(small_trip(), **changed)
    assert client.post("/api/trips", content=msgspec.json.encode(trip)).status_code == 201


def started(data: Path) -> str:
    """What the Desk says of the published pages once a server over ``data`` runs."""
    with paired(data) as client:
        return words(client.get("/desk/published", headers=PAGE).text)


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Data of a household that has published a trip."""
    with paired(tmp_path / "data") as client:
        bring_in(client)
        published(client, introduction="Oats are cheap.\n\nGo early.")
    return tmp_path / "data"


def test_a_restored_household_has_its_pages_again_byte_by_byte(
    data: Path, tmp_path: Path, capsys: Said
) -> None:
    before = files(data / "published")
    assert run("backup", tmp_path / "copy", "--data", data) == 0
    elsewhere = tmp_path / "elsewhere"
    capsys.readouterr()
    assert run("restore", tmp_path / "copy", "--data", elsewhere) == 0
    assert "1 published pages are made again, at their addresses, when the server" in capsys.readouterr().out
    assert "trips/2026-12-05/index.html" in started(elsewhere)
    assert files(elsewhere / "published") == before
    assert b"Go early." in before["trips/2026-12-05/index.html"]


def test_an_export_that_is_read_in_elsewhere_brings_the_pages_too(data: Path, tmp_path: Path) -> None:
    assert run("export", tmp_path / "out", "--data", data) == 0
    elsewhere = tmp_path / "elsewhere"
    assert run("import", tmp_path / "out", "--data", elsewhere) == 0
    assert "trips/2026-12-05/index.html" in started(elsewhere)
    assert files(elsewhere / "published") == files(data / "published")


def test_an_export_with_a_spoilt_page_is_not_taken(data: Path, tmp_path: Path, capsys: Said) -> None:
    run("export", tmp_path / "out", "--data", data)
    file = tmp_path / "out" / "household.jsonl"
    file.write_text(file.read_text().replace('"counterfoil-edition-1"', '"counterfoil-edition-9"'))
    assert run("import", tmp_path / "out", "--data", tmp_path / "elsewhere") == 2
    assert "document: found 2026-12-05; mend: take the file as" in capsys.readouterr().err


def test_a_trip_withdrawn_since_the_backup_does_not_come_back(data: Path, tmp_path: Path) -> None:
    """The folder is there, and says more of today than the backup does."""
    run("backup", tmp_path / "copy", "--data", data)
    with paired(data) as client:
        client.post("/desk/published/2026-12-05/withdraw")
    run("restore", tmp_path / "copy", "--data", data)
    assert "No trip is in the folder at the moment." in started(data)
    assert back_up(data, tmp_path / "later").pages == 0


def test_a_withdrawn_trip_leaves_the_next_backup(data: Path, tmp_path: Path) -> None:
    assert back_up(data, tmp_path / "copy").pages == 1
    with paired(data) as client:
        client.post("/desk/published/2026-12-05/withdraw")
    assert back_up(data, tmp_path / "copy").pages == 0


def test_a_trip_published_again_after_a_restore_is_known_by_its_page(data: Path, tmp_path: Path) -> None:
    run("backup", tmp_path / "copy", "--data", data)
    run("restore", tmp_path / "copy", "--data", tmp_path / "elsewhere")
    with paired(tmp_path / "elsewhere") as client:
        assert "nothing changed" in published(client, introduction="Oats are cheap.\n\nGo early.")


def test_a_folder_of_pages_without_a_copy_gets_one_at_the_next_start(data: Path, tmp_path: Path) -> None:
    with sqlite3.connect(data / "counterfoil.sqlite3") as connection:
        connection.execute("DELETE FROM published")
    started(data)
    assert back_up(data, tmp_path / "copy").pages == 1


def test_data_that_an_older_version_wrote_are_backed_up_as_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("counterfoil.store.migrations.MIGRATIONS", schema.MIGRATIONS[:6])
    SqliteStore(tmp_path / "data").prepare()
    assert back_up(tmp_path / "data", tmp_path / "copy").pages == 0
