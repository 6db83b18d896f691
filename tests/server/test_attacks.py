"""What an attacker would send, and how it ends: nothing gets out, nothing gets in, nothing falls over.

Codes, keys and guessed addresses are in ``test_access.py``; scripts, and forms of other sites, in
``tests/browser/test_attacks_in_a_browser.py``; made-up bodies in ``test_interface_fuzzed.py``.
"""

from __future__ import annotations

import asyncio
import gzip
import json
import logging
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from counterfoil.security import LARGEST_BATCH, LARGEST_BODY, LARGEST_TRIP
from counterfoil.shipped import web_folder
from counterfoil.web import create_app
from tests.faults.victim import Victim

from .conftest import Client, Phone, as_json, key_for, paired, small_trip
from .test_access import code_of, pair

PATHS_OUT = [
    "/web/../pyproject.toml",
    "/web/../../../../../../etc/passwd",
    "/web/%2e%2e/pyproject.toml",
    "/web/..%2fpyproject.toml",
    "/web/..%2f..%2f..%2f..%2f..%2fetc%2fpasswd",
    "/web/%252e%252e/pyproject.toml",
    "/web/phone/../../server/web.py",
    "/web//etc/passwd",
    "/web/%2fetc%2fpasswd",
    "/web/..\\..\\pyproject.toml",
    "/web/%5c..%5c..%5cpyproject.toml",
    "/web/templates/desk.html",
    "/web/phone/../templates/desk.html",
    "/web/./templates/desk.html",
    "/web/vendor/../templates/base.html",
    "/web/phone/main.js%00.png",
    "/web/.env",
    "/icons/../pyproject.toml",
    "/icons/..%2ftemplates%2fdesk.html",
    "/icons/%2e%2e/%2e%2e/pyproject.toml",
    "/web/" + "a" * 5_000 + ".js",
]


@pytest.fixture(scope="module")
def victim(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Victim]:
    """A real server, whose machine is trusted, so that nothing but the attack stands in the way."""
    server = Victim(tmp_path_factory.mktemp("attacked") / "data").start()
    server.post("/api/trips", as_json(small_trip()))
    yield server
    server.kill()


def wire(victim: Victim, *parts: bytes) -> bytes:
    """Sends bytes as they are; what comes back until the server closes."""
    with socket.create_connection(("127.0.0.1", victim.port), 30) as connection:
        answer = b""
        try:
            for part in parts:
                connection.sendall(part)
            while piece := connection.recv(65_536):
                answer += piece
        except ConnectionError:
            pass  # the server had enough and closed
        return answer


def get(victim: Victim, path: str) -> bytes:
    """A GET whose path no client has tidied up."""
    request = f"GET {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
    return wire(victim, request.encode())


@pytest.mark.parametrize("path", PATHS_OUT, ids=range(len(PATHS_OUT)))
def test_no_path_leads_out_of_what_is_served(victim: Victim, path: str) -> None:
    answer = get(victim, path)
    first = answer.partition(b"\r\n")[0]
    assert b" 404 " in first or b" 400 " in first, first
    assert b"root:" not in answer
    assert b"[project]" not in answer
    assert b"{% extends" not in answer


def test_a_link_that_leads_out_of_what_is_served_is_not_followed(tmp_path: Path) -> None:
    from counterfoil.routes.assets import Shelf

    (tmp_path / "web").mkdir()
    (tmp_path / "secret.json").write_text("{}")
    (tmp_path / "web" / "way-out.json").symlink_to(tmp_path / "secret.json")
    assert Shelf(tmp_path / "web", b"").file("/web/way-out.json") is None
    assert Shelf(web_folder(), b"").file("/web/styles/desk.css") is not None


@pytest.mark.parametrize(
    ("path", "most"), [("/sync", LARGEST_BATCH), ("/api/trips", LARGEST_TRIP), ("/desk/trips", LARGEST_TRIP)]
)
def test_a_body_that_says_it_is_too_large_is_not_even_read(victim: Victim, path: str, most: int) -> None:
    head = (
        f"POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        f"Content-Length: {most + 1}\r\nConnection: close\r\n\r\n"
    )
    first = wire(victim, head.encode()).partition(b"\r\n")[0]
    # The Desk's form is refused for its missing token before anybody looks at its size.
    assert b" 413 " in first or (path == "/desk/trips" and b" 403 " in first)


