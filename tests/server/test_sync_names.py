"""A device's name belongs to the key that first sent under it: nobody reports as another, and a phone that
comes back with another key loses nothing of what it noted."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Generator
from contextlib import contextmanager
from http import HTTPStatus
from pathlib import Path
from typing import Any, cast

import pytest
from litestar import Litestar
from litestar.testing import TestClient
from litestar.types import Receive, Send

from counterfoil.cli import main
from counterfoil.web import create_app

from .conftest import HERE, Client, Phone, as_json, paired, small_trip
from .test_access import code_of, pair


def browser(desk: Client) -> Client:
    """A browser of its own at the server of ``desk``, which has no key yet."""
    app = cast("Litestar", desk.app)  # pyright: ignore[reportUnknownMemberType]  # the client's own looseness
    return TestClient(app, base_url=HERE, raise_server_exceptions=False)


def paired_browser(desk: Client, name: str, role: str = "phone") -> Client:
    client = browser(desk)
    assert pair(client, code_of(desk, role), name).status_code == HTTPStatus.SEE_OTHER
    return client


def revoke(desk: Client, name: str) -> None:
    """Revokes the oldest good key of a device of that name."""
    forms = desk.get("/desk/devices").text.split("</form>")
    [*_, device] = [
        id
        for form in forms
        if f'class="unseen"> {name}<' in form
        for id in re.findall(r"/desk/devices/(\w+)/revoke", form)
    ]
    assert desk.post(f"/desk/devices/{device}/revoke").status_code == HTTPStatus.OK


def refused(answer: Any) -> str:
    """The mend of a sync that was refused for its name."""
    assert answer.status_code == HTTPStatus.CONFLICT, answer.text
    error = answer.json()["error"]
    assert error["field"] == "device"
    return error["mend"]


@pytest.fixture
def anna(home: Client) -> Phone:
    """Anna's phone, which has sent something."""
    phone = Phone(paired_browser(home, "Annas phone"), "phone-a")
    phone.sync(phone.in_trolley())
    return phone


def test_a_phone_cannot_send_under_the_name_of_another(home: Client, anna: Phone) -> None:
    ben = Phone(paired_browser(home, "Bens phone"), "phone-b")
    ben.sync(ben.in_trolley())
    impostor = Phone(ben.client, "phone-a")
    mend = refused(impostor.send(impostor.in_trolley(9)))
    assert "under the name of the device called “Annas phone”" in mend
    assert "revoke its older key at the Desk, under Devices" in mend
    assert len(Phone(home, "onlooker").sync()["events"]) == 2
    anna.sync(anna.in_trolley())
    ben.sync(ben.in_trolley())


def test_who_only_asks_takes_no_name(home: Client) -> None:
    curious = Phone(paired_browser(home, "Bens phone"), "phone-a")
    curious.sync()
    phone = Phone(paired_browser(home, "Annas phone"), "phone-a")
    phone.sync(phone.in_trolley())


def test_a_phone_whose_log_was_lost_sends_under_a_new_name_by_the_same_key(anna: Phone) -> None:
    fresh = Phone(anna.client, "phone-new")
    assert len(fresh.sync(fresh.in_trolley())["acknowledged"]) == 1


def test_a_phone_revoked_and_paired_again_sends_its_old_outbox(home: Client, anna: Phone) -> None:
    waiting = [anna.in_trolley(), anna.in_trolley()]
    revoke(home, "Annas phone")
    assert anna.send(*waiting).status_code == HTTPStatus.UNAUTHORIZED
    anna.client = paired_browser(home, "Anna again")
    assert anna.sync(*waiting)["acknowledged"] == [event["id"] for event in waiting]


def test_a_browser_that_pairs_again_goes_on_as_it_was_and_its_old_key_ends(home: Client, anna: Phone) -> None:
    assert anna.client is not None
    old = anna.client.cookies["counterfoil-key"]
    pair(anna.client, code_of(home), "Anna again")
    assert anna.client.cookies["counterfoil-key"] != old
    waiting = anna.in_trolley()
    assert anna.sync(waiting)["acknowledged"] == [waiting["id"]]
    left = browser(home)
    left.headers["Authorization"] = f"Bearer {old}"
    assert left.get("/api/trips").status_code == HTTPStatus.UNAUTHORIZED


def test_a_phone_that_lost_its_key_is_told_what_frees_its_name_and_loses_nothing(
    home: Client, anna: Phone
) -> None:
    waiting = anna.in_trolley()
    anna.client = paired_browser(home, "Anna again")  # its cookies are gone, its log is not
    refused(anna.send(waiting))
    revoke(home, "Annas phone")
    assert anna.sync(waiting)["acknowledged"] == [waiting["id"]]


def test_a_program_that_pairs_another_device_keeps_its_own_key(home: Client) -> None:
    """The owner's client shows its key in a header: it speaks for others too."""
    with paired_program(home) as program:
        pair(program, code_of(home), "The pantry's")
        del program.cookies["counterfoil-key"]
        assert program.get("/api/trips").status_code == HTTPStatus.OK


