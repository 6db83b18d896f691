"""Promise kept here: one form at the Desk, or one command, makes the pages; what is wrong is told."""

from __future__ import annotations

import html
import io
import json
import re
import threading
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from counterfoil.after.publishing.site import Published, publish
from counterfoil.cli import main
from tests.engine.test_alternatives import ROLLS
from tests.server.conftest import Client, paired, small_trip

FORM = "/desk/trips/oats-week/publish"
PAGE = {"Accept": "text/html"}


@pytest.fixture
def home(tmp_path: Path) -> Any:
    """A server that has the small trip, asked by its owner."""
    with paired(tmp_path / "data") as client:
        assert client.post("/api/trips", content=msgspec.json.encode(small_trip())).status_code == 201
        yield client


def words(text: str) -> str:
    """What a page's main part says, without its marks."""
    text = text[text.index("<main") :]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def filled(**more: Any) -> dict[str, Any]:
    """The form as a planner would send it."""
    return {
        "author": "Wren Tallow",
        "address": "https://list.example/deals/",
        "wants": ["breakfast"],
        "stock_up": "yes",
    } | more


def published(client: Client, **more: Any) -> str:
    """Sends the form, waits for the page, and returns what the Desk then says."""
    answer = client.post(FORM, data=filled(**more), follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/desk/published")
    while True:
        page = client.get("/desk/published", headers=PAGE)
        if "refresh" not in page.headers:
            return words(page.text)
        assert "Making the page of" in page.text


# --- at the Desk ------------------------------------------------------------------------


def test_the_form_starts_with_everything_of_the_household_off(home: Client) -> None:
    page = home.get(FORM, headers=PAGE).text
    ticked = re.findall(r'<input id="([\w-]+)"[^>]*type="checkbox"[^>]*checked>', page)
    assert ticked == ["want-breakfast", "stock_up"]
    assert "Never told: slips, gift cards, rain checks and cash" in words(page)


def test_the_form_makes_the_pages_and_the_desk_offers_the_folder(home: Client) -> None:
    said = published(home)
    assert "Deals for Saturday, 5 December 2026: Alder Row Grocers is ready." in said
    answer = home.get("/desk/published/site.zip")
    assert answer.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        names = archive.namelist()
        article = archive.read("trips/2026-12-05/index.html").decode()
    assert {"index.html", "feed.xml", "carry.html", "sw.js", "site.json"} <= set(names)
    assert "Wickel rolled oats, 500 g" in article
    assert "Oats for the week" not in article  # her own title


def test_the_next_form_remembers_address_and_name(home: Client) -> None:
    published(home)
    page = home.get(FORM, headers=PAGE).text
    assert 'value="https://list.example/deals/"' in page
    assert 'value="Wren Tallow"' in page


def test_the_form_shows_what_is_wrong_and_all_that_was_typed(home: Client) -> None:
    answer = home.post(FORM, data=filled(address="list.example", introduction="Dear <readers>", notes="yes"))
    assert answer.status_code == 400
    said = words(answer.text)
    assert "The pages were not made. What was published before stays as it is." in said
    assert (
        "Address of the site's folder (list.example): Write a whole address that begins with https://."
        in said
    )
    assert "Dear &lt;readers&gt;" in answer.text
    assert 'name="notes" type="checkbox" value="yes" checked' in answer.text
    assert "Nothing is published yet." in words(home.get("/desk/published", headers=PAGE).text)


def test_a_form_without_any_deal_is_refused(home: Client) -> None:
    answer = home.post(FORM, data=filled(wants=[]))
    assert answer.status_code == 400
    assert "Choose at least one deal that has a price on the day of the trip." in words(answer.text)


def test_a_second_page_waits_for_the_first(home: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    may_end = threading.Event()
    publishing = publish

    def slow(*given: Any, **named: Any) -> Published:
        may_end.wait(60)
        return publishing(*given, **named)

    monkeypatch.setattr("counterfoil.press.publish", slow)
    home.post(FORM, data=filled(), follow_redirects=False)
    answer = home.post(FORM, data=filled())
    assert answer.status_code == 409
    said = words(answer.text)
    assert "It is still being made: see how far it is under Published" in said
    assert "The page of this trip" in said
    may_end.set()


def test_a_server_that_stops_gives_a_page_up_between_two_deals(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = threading.Event()

    def endless(*_: Any, progress: Callable[[int, int], None], **__: Any) -> Published:
        while True:
            begun.set()
            progress(1, 2)

    monkeypatch.setattr("counterfoil.press.publish", endless)
    with paired(tmp_path / "data") as client:
        client.post("/api/trips", content=msgspec.json.encode(small_trip()))
        client.post(FORM, data=filled(), follow_redirects=False)
        assert begun.wait(60)
    # Here the server has stopped; without giving up it never would.
    assert not (tmp_path / "data" / "published" / "index.html").exists()


def test_a_page_that_cannot_be_written_is_told_at_the_desk(
    home: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("counterfoil.press.publish", full)
    assert "was not published. The folder could not be written (No space left on device)." in published(home)


def test_a_trip_is_withdrawn_at_the_desk(home: Client) -> None:
    published(home)
    answer = home.post("/desk/published/2026-12-05/withdraw", follow_redirects=False)
    assert answer.status_code == 303
    assert "No trip is in the folder at the moment." in words(home.get("/desk/published", headers=PAGE).text)
    assert home.post("/desk/published/2026-12-05/withdraw").status_code == 400


def test_no_archive_before_anything_is_published(home: Client) -> None:
    assert home.get("/desk/published/site.zip").status_code == 404


@pytest.mark.parametrize("address", [FORM, "/desk/published", "/desk/published/site.zip"])
def test_strangers_and_forms_of_other_pages_publish_nothing(home: Client, address: str) -> None:
    del home.headers["Authorization"]
    assert home.get(address, headers={"Accept": "application/json"}).status_code == 401


def test_a_form_without_its_pages_token_is_refused(home: Client) -> None:
    del home.headers["X-CSRFToken"]
    assert home.post(FORM, data=filled()).status_code == 403


# --- on the command line --------------------------------------------------------------------


@pytest.fixture
def trip_file(tmp_path: Path) -> str:
    path = tmp_path / "rolls.json"
    path.write_text(json.dumps(ROLLS))
    return str(path)


def test_the_command_publishes_and_says_where(
    trip_file: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command = [
        "publish",
        trip_file,
        str(tmp_path / "site"),
        "--address",
        "https://list.example/deals",
        "--author",
        "W",
    ]
    assert main([*command, "--title", "Rolls this week", "--deal", "rolls"]) == 0
    said = capsys.readouterr().out
    page = tmp_path / "site" / "trips" / "2026-12-05" / "index.html"
    assert said == f"Published: {page}\nPut the whole folder at https://list.example/deals/\n"
    assert "<h1>Rolls this week</h1>" in page.read_text("utf-8")
    assert main([*command, "--title", "Rolls this week"]) == 0
    assert capsys.readouterr().out.startswith("Unchanged: ")


def test_the_command_withdraws(trip_file: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    site = str(tmp_path / "site")
    main(["publish", trip_file, site, "--address", "https://list.example/", "--author", "W"])
    assert main(["withdraw", "2026-12-05", site]) == 0
    assert not (tmp_path / "site" / "trips" / "2026-12-05").exists()
    assert main(["withdraw", "2026-12-05", site]) == 2
    assert "slug: found 2026-12-05; mend: Nothing is published there." in capsys.readouterr().err


def test_the_command_tells_what_is_wrong_before_it_plans(
    trip_file: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["publish", trip_file, str(tmp_path / "site"), "--address", "here", "--author", ""]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "address: found here; mend: Write a whole address that begins with https://." in said.err
    assert "author: found nothing; mend: Write the name under which you publish" in said.err
