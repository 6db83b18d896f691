"""Promise kept here: prices of two currencies are never compared. What a trip or a receipt paid is in the
money of its day, and counts in the price book while that is the household's."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from counterfoil.cli import main
from counterfoil.store.sqlite import FILE_NAME

from .conftest import Client, paired
from .test_photos_erased import bring_trip_in
from .test_settle import PURCHASE, TODAY, page, purchase, send

BY_TRIP, BY_NOTE = 175, 155  # cents for one box: 3.50 and 3.10 for two


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def desk(data: Path) -> Iterator[Client]:
    """A household after its trip and a purchase without a plan, both in dollars."""
    with paired(data, today=lambda: TODAY) as client:
        bring_trip_in(client)
        purchase(client, **PURCHASE)
        yield client


def counted_in(client: Client, currency: str) -> None:
    """The household changes its currency, and somebody looks into the larder."""
    form = next(form for form in page(client, "/desk/settings").forms if "currency" in form)
    assert send(client, form, currency=currency).status_code == 200
    page(client, "/desk/larder")


def paid(data: Path) -> list[int]:
    """What one box cost, by every receipt that the price book knows."""
    with closing(sqlite3.connect(data / FILE_NAME)) as connection:
        rows = connection.execute("SELECT each_cents FROM prices_seen WHERE how = 'paid' ORDER BY source")
        return [cents for (cents,) in rows]


def boxes(data: Path) -> int:
    with closing(sqlite3.connect(data / FILE_NAME)) as connection:
        return connection.execute("SELECT SUM(units) FROM stock_moves WHERE product = 'oats'").fetchone()[0]


def test_what_a_note_paid_counts_while_its_money_is_the_households(desk: Client, data: Path) -> None:
    page(desk, "/desk/larder")
    assert sorted(paid(data)) == [BY_NOTE, BY_TRIP]
    counted_in(desk, "EUR")
    assert paid(data) == []
    assert boxes(data) == 4  # they are at home, whatever they cost
    purchase(desk, **PURCHASE | {"cents-0": "2.60"})
    assert paid(data) == [130]
    counted_in(desk, "USD")
    assert sorted(paid(data)) == [BY_NOTE, BY_TRIP]
    assert boxes(data) == 6


def test_a_note_taken_back_in_another_money_stays_taken_back(desk: Client, data: Path) -> None:
    counted_in(desk, "EUR")
    send(desk, page(desk).form("notes"))
    counted_in(desk, "USD")
    assert paid(data) == [BY_TRIP]
    assert boxes(data) == 2


def test_a_household_of_another_currency_takes_in_no_price_of_an_export(
    desk: Client, data: Path, tmp_path: Path
) -> None:
    main(["export", str(tmp_path / "out"), "--data", str(data)])
    elsewhere = tmp_path / "elsewhere"
    with paired(elsewhere) as client:
        counted_in(client, "EUR")
    assert main(["import", str(tmp_path / "out"), "--data", str(elsewhere)]) == 0
    with paired(elsewhere) as client:
        counted_in(client, "EUR")
        assert paid(elsewhere) == []
        assert boxes(elsewhere) == 4
        counted_in(client, "USD")
        assert sorted(paid(elsewhere)) == [BY_NOTE, BY_TRIP]


def test_rebuild_reckons_what_notes_say_again(
    desk: Client, data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page(desk, "/desk/larder")
    with closing(sqlite3.connect(data / FILE_NAME)) as connection, connection:
        connection.execute("UPDATE prices_seen SET each_cents = 1 WHERE source LIKE 'note:%'")
    assert main(["rebuild", "--data", str(data)]) == 0
    assert "something had been off and is mended" in capsys.readouterr().out
    assert sorted(paid(data)) == [BY_NOTE, BY_TRIP]
    assert main(["rebuild", "--data", str(data)]) == 0
    assert "nothing was off" in capsys.readouterr().out
