"""``GET /api/due``: what a phone reminds of is what the calendar says, on the same days."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any, cast

import icalendar
import pytest
from litestar import Litestar
from litestar.testing import TestClient

from tests.kitchen import TODAY, fill

from .conftest import HERE, Client, Phone, paired
from .test_binder import act, bring_trip, soaps_bought


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Client]:
    """The household's owner, on a day in the week of a trip."""
    fill(tmp_path / "data")
    with paired(tmp_path / "data", today=lambda: TODAY) as client:
        yield client


def due(client: Client) -> dict[str, Any]:
    answer = client.get("/api/due")
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_each_thing_has_its_day_its_words_and_what_to_do_soonest_first(desk: Client) -> None:
    found = due(desk)
    assert (found["today"], found["remind_days"]) == (TODAY, 3)
    days = [each["day"] for each in found["dues"]]
    assert days == sorted(days)
    assert min(days) >= TODAY
    coupon = next(each for each in found["dues"] if each["id"] == "coupon.soap-50")
    assert coupon["day"] == (date.fromisoformat(TODAY) + timedelta(days=2)).isoformat()
    assert coupon["kind"] == "coupon"
    assert coupon["words"].startswith("Last day of the coupon 50 cents off one Lathrin soap")
    assert all(each["act"] for each in found["dues"])


def test_it_is_what_the_calendar_says(desk: Client) -> None:
    calendar = icalendar.Calendar.from_ical(desk.get("/desk/calendar.ics").text)
    events = calendar.walk("VEVENT")  # pyright: ignore[reportUnknownMemberType]  # its looseness
    told = {(event.decoded("dtstart").isoformat(), str(event["summary"])) for event in events}
    found = due(desk)["dues"]
    assert len(found) > 3
    assert {(each["day"], each["words"]) for each in found} <= told


def test_a_phone_that_has_it_is_told_so_until_something_changes(desk: Client) -> None:
    first = desk.get("/api/due")
    known = {"If-None-Match": first.headers["etag"]}
    again = desk.get("/api/due", headers=known)
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["etag"] == first.headers["etag"]

    act(desk, "soap-50", "thrown")
    changed = desk.get("/api/due", headers=known)
    assert changed.status_code == 200
    assert "coupon.soap-50" not in [each["id"] for each in changed.json()["dues"]]


def test_a_slip_that_the_register_printed_is_due_once_the_phone_has_told_of_it(desk: Client) -> None:
    phone: Phone = bring_trip(desk, slip=True)
    before = {each["id"] for each in due(desk)["dues"]}
    phone.sync(phone.event(soaps_bought(uses=1, slip=True)))
    (slip,) = [each for each in due(desk)["dues"] if each["id"] not in before and each["kind"] == "slip"]
    assert slip["words"] == "Last day of the slip of $1.00: Alder Row Grocers."
    assert slip["act"] == "Spend it there, or note at Settle that it is spent."
    assert slip["trip"] == "soap-week"


def test_it_says_how_long_before_the_household_wants_to_be_reminded(desk: Client) -> None:
    desk.post("/desk/settings", data={"currency": "USD", "remind_days": "5"})
    assert due(desk)["remind_days"] == 5


def test_what_is_due_is_the_households_alone(desk: Client, tmp_path: Path) -> None:
    app = cast("Litestar", desk.app)  # pyright: ignore[reportUnknownMemberType]  # the client's own looseness
    stranger = TestClient(app, base_url=HERE, raise_server_exceptions=False)
    assert stranger.get("/api/due").status_code == 401
    with paired(tmp_path / "data", role="phone", today=lambda: TODAY) as member:
        assert due(member)["today"] == TODAY


def test_the_document_says_what_comes_back(desk: Client) -> None:
    document = desk.get("/api/openapi/openapi.json").json()
    answers = document["paths"]["/api/due"]["get"]["responses"]
    assert {"200", "304"} <= set(answers)
    named = answers["200"]["content"]["application/json"]["schema"]["$ref"].rpartition("/")[2]
    assert set(document["components"]["schemas"][named]["properties"]) == {"today", "remind_days", "dues"}
