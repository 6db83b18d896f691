"""Nobody in who should not be: keys of paired devices, codes that work once, and what strangers get."""

from __future__ import annotations

import asyncio
import re
import sqlite3
from pathlib import Path
from typing import Any, cast

import httpx
import pytest
from litestar.testing import TestClient

from counterfoil.access import PAIRINGS_A_MINUTE, SYNCS_A_MINUTE
from counterfoil.store.interface import Keyring, Role
from counterfoil.store.keyring import CODE_LENGTH, SqliteKeyring, plain_code
from counterfoil.store.sqlite import FILE_NAME, SqliteStore
from counterfoil.web import create_app

from .conftest import HERE, Client, Phone, paired


def code_of(desk: Client, role: str = "phone") -> str:
    """A code as the Desk shows it."""
    page = desk.post("/desk/devices/codes", data={"role": role})
    assert page.status_code == 200, page.text
    [code] = re.findall(r'<p class="code">([^<]+)</p>', page.text)
    return code


def pair(stranger: Client, code: str, name: str = "Pantry phone") -> httpx.Response:
    """A new device opens the link and sends the form."""
    form = stranger.get(f"/pair/{code}", headers={"Accept": "text/html"})
    [token] = re.findall(r'name="_csrf_token" value="([^"]+)"', form.text)
    fields = {"_csrf_token": token, "code": code, "name": name}
    return stranger.post("/pair", data=fields, follow_redirects=False)


def test_a_phone_pairs_by_a_code_of_the_desk_and_may_shop(home: Client, stranger: Client) -> None:
    answer = pair(stranger, code_of(home))
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert stranger.get("/api/trips").json()["trips"][0]["id"] == "oats-week"
    phone = Phone(stranger, "phone-a")
    assert len(phone.sync(phone.in_trolley())["acknowledged"]) == 1
    assert "Pantry phone" in home.get("/desk/devices").text


@pytest.mark.parametrize(
    "address",
    ["/api/trips", "/api/trips/oats-week", "/api/trips/no-such-week", "/desk", "/desk/trips/no-such-week"],
)
def test_a_stranger_is_told_the_same_whatever_he_guesses(
    home: Client, stranger: Client, address: str
) -> None:
    answer = stranger.get(address)
    assert answer.status_code == 401
    assert answer.json()["error"]["field"] == "key"
    assert "/pair" in answer.json()["error"]["mend"]
    assert answer.headers["www-authenticate"] == "Bearer"
    assert "oats" not in answer.text.lower()


def test_a_stranger_changes_nothing(home: Client, stranger: Client) -> None:
    phone = Phone(stranger, "phone-x")
    assert phone.send(phone.in_trolley()).status_code == 401
    assert stranger.post("/api/trips", json={}).status_code == 401
    assert Phone(home, "onlooker").sync()["events"] == []


def test_the_shell_and_its_files_are_for_everyone(stranger: Client) -> None:
    for address in (
        "/",
        "/sw.js",
        "/precache.json",
        "/precache.pack",
        "/web/styles/desk.css",
        "/pair",
        "/api/schema/trip",
    ):
        assert stranger.get(address).status_code == 200, address