@contextmanager
def paired_program(home: Client) -> Generator[Client]:
    phone = paired_browser(home, "A program")
    program = browser(home)
    program.headers["Authorization"] = f"Bearer {phone.cookies['counterfoil-key']}"
    yield program


def test_after_a_restore_the_phone_pairs_again_and_sends_all_of_its_own_again(tmp_path: Path) -> None:
    data, copy = tmp_path / "data", str(tmp_path / "copy")
    with paired(data) as home:
        home.post("/api/trips", json=as_json(small_trip()))
        assert main(["backup", copy, "--data", str(data)]) == 0
        early = Phone(paired_browser(home, "Annas phone"), "phone-a")
        noted = [early.in_trolley(), early.in_trolley()]
        early.sync(*noted)
    assert main(["restore", copy, "--data", str(data)]) == 0
    with paired(data) as home:
        again = browser(home)
        assert early.client is not None
        again.cookies = early.client.cookies
        early.client = again
        assert early.send(*noted).status_code == HTTPStatus.UNAUTHORIZED
        pair(again, code_of(home), "Annas phone")
        assert early.sync(*noted)["acknowledged"] == [event["id"] for event in noted]


def test_a_key_that_was_revoked_since_the_backup_holds_no_name_after_it(tmp_path: Path) -> None:
    data, copy = tmp_path / "data", str(tmp_path / "copy")
    with paired(data) as home:
        home.post("/api/trips", json=as_json(small_trip()))
        anna = Phone(paired_browser(home, "Annas phone"), "phone-a")
        first = anna.in_trolley()
        anna.sync(first)
        main(["backup", copy, "--data", str(data)])
        revoke(home, "Annas phone")
    main(["restore", copy, "--data", str(data)])
    with paired(data) as home:
        anna.client = paired_browser(home, "Anna again")
        assert anna.sync(first)["acknowledged"] == [first["id"]]


# --- at the server's own machine -----------------------------------------------------------------


@contextmanager
def trusting(data: Path) -> Generator[Client]:
    """A server that trusts its own machine, asked from there without a key."""
    app = create_app(data, trusts_this_machine=True)

    async def from_here(scope: Any, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            scope["client"] = ("127.0.0.1", 50_000)
        await app(scope, receive, send)

    with TestClient(from_here, base_url="http://127.0.0.1", raise_server_exceptions=False) as client:
        client.get("/pair")
        client.headers["X-CSRFToken"] = client.cookies["counterfoil-form"]
        yield cast("Client", client)


@pytest.fixture
def data(tmp_path: Path) -> Path:
    with trusting(tmp_path) as here:
        assert here.post("/api/trips", json=as_json(small_trip())).status_code == HTTPStatus.CREATED
        Phone(here, "desk-browser").sync(Phone(here, "desk-browser").in_trolley())
    return tmp_path


def test_the_browser_at_the_servers_machine_needs_no_key_and_no_phone_sends_as_it(data: Path) -> None:
    with paired(data, role="phone") as phone:
        impostor = Phone(phone, "desk-browser")
        mend = refused(impostor.send(impostor.event({"kind": "smelled_good"})))
        assert "the browser at the server's own machine" in mend
        assert "pair it by an owner's code" in mend
    with trusting(data) as here:
        later = Phone(here, "desk-browser")
        later.sync(*(later.in_trolley() for _ in range(3)))


def test_that_browser_paired_by_an_owners_code_goes_on_under_its_name(data: Path) -> None:
    with paired(data, role="owner") as here:
        browser = Phone(here, "desk-browser")
        events = [browser.in_trolley() for _ in range(2)]
        assert len(browser.sync(*events)["acknowledged"]) == 2
    with paired(data, role="owner") as other:
        refused(Phone(other, "desk-browser").send(Phone(other, "desk-browser").in_trolley()))


def test_whoever_sits_at_the_trusted_machine_may_go_on_as_a_browser_that_was_paired(tmp_path: Path) -> None:
    with paired(tmp_path) as home:
        home.post("/api/trips", json=as_json(small_trip()))
        phone = Phone(home, "desk-browser")
        phone.sync(phone.in_trolley())
    with trusting(tmp_path) as here:
        phone.client = here
        phone.sync(phone.in_trolley())


def test_events_of_an_older_version_tie_their_name_to_the_first_key_that_sends_again(tmp_path: Path) -> None:
    with paired(tmp_path) as home:
        home.post("/api/trips", json=as_json(small_trip()))
        phone = Phone(home, "phone-a")
        phone.sync(phone.in_trolley())
    with sqlite3.connect(tmp_path / "counterfoil.sqlite3") as connection:
        connection.execute("DELETE FROM senders")
    with paired(tmp_path) as home:
        phone.client = home
        phone.sync(phone.in_trolley())
