"""Promise kept here: after a restart nobody waits for what was reckoned before it, and what is made ready in
the meantime is what the pages ask for."""

from __future__ import annotations

import asyncio
from pathlib import Path

import msgspec
import pytest
from jinja2 import DictLoader, Environment

from counterfoil import warming
from counterfoil.after.balances import balances
from counterfoil.after.claims import claims_of
from counterfoil.after.expiries import due
from counterfoil.after.reports import reports
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Plan, Proof
from counterfoil.engine.planner import plan
from counterfoil.homes import Home
from counterfoil.ledger import Ledger
from counterfoil.notebook import Notebook
from counterfoil.store.notes import SqliteNotes
from counterfoil.store.records import SqliteRecords
from counterfoil.store.sqlite import SqliteStore
from counterfoil.store.sqlite_facts import SqliteFacts
from counterfoil.warming import warm
from tests.kitchen import TODAY, fill

from .conftest import Client, as_json, paired, small_trip
from .test_desk import words

TRIP = "/desk/trips/oats-week"


def never(*_: object, **__: object) -> None:
    raise ZeroDivisionError("planned again")


def bring_in(client: Client, version: int = 1) -> None:
    trip = small_trip(version=version, title=f"Version {version}")
    assert client.post("/api/trips", json=as_json(trip)).status_code in (200, 201)


def test_a_plan_that_was_shown_is_there_after_a_restart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with paired(tmp_path) as client:
        bring_in(client)
        before = words(client, TRIP)
    monkeypatch.setattr("counterfoil.plans.plan_in_thread", never)
    with paired(tmp_path) as client:
        assert words(client, TRIP) == before
        assert client.get("/api/trips/oats-week").json()["plan"]["totals"]["paid_cents"] == 350


def test_a_plan_of_another_trip_or_planner_is_made_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with paired(tmp_path) as client:
        bring_in(client)
        words(client, TRIP)
        bring_in(client, version=2)
    with paired(tmp_path) as client:
        assert "Version 2" in words(client, TRIP)
    monkeypatch.setattr("counterfoil.plans.digest_of_planner", lambda: "of tomorrow")
    monkeypatch.setattr("counterfoil.plans.plan_in_thread", never)
    with paired(tmp_path) as client:
        assert client.get(TRIP).status_code == 500  # it was asked for


def test_a_plan_whose_proof_failed_is_looked_for_again_after_a_restart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unproven(trip: Trip, *, prove: bool) -> Plan:
        return msgspec.structs.replace(plan(trip), proof=Proof(optimal=False, gap_cents=5))

    async def failed(_: Trip) -> None:
        return None

    monkeypatch.setattr("counterfoil.plans.plan_in_thread", unproven)
    monkeypatch.setattr("counterfoil.plans.prove_apart", failed)
    with paired(tmp_path) as client:
        bring_in(client)
        words(client, TRIP)
    monkeypatch.setattr("counterfoil.plans.plan_in_thread", never)
    with paired(tmp_path) as client:
        assert client.get(TRIP).status_code == 500


def test_what_pages_ask_for_is_reckoned_and_compiled_before_they_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(warming, "WHILE_SECONDS", 0)
    fill(tmp_path)
    pages = Environment(
        loader=DictLoader({"desk.html": "{{ 1 }}", "odd.html": "{{ 1 | nothing_like_it }}"}), autoescape=True
    )

    async def run() -> None:
        store = SqliteStore(tmp_path)
        await store.open()
        try:
            home = Home(SqliteRecords(store))
            ledger = Ledger(store, SqliteFacts(store), home, Notebook(SqliteNotes(store)).rows)
            await warm(ledger, home, pages, lambda: TODAY)
            books = await ledger.books()
        finally:
            await store.close()
        for reckon in (claims_of, balances, due):
            name = f"{reckon.__module__}.{reckon.__qualname__}"
            assert books.__dict__[name][0] == (TODAY,), name
        assert books.__dict__[f"{reports.__module__}.reports"][0] == (TODAY, "USD", 2)
        assert pages.cache is not None
        assert [key[1] for key in pages.cache] == ["desk.html"]

    asyncio.run(run())