def test_a_person_without_a_key_is_led_to_where_one_is_had(home: Client, stranger: Client) -> None:
    typed = {"Sec-Fetch-Mode": "navigate", "Sec-Fetch-Site": "none"}
    answer = stranger.get("/", headers=typed, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/pair")
    # By a link from elsewhere the browser keeps back the cookie of a phone that is paired.
    linked = typed | {"Sec-Fetch-Site": "cross-site"}
    assert stranger.get("/", headers=linked).status_code == 200
    assert home.get("/", headers=typed, follow_redirects=False).status_code == 200


def test_a_code_works_once(home: Client, stranger: Client) -> None:
    code = code_of(home)
    assert pair(stranger, code).status_code == 303
    second = TestClient(create_app_of(home), base_url=HERE, raise_server_exceptions=False)
    replayed = pair(second, code)
    assert replayed.status_code == 403
    assert "This code opens nothing." in replayed.text
    assert second.get("/api/trips").status_code == 401


def test_to_look_at_the_link_does_not_use_the_code_up(home: Client, stranger: Client) -> None:
    code = code_of(home)
    for _ in range(3):
        assert stranger.get(f"/pair/{code}").status_code == 200
    assert pair(stranger, code).status_code == 303


def test_a_code_may_be_typed_in_small_letters_without_its_hyphen() -> None:
    assert plain_code(" abcd2-efgh3 ") == "ABCD2EFGH3"


def test_a_code_dies_in_minutes(tmp_path: Path) -> None:
    clock = [1_000.0]

    async def story() -> None:
        store = SqliteStore(tmp_path)
        await store.open()
        keyring = SqliteKeyring(store, seconds_now=lambda: clock[0])
        late, kept = await keyring.make_code("phone", 300), await keyring.make_code("phone", 600)
        clock[0] += 300
        assert await keyring.redeem(late, "Late phone") is None
        assert await keyring.redeem(kept, "Phone") is not None
        await store.close()

    asyncio.run(story())


def test_two_phones_that_send_one_code_at_once_get_one_key(tmp_path: Path) -> None:
    async def story() -> list[Any]:
        store = SqliteStore(tmp_path)
        await store.open()
        keyring = SqliteKeyring(store)
        code = await keyring.make_code("phone", 60)
        answers = await asyncio.gather(*(keyring.redeem(code, f"Phone {n}") for n in range(8)))
        await store.close()
        return [answer for answer in answers if answer is not None]

    assert len(asyncio.run(story())) == 1


def test_guessing_is_slowed_down(home: Client, stranger: Client) -> None:
    code = code_of(home)
    for n in range(PAIRINGS_A_MINUTE):
        assert pair(stranger, f"GUESS-{n:05}").status_code == 403
    answer = pair(stranger, code)
    assert answer.status_code == 429
    assert 0 <= int(answer.headers["retry-after"]) <= 60


def test_a_device_that_syncs_too_often_is_told_when_to_come_back(home: Client) -> None:
    phone = Phone(home, "phone-a")
    statuses = {phone.send().status_code for _ in range(SYNCS_A_MINUTE)}
    assert statuses == {200}
    answer = phone.send()
    assert answer.status_code == 429
    assert "retry-after" in answer.headers
    # Others are not held up by it.
    assert home.get("/api/trips").status_code == 200


def test_a_revoked_phone_gets_nothing_more_and_keeps_its_events(home: Client, stranger: Client) -> None:
    pair(stranger, code_of(home), "Lost phone")
    phone = Phone(stranger, "phone-a")
    phone.sync(phone.in_trolley())
    [revoke] = re.findall(
        r'action="(/desk/devices/[^"]+/revoke)"(?=(?:(?!</form>).)*Lost phone)', page_of(home)
    )
    assert home.post(revoke, follow_redirects=False).status_code == 303
    answer = phone.send(phone.in_trolley())
    assert answer.status_code == 401
    assert "revoked" in answer.json()["error"]["mend"]
    assert "stays on it" in answer.json()["error"]["mend"]
    assert stranger.get("/api/trips/oats-week").status_code == 401
    assert home.post(revoke).status_code == 404


def test_a_phone_may_plan_and_shop_but_not_let_others_in(tmp_path: Path) -> None:
    with paired(tmp_path, role="phone") as phone:
        assert phone.get("/desk").status_code == 200
        assert phone.get("/desk/devices").status_code == 403
        assert phone.post("/desk/devices/codes", data={"role": "owner"}).status_code == 403


def test_an_owner_who_opens_a_phones_link_stays_the_owner(home: Client) -> None:
    code = code_of(home)
    token = home.headers["X-CSRFToken"]
    answer = home.post("/pair", data={"code": code, "_csrf_token": token}, follow_redirects=False)
    assert answer.headers["location"] == "/desk"
    assert "set-cookie" not in answer.headers


def test_the_desk_of_an_owner_can_let_another_owner_in(home: Client, stranger: Client) -> None:
    answer = pair(stranger, code_of(home, "owner"))
    assert answer.headers["location"] == "/desk"
    assert stranger.get("/desk/devices").status_code == 200


def test_the_file_holds_no_key_and_no_code(tmp_path: Path) -> None:
    async def story(role: Role) -> tuple[str, str, str]:
        store = SqliteStore(tmp_path)
        await store.open()
        keyring = SqliteKeyring(store)
        used, unused = await keyring.make_code(role, 60), await keyring.make_code(role, 60)
        redeemed = await keyring.redeem(used, "Phone")
        await store.close()
        assert redeemed is not None
        return redeemed[0], used, unused

    key, used, unused = asyncio.run(story("phone"))
    assert len(key) >= 43  # 256 bits, six to a letter
    assert len(unused) == CODE_LENGTH
    file = (tmp_path / FILE_NAME).read_bytes()
    assert not any(secret.encode() in file for secret in (key, used, unused))
    assert (tmp_path / FILE_NAME).stat().st_mode & 0o077 == 0
    with sqlite3.connect(tmp_path / FILE_NAME) as connection:
        assert [len(row[0]) for row in connection.execute("SELECT key_hash FROM devices")] == [32]


def test_a_form_of_no_page_of_ours_is_refused(home: Client) -> None:
    """A page elsewhere that knows every address still has no token."""
    del home.headers["X-CSRFToken"]
    for address in ("/desk/devices/codes", "/desk/trips", "/pair"):
        answer = home.post(address, data={"role": "owner"})
        assert answer.status_code == 403, address
        assert "reload the page" in answer.json()["error"]["mend"]


def test_over_https_the_cookie_is_tied_to_host_and_tls(home: Client, stranger: Client) -> None:
    code = code_of(home)
    secure = TestClient(
        create_app_of(home), base_url="https://kitchen.local:8443", raise_server_exceptions=False
    )
    answer = pair(secure, code)
    assert answer.status_code == 303
    assert "__Host-counterfoil-key=" in answer.headers["set-cookie"]
    assert "Secure" in answer.headers["set-cookie"]
    assert answer.headers["strict-transport-security"].startswith("max-age=")
    assert secure.get("/api/trips").status_code == 200


def test_a_key_of_https_opens_nothing_over_http(home: Client, stranger: Client) -> None:
    key = home.headers["Authorization"].partition(" ")[2]
    assert stranger.get("/api/trips", headers={"Cookie": f"counterfoil-key={key}"}).status_code == 200
    assert stranger.get("/api/trips", headers={"Cookie": f"__Host-counterfoil-key={key}"}).status_code == 401


@pytest.mark.parametrize(
    ("client_host", "headers", "status"),
    [
        ("127.0.0.1", {"Host": "localhost:8000"}, 200),
        ("::1", {"Host": "[::1]:8000"}, 200),
        ("192.168.1.7", {"Host": "localhost:8000"}, 401),
        ("127.0.0.1", {"Host": "192.168.1.20:8000"}, 401),
        ("127.0.0.1", {"Host": "list.example"}, 401),
        ("127.0.0.1", {"Host": "localhost:8000", "X-Forwarded-For": "192.168.1.7"}, 401),
        ("127.0.0.1", {"Host": "localhost:8000", "Forwarded": "for=192.168.1.7"}, 401),
    ],
)
@pytest.mark.parametrize("trusted", [True, False])
def test_a_trusted_machine_is_known_by_the_loopback_and_its_own_name(
    tmp_path: Path, client_host: str, headers: dict[str, str], status: int, trusted: bool
) -> None:
    app = create_app(tmp_path, trusts_this_machine=trusted, allowed_hosts=["list.example"])
    assert asked_from(app, client_host, headers) == (status if trusted else 401)


def test_the_keyring_is_what_the_interface_says(tmp_path: Path) -> None:
    assert isinstance(SqliteKeyring(SqliteStore(tmp_path)), Keyring)


def create_app_of(client: Client) -> Any:
    """The application that a client asks, for a further client."""
    return cast(Any, client).app


def page_of(desk: Client) -> str:
    """The list of devices on one line, for a search across its marks."""
    return desk.get("/desk/devices").text.replace("\n", " ")


def asked_from(app: Any, client_host: str, headers: dict[str, str]) -> int:
    """The status of the trips for someone at an address."""

    async def ask() -> int:
        transport = httpx.ASGITransport(app, client=(client_host, 50_000))
        async with httpx.AsyncClient(transport=transport, base_url=HERE) as client:
            return (await client.get("/api/trips", headers=headers)).status_code

    with TestClient(app, base_url=HERE) as inner, inner.portal() as portal:
        return portal.call(ask)