def test_a_body_that_does_not_say_its_size_ends_at_the_limit(victim: Victim) -> None:
    head = (
        b"POST /sync HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        b"Transfer-Encoding: chunked\r\nConnection: close\r\n\r\n"
    )
    chunk = b"10000\r\n" + b" " * 0x10000 + b"\r\n"
    answer = wire(victim, head, *[chunk] * (LARGEST_BATCH // 0x10000 + 2), b"0\r\n\r\n")
    assert answer == b"" or b" 413 " in answer.partition(b"\r\n")[0]
    assert b" 200 " in get(victim, "/desk").partition(b"\r\n")[0]


@pytest.mark.parametrize("path", ["/sync", "/api/trips"])
def test_a_packed_body_is_not_unpacked(client: Client, path: str) -> None:
    bomb = gzip.compress(b" " * 100_000_000)
    assert len(bomb) < 200_000
    answer = client.post(path, content=bomb, headers={"Content-Encoding": "gzip"})
    assert answer.status_code == 415
    assert answer.json()["error"]["field"] == "Content-Encoding"


@pytest.mark.parametrize("path", ["/sync", "/api/trips"])
@pytest.mark.parametrize(
    "body",
    [
        b"[" * 1_000_000,
        b'{"a":' * 500_000 + b"1" + b"}" * 500_000,
        b'{"device":"a","events":' + b"[" * 100_000 + b"]" * 100_000 + b"}",
        b'{"a":' + b"9" * 1_000_000 + b"}",
        b'{"a":1e999999999}',
        b'{"a":"' + b"\\u0000" * 100_000 + b'"}',
        b'{"a":"\\ud800"}',
        b"\xff\xfe\x00\x00",
        b'{"device":"a","device":"b","device":"c"}',
        b"null",
        b"[]",
        b"",
    ],
    ids=range(12),
)
def test_strange_json_is_bad_input(client: Client, path: str, body: bytes) -> None:
    answer = client.post(path, content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code in (200, 400), answer.text
    if answer.status_code == 200:  # the last of equal names counts, as everywhere
        assert answer.json()["acknowledged"] == []


def test_brackets_as_deep_as_they_will_go_are_kept_and_hurt_nobody(home: Client) -> None:
    """A kind that is not known is kept to the letter, and its letters may be anything."""
    phone = Phone(home, "phone-a")
    event = phone.event({"kind": "deep", "in": "HERE"})
    for depth in (900, 50_000):
        text = json.dumps({"device": "phone-a", "events": [event]}).replace(
            '"HERE"', "[" * depth + "]" * depth
        )
        first = home.post("/sync", content=text)
        assert first.status_code in (200, 400), first.text
        again = home.post("/sync", content=text.replace("[[", "[ ["))
        assert again.status_code in (200, 400, 409), again.text
        event["id"] += "x"
    assert home.get("/desk/trips/oats-week").status_code == 200
    assert Phone(home, "phone-b").send().status_code == 200


def test_a_form_of_a_hundred_thousand_fields_is_refused(client: Client) -> None:
    token = client.headers["X-CSRFToken"]
    fields = "&".join(f"f{n}=" for n in range(100_000))
    answer = client.post(
        "/pair",
        content=f"_csrf_token={token}&{fields}"[: LARGEST_BODY + 1],
        headers={"Content-Type": "application/x-www-form-urlencoded"},
    )
    assert answer.status_code in (400, 413)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"--x",
        b"--x\r\n\r\n--x--",
        b'--x\r\nContent-Disposition: form-data; name="trip"\r\n\r\n{}\r\n--x--',
    ],
    ids=range(4),
)
def test_a_broken_upload_is_bad_input(client: Client, content: bytes) -> None:
    headers = {"Content-Type": "multipart/form-data; boundary=x", "Accept": "text/html"}
    assert client.post("/desk/trips", content=content, headers=headers).status_code == 400


@pytest.mark.parametrize(
    "trip_id",
    ["' OR 1=1 --", "'; DROP TABLE events; --", "%00", "%ff%fe", "..%2f..", "\N{SNOWMAN}", "a" * 4000],
)
def test_an_id_is_only_an_id(home: Client, trip_id: str) -> None:
    for path in (f"/api/trips/{trip_id}", f"/desk/trips/{trip_id}"):
        assert home.get(path).status_code in (400, 404), path
    assert home.get("/api/trips").json()["trips"][0]["id"] == "oats-week"


AT_THE_END = b"\r\nConnection: close\r\n\r\n"
HEADS = {
    "no host": b"GET / HTTP/1.1\r\n\r\n",
    "two hosts": b"GET / HTTP/1.1\r\nHost: localhost\r\nHost: elsewhere.example" + AT_THE_END,
    "user in host": b"GET /desk HTTP/1.1\r\nHost: localhost@elsewhere.example" + AT_THE_END,
    "broken host": b"GET /desk HTTP/1.1\r\nHost: [::1" + AT_THE_END,
    "absolute": b"GET http://elsewhere.example/desk HTTP/1.1\r\nHost: elsewhere.example" + AT_THE_END,
    "two lengths": b"POST /sync HTTP/1.1\r\nHost: localhost\r\nContent-Length: 5\r\n"
    + b"Transfer-Encoding: chunked"
    + AT_THE_END
    + b"0\r\n\r\n",
    "negative": b"POST /sync HTTP/1.1\r\nHost: localhost\r\nContent-Length: -1" + AT_THE_END,
    "trace": b"TRACE / HTTP/1.1\r\nHost: localhost" + AT_THE_END,
    "endless cookie": b"GET /desk HTTP/1.1\r\nHost: localhost\r\nCookie: " + b"a" * 2_000_000 + AT_THE_END,
    "tls to the plain port": b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n",
}


@pytest.mark.parametrize("raw", HEADS.values(), ids=HEADS)
def test_strange_heads_are_refused_and_the_server_goes_on(victim: Victim, raw: bytes) -> None:
    answer = wire(victim, raw)
    first = answer.partition(b"\r\n")[0]
    assert not first or int(first.split()[1]) in (400, 401, 404, 405, 408, 413, 421, 431), first
    assert b"Traceback" not in answer
    assert b" 200 " in get(victim, "/desk").partition(b"\r\n")[0]


def test_a_body_in_drips_is_given_up_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("counterfoil.security.BODY_SECONDS", 0.05)
    app: Any = create_app(tmp_path)
    key = key_for(tmp_path)
    headers = [(b"host", b"localhost"), (b"authorization", f"Bearer {key}".encode())]
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "POST", "scheme": "http",
        "path": "/sync", "raw_path": b"/sync", "query_string": b"", "root_path": "", "headers": headers,
        "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80), "state": {},
    }  # fmt: skip
    sent: list[Any] = []

    async def drip() -> Any:
        await asyncio.sleep(0.01)
        return {"type": "http.request", "body": b" ", "more_body": True}

    async def keep(message: Any) -> None:
        sent.append(message)

    async def story() -> None:
        async with app.lifespan():
            await app(scope, drip, keep)

    asyncio.run(story())
    assert sent[0]["status"] == 408


