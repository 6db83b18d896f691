"""The contract of errors. Whatever goes wrong at an address for programs, the answer is::

    {"error": {"status": 404, "title": "Not Found", "field": "trip", "value": "x", "mend": "...", "also": []}}

and a person's browser gets a page with the same words instead.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

from .conftest import Client, Phone, as_json, paired, small_trip

NONE: list[str] = []
Ask = Callable[[Client], httpx.Response]

FAILURES: dict[str, tuple[int, str, Ask]] = {
    "an unknown address": (404, "address", lambda client: client.get("/nowhere")),
    "an unknown file": (404, "address", lambda client: client.get("/web/engine/nothing.js")),
    "an unknown trip": (404, "trip", lambda client: client.get("/api/trips/no-such-week")),
    "an unknown schema": (404, "name", lambda client: client.get("/api/schema/basket")),
    "a method that is not there": (405, "address", lambda client: client.delete("/api/trips")),
    "no JSON": (400, "line 1, column 1", lambda client: client.post("/sync", content=b"hello")),
    "no UTF-8": (400, "", lambda client: client.post("/sync", content=b'"\xff"')),
    "no device": (400, "device", lambda client: client.post("/sync", json={})),
    "a negative counter": (
        400,
        "events[0].counter",
        lambda client: Phone(client, "a").send(Phone(None, "a").in_trolley() | {"counter": -1}),
    ),
    "a report without its kind": (
        400,
        "events[0].what.kind",
        lambda client: Phone(client, "a").send(Phone(None, "a").event({"store": "alder"})),
    ),
    "a trip without stores": (
        400,
        "stores",
        lambda client: client.post("/api/trips", json={**as_json(small_trip()), "stores": NONE}),
    ),
    "a body beyond the limit": (413, "body", lambda client: client.post("/sync", content=b" " * 4_000_001)),
    "a body nested too deeply": (
        400,
        "",
        lambda client: client.post("/sync", content=b'{"events":' + b"[" * 50_000 + b"]" * 50_000 + b"}"),
    ),
    "a page of another site": (
        403,
        "Origin",
        lambda client: client.post("/sync", json={}, headers={"Origin": "https://elsewhere.example"}),
    ),
    "a name that is not ours": (
        421,
        "Host",
        lambda client: client.get("/desk", headers={"Host": "elsewhere.example"}),
    ),
}


@pytest.mark.parametrize("name", FAILURES)
def test_every_failure_has_the_one_shape(client: Client, name: str) -> None:
    status, field, ask = FAILURES[name]
    answer = ask(client)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/json"
    [(key, error)] = answer.json().items()
    assert key == "error"
    assert set(error) == {"status", "title", "field", "value", "mend", "also"}
    assert (error["status"], error["field"]) == (status, field)
    assert error["mend"]
    assert len(error["value"]) <= 200


def test_all_findings_are_told_not_the_first_alone(client: Client) -> None:
    trip = as_json(small_trip())
    trip["prices"][0]["product"] = "barley"
    trip["wants"][0]["products"] = ["rye"]
    error = client.post("/api/trips", json=trip).json()["error"]
    told = {finding["field"] for finding in (error, *error["also"])}
    assert {"prices[0].product", "wants[0].products[0]"} <= told


def test_a_browser_gets_a_page_with_the_same_words(client: Client) -> None:
    answer = client.get("/desk/trips/no-such-week", headers={"Accept": "text/html,*/*"})
    assert answer.status_code == 404
    assert answer.headers["content-type"].startswith("text/html")
    assert "There is no such trip here." in answer.text


def test_a_page_shows_what_was_asked_for_as_text(client: Client) -> None:
    answer = client.get("/desk/trips/%3Cscript%3E", headers={"Accept": "text/html"})
    assert "&lt;script&gt;" in answer.text
    assert "<script>" not in answer.text


def test_a_fault_of_ours_is_logged_whole_and_told_without_details(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail(*_: object) -> Any:
        raise ZeroDivisionError("the secret of the house")

    monkeypatch.setattr("counterfoil.engine.planner.plan", fail)
    with caplog.at_level(logging.ERROR, "counterfoil"), paired(tmp_path) as client:
        client.post("/api/trips", json=as_json(small_trip()))
        answer = client.get("/api/trips/oats-week")
    assert answer.status_code == 500
    assert "nothing is lost" in answer.json()["error"]["mend"]
    assert "secret" not in answer.text
    assert "the secret of the house" in caplog.text
