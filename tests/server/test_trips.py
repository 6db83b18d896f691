"""Trips in and packages out: what is taken is sound, what is carried says which version it is."""

from __future__ import annotations

import msgspec
import pytest

from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Plan

from .conftest import Client, as_json, small_trip


def test_a_package_holds_the_trip_and_its_plan_to_the_cent(home: Client) -> None:
    """Two boxes at $2.00, one coupon of 50 cents: $3.50."""
    package = home.get("/api/trips/oats-week").json()
    assert msgspec.convert(package["trip"], Trip) == small_trip()
    plan = msgspec.convert(package["plan"], Plan)
    assert plan.totals.paid_cents == 350
    assert package["package_version"] == home.get("/api/trips").json()["trips"][0]["package_version"]


def test_the_list_names_each_trip(home: Client) -> None:
    [head] = home.get("/api/trips").json()["trips"]
    head.pop("package_version")
    assert head == {"id": "oats-week", "title": "Oats for the week", "day": "2026-12-05", "version": 1}


def test_a_phone_that_has_the_package_is_not_sent_it_again(home: Client) -> None:
    tag = home.get("/api/trips/oats-week").headers["etag"]
    again = home.get("/api/trips/oats-week", headers={"If-None-Match": tag})
    assert (again.status_code, again.content) == (304, b"")
    home.post("/api/trips", json=as_json(small_trip(version=2)))
    edited = home.get("/api/trips/oats-week", headers={"If-None-Match": tag})
    assert edited.status_code == 200
    assert edited.headers["etag"] != tag


def test_a_higher_version_replaces_the_trip(home: Client) -> None:
    answer = home.post("/api/trips", json=as_json(small_trip(version=2, title="More oats")))
    assert answer.json() == {"id": "oats-week", "version": 2, "changed": True}
    [head] = home.get("/api/trips").json()["trips"]
    assert (head["title"], head["version"]) == ("More oats", 2)


def test_the_same_trip_again_changes_nothing(home: Client) -> None:
    answer = home.post("/api/trips", json=as_json(small_trip()))
    assert answer.json() == {"id": "oats-week", "version": 1, "changed": False}


@pytest.mark.parametrize("version", [1, 2])
def test_other_content_under_a_version_not_above_is_refused(home: Client, version: int) -> None:
    home.post("/api/trips", json=as_json(small_trip(version=2)))
    answer = home.post("/api/trips", json=as_json(small_trip(version=version, title="Changed in secret")))
    assert answer.status_code == 409
    assert answer.json()["error"]["field"] == "version"
    assert home.get("/api/trips").json()["trips"][0]["title"] == "Oats for the week"


def test_a_trip_with_a_dangling_reference_is_not_taken(client: Client) -> None:
    trip = as_json(small_trip())
    trip["prices"][0]["product"] = "barley"
    answer = client.post("/api/trips", json=trip)
    assert answer.status_code == 400
    assert answer.json()["error"]["field"] == "prices[0].product"
    assert answer.json()["error"]["value"] == "barley"
    assert client.get("/api/trips").json() == {"trips": []}


def test_a_trip_cut_off_in_the_middle_is_not_taken(client: Client) -> None:
    whole = msgspec.json.encode(small_trip())
    answer = client.post("/api/trips", content=whole[: len(whole) // 2])
    assert answer.status_code == 400
    assert "cut off" in answer.json()["error"]["mend"]
    assert client.get("/api/trips").json() == {"trips": []}


@pytest.mark.parametrize("name", ["trip", "plan", "transaction", "receipt"])
def test_each_document_has_its_schema(client: Client, name: str) -> None:
    answer = client.get(f"/api/schema/{name}")
    assert answer.headers["content-type"] == "application/schema+json"
    assert answer.json()["$ref"] == f"#/$defs/{name.capitalize()}"


def test_the_addresses_are_described_as_openapi(client: Client) -> None:
    assert "/sync" in client.get("/api/openapi/openapi.json").json()["paths"]
