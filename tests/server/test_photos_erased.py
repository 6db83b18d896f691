"""Promise kept here: a receipt's photo can be erased for good, after a page has asked. The record tells that
it was, no byte of it is left in the data or in later copies, and no older copy brings it back."""

from __future__ import annotations

import io
import random
import re
from collections.abc import Iterator
from http import HTTPStatus
from pathlib import Path
from typing import Any

import msgspec
import pytest
from PIL import Image

from counterfoil.cli import main

from .conftest import Client, Phone, paired
from .test_settle import DONE, REFUND_OF_TRIP, TODAY, TRIP, Page, page, send, upload

WORDS = "card digits on it"


def receipt() -> bytes:
    """A picture in which no two places are alike, so that any piece of it would be known again."""
    grain = random.Random(7).randbytes(240 * 320)
    out = io.BytesIO()
    Image.frombytes("L", (240, 320), grain).save(out, "PNG")
    return out.getvalue()


def id_on(html: str) -> str:
    found = re.search(r'src="/desk/settle/photos/([0-9a-f]{64})\.jpg"', html)
    assert found is not None, html
    return found[1]


def pieces(jpeg: bytes) -> list[bytes]:
    """Some of its bytes, from its first to its last."""
    return [jpeg[at : at + 40] for at in range(0, len(jpeg) - 40, len(jpeg) // 25)]


def found_in(folder: Path, jpeg: bytes) -> list[str]:
    """Files below the folder that hold any piece of the picture."""
    return [
        path.name
        for path in sorted(folder.rglob("*"))
        if path.is_file() and any(piece in path.read_bytes() for piece in pieces(jpeg))
    ]


def erase(client: Client, photo: str) -> Any:
    """Presses the button of the page that asks."""
    asking = page(client, f"/desk/settle/photos/{photo}/erase?trip=oats-week")
    form = next(form for form in asking.forms if form["action"].endswith("/erase"))
    return send(client, form)


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def desk(data: Path) -> Iterator[Client]:
    """A household after its trip."""
    with paired(data, today=lambda: TODAY) as client:
        bring_trip_in(client)
        yield client


def bring_trip_in(client: Client) -> None:
    assert client.post("/api/trips", content=msgspec.json.encode(TRIP)).status_code == 201
    phone = Phone(client, "phone-1")
    phone.sync(phone.event(msgspec.to_builtins(DONE)))


def kept(desk: Client) -> tuple[str, bytes]:
    """A photo's id and its bytes as they are kept."""
    photo = id_on(upload(desk, receipt(), words=WORDS).text)
    return photo, desk.get(f"/desk/settle/photos/{photo}.jpg").content


def test_a_page_asks_first_and_says_what_it_means(desk: Client) -> None:
    photo, jpeg = kept(desk)
    assert f"/desk/settle/photos/{photo}/erase?trip=oats-week" in desk.get(REFUND_OF_TRIP).text
    asking = page(desk, f"/desk/settle/photos/{photo}/erase?trip=oats-week").text
    assert "There is no way to take this back." in asking
    assert f"A receipt of Oats for the week; {WORDS}." in asking
    assert "backups, exports, and data that a restore set aside" in asking
    assert desk.get(f"/desk/settle/photos/{photo}.jpg").content == jpeg


def test_the_record_tells_that_a_photo_was_here_and_on_which_day_it_was_erased(desk: Client) -> None:
    photo, _ = kept(desk)
    said = Page(erase(desk, photo).text).text
    assert "The photo is erased." in said
    assert re.search(rf"Receipt, 6 December: {WORDS}\. Its photo was erased on \d+ [A-Z]\w+", said)
    assert "photo of Oats for the week. " + WORDS in said
    gone = desk.get(f"/desk/settle/photos/{photo}.jpg")
    assert gone.status_code == HTTPStatus.GONE
    assert "cannot be brought back" in gone.text
    assert desk.get(f"/desk/settle/photos/{photo}/erase").status_code == HTTPStatus.GONE


def test_no_byte_of_it_is_left_in_the_data_while_the_server_runs(desk: Client, data: Path) -> None:
    photo, jpeg = kept(desk)
    assert found_in(data, jpeg) != []
    erase(desk, photo)
    assert found_in(data, jpeg) == []


def test_neither_a_backup_nor_an_export_made_afterwards_holds_it(
    desk: Client, data: Path, tmp_path: Path
) -> None:
    photo, jpeg = kept(desk)
    assert main(["backup", str(tmp_path / "before"), "--data", str(data)]) == 0
    erase(desk, photo)
    (tmp_path / "later").mkdir()
    assert main(["backup", str(tmp_path / "later" / "copy"), "--data", str(data)]) == 0
    assert main(["export", str(tmp_path / "later" / "out"), "--data", str(data)]) == 0
    assert found_in(tmp_path / "later", jpeg) == []
    assert photo in (tmp_path / "later" / "out" / "household.jsonl").read_text()  # that it was
    assert any(piece in (tmp_path / "before").read_bytes() for piece in pieces(jpeg))


def test_an_older_backup_does_not_bring_it_back(data: Path, tmp_path: Path) -> None:
    with paired(data, today=lambda: TODAY) as client:
        bring_trip_in(client)
        photo, jpeg = kept(client)
        main(["backup", str(tmp_path / "before"), "--data", str(data)])
        erase(client, photo)
    assert main(["restore", str(tmp_path / "before"), "--data", str(data)]) == 0
    assert found_in(data, jpeg) == []
    with paired(data, today=lambda: TODAY) as client:
        assert client.get(f"/desk/settle/photos/{photo}.jpg").status_code == HTTPStatus.GONE
        assert "Its photo was erased on" in page(client, REFUND_OF_TRIP).text


def test_an_older_export_does_not_bring_it_back(desk: Client, data: Path, tmp_path: Path) -> None:
    photo, _ = kept(desk)
    main(["export", str(tmp_path / "out"), "--data", str(data)])
    erase(desk, photo)
    assert main(["import", str(tmp_path / "out"), "--data", str(data)]) == 0
    assert desk.get(f"/desk/settle/photos/{photo}.jpg").status_code == HTTPStatus.GONE


def test_what_was_erased_elsewhere_is_told_and_takes_nothing_away_here(
    desk: Client, data: Path, tmp_path: Path
) -> None:
    photo, jpeg = kept(desk)
    main(["export", str(tmp_path / "before"), "--data", str(data)])
    erase(desk, photo)
    main(["export", str(tmp_path / "after"), "--data", str(data)])
    for first, second, status in (("before", "after", HTTPStatus.OK), ("after", "before", HTTPStatus.GONE)):
        elsewhere = tmp_path / f"{first}-first"
        for export in (first, second):
            assert main(["import", str(tmp_path / export), "--data", str(elsewhere)]) == 0
        with paired(elsewhere) as client:
            answer = client.get(f"/desk/settle/photos/{photo}.jpg")
            assert answer.status_code == status
            assert (answer.content == jpeg) == (status == HTTPStatus.OK)


def test_a_photo_whose_note_was_taken_back_is_still_there_to_be_erased(desk: Client, data: Path) -> None:
    photo, jpeg = kept(desk)
    send(desk, page(desk, REFUND_OF_TRIP).form("notes"))
    said = page(desk, REFUND_OF_TRIP).text
    assert "Taken back, and still kept: a photo of 6 December" in said
    erase(desk, photo)
    assert found_in(data, jpeg) == []
    assert "still kept" not in page(desk, REFUND_OF_TRIP).text


def test_the_same_picture_can_be_kept_anew(desk: Client) -> None:
    photo, jpeg = kept(desk)
    erase(desk, photo)
    assert kept(desk) == (photo, jpeg)
    assert "erased on" not in page(desk, REFUND_OF_TRIP).text


def test_erasing_is_for_owners(desk: Client, data: Path) -> None:
    photo, jpeg = kept(desk)
    with paired(data, role="phone") as shopper:
        answer = shopper.post(f"/desk/settle/photos/{photo}/erase")
        assert answer.status_code == HTTPStatus.FORBIDDEN
        assert "pairing, revoking and erasing are for an owner's device" in answer.text
    assert desk.get(f"/desk/settle/photos/{photo}.jpg").content == jpeg