def test_a_head_in_drips_is_given_up_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """A connection that sends half a line, and one that sends nothing, are closed at the deadline."""
    import uvicorn

    from counterfoil.cli import patience

    monkeypatch.setattr(patience, "HEAD_SECONDS", 0.05)

    async def nobody(scope: Any, receive: Any, send: Any) -> None:
        raise AssertionError("no request was whole")

    async def story(first: bytes) -> bytes:
        config = uvicorn.Config(nobody, http=patience.PatientProtocol, lifespan="off", log_level="critical")
        config.load()
        server = uvicorn.Server(config)
        server.lifespan = config.lifespan_class(config)
        with socket.create_server(("127.0.0.1", 0)) as listening:
            port = listening.getsockname()[1]
            await server.startup(sockets=[listening])
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            writer.write(first)
            answer = await reader.read()
            writer.close()
            await server.shutdown(sockets=[listening])
        return answer

    assert asyncio.run(story(b"GET / HT")) == b""
    assert asyncio.run(story(b"")) == b""


def test_no_code_and_no_key_is_ever_logged(
    home: Client, stranger: Client, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = code_of(home)

    def fail(*_: object) -> None:
        raise ZeroDivisionError("a fault")

    with caplog.at_level(logging.DEBUG):
        assert pair(stranger, code).status_code == 303
        with monkeypatch.context() as patch:
            patch.setattr("counterfoil.routes.pairing.readable_code", fail)
            assert stranger.get(f"/pair/{code}").status_code == 500
        stranger.get("/api/trips")
    key = stranger.cookies["counterfoil-key"]
    assert "/pair/... failed" in caplog.text
    ours = "\n".join(record.getMessage() for record in caplog.records if record.name != "httpx")
    assert code not in ours
    assert key not in ours


def test_a_strangers_requests_cost_no_plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The solver is the dearest thing here; nobody from outside can make it run."""

    def never(*_: object, **__: object) -> None:
        raise AssertionError("planned for a stranger")

    monkeypatch.setattr("counterfoil.plans.plan_in_thread", never)
    with paired(tmp_path) as home:
        home.post("/api/trips", json=as_json(small_trip()))
        del home.headers["Authorization"]
        assert home.get("/api/trips/oats-week").status_code == 401
        assert home.get("/desk/trips/oats-week").status_code == 401
        assert home.get("/desk/drafts/oats-week/plan").status_code == 401
