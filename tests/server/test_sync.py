"""Events both ways: each arrives once, whatever is cut, repeated, unknown or sent by two at once."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import msgspec
import pytest

from counterfoil.web import create_app

from .conftest import Client, Phone, as_json, key_for, small_trip, transaction


def kept(client: Client) -> list[str]:
    """Ids of all events at the server, in order of arrival, as a third phone gets them."""
    return [event["id"] for event in Phone(client, "onlooker").sync()["events"]]


def test_a_phone_hears_that_its_events_are_stored(home: Client) -> None:
    phone = Phone(home, "phone-a")
    first, second = phone.in_trolley(), phone.in_trolley()
    answer = phone.sync(first, second)
    assert answer["acknowledged"] == [first["id"], second["id"]]
    assert answer["refused"] == []
    assert answer["events"] == []
    assert answer["trip_version"] == 1


def test_a_batch_sent_again_is_acknowledged_again_and_stored_once(home: Client) -> None:
    phone = Phone(home, "phone-a")
    events = [phone.in_trolley(), phone.in_trolley()]
    assert phone.sync(*events)["acknowledged"] == phone.sync(*events)["acknowledged"]
    assert kept(home) == [event["id"] for event in events]


def test_an_event_that_stands_in_a_batch_twice_is_stored_once(home: Client) -> None:
    phone = Phone(home, "phone-a")
    event = phone.in_trolley()
    assert phone.sync(event, event)["acknowledged"] == [event["id"]]
    assert kept(home) == [event["id"]]


def test_the_order_of_fields_and_spaces_makes_no_other_event(home: Client) -> None:
    phone = Phone(home, "phone-a")
    event = phone.in_trolley()
    phone.sync(event)
    again = event | {"what": dict(reversed(event["what"].items()))}
    assert phone.sync(again)["acknowledged"] == [event["id"]]


def test_an_answer_cut_after_the_commit_costs_nothing(tmp_path: Path) -> None:
    """The phone never hears the first answer, sends the same again, and each event is there once."""
    app = create_app(tmp_path)
    shown = {"Authorization": f"Bearer {key_for(tmp_path)}"}

    whole_server: Any = app  # the two libraries describe the same ASGI in types of their own

    async def cut_the_answer(scope: Any, receive: Any, send: Any) -> None:
        async def cut(message: Any) -> None:
            raise ConnectionResetError("the tunnel")

        await whole_server(scope, receive, cut)

    async def story() -> tuple[Any, Any]:
        async with app.lifespan():
            whole = httpx.AsyncClient(
                transport=httpx.ASGITransport(whole_server), base_url="http://localhost", headers=shown
            )
            broken = httpx.AsyncClient(
                transport=httpx.ASGITransport(cut_the_answer, raise_app_exceptions=False),
                base_url="http://localhost",
                headers=shown,
            )
            async with whole, broken:
                await whole.post("/api/trips", content=msgspec.json.encode(small_trip()))
                batch = {"device": "phone-a", "events": [Phone(None, "phone-a").in_trolley()]}
                lost = await broken.post("/sync", json=batch)
                again = await whole.post("/sync", json=batch)
                others = await whole.post("/sync", json={"device": "phone-b", "cursor": 0})
                assert lost.status_code == 500
                return again.json(), others.json()

    again, others = asyncio.run(story())
    assert len(again["acknowledged"]) == 1
    assert [event["id"] for event in others["events"]] == again["acknowledged"]


def test_what_this_version_cannot_read_is_kept_to_the_letter(home: Client) -> None:
    phone = Phone(home, "phone-a")
    newer = phone.event({"kind": "smelled_good", "how": [1, 2.50, None], "ünïcode": "☂"})
    broken = phone.event({"kind": "in_trolley", "units": "many"})
    assert phone.sync(newer, broken)["acknowledged"] == [newer["id"], broken["id"]]
    assert Phone(home, "phone-b").sync()["events"] == [newer, broken]


def test_two_phones_merge_to_the_same_events(home: Client) -> None:
    anna, ben = Phone(home, "phone-a"), Phone(home, "phone-b")
    of_anna, of_ben = anna.in_trolley(1), ben.in_trolley(2)
    assert anna.sync(of_anna)["events"] == []
    assert ben.sync(of_ben)["events"] == [of_anna]
    assert anna.sync()["events"] == [of_ben]
    assert anna.sync()["events"] == []
    assert ben.sync()["events"] == []


def test_a_phone_asks_on_while_there_is_more(home: Client) -> None:
    """An answer holds 500 events of others at most, and says when there are more."""
    sender, reader = Phone(home, "phone-a"), Phone(home, "phone-b")
    sent = [sender.in_trolley() for _ in range(501)]
    sender.sync(*sent[:400])
    sender.sync(*sent[400:])
    first = reader.sync()
    second = reader.sync()
    assert (len(first["events"]), first["more"]) == (500, True)
    assert (len(second["events"]), second["more"]) == (1, False)
    assert [event["id"] for event in first["events"] + second["events"]] == [event["id"] for event in sent]


def test_a_cursor_from_beyond_the_log_starts_again(home: Client) -> None:
    """The server's data was put back from a backup: the phone gets all again, and knows it by id."""
    phone = Phone(home, "phone-a")
    event = phone.in_trolley()
    phone.sync(event)
    other = Phone(home, "phone-b")
    other.cursor = 4_000
    assert other.sync()["events"] == [event]


def test_an_event_of_an_unknown_trip_is_refused_and_the_rest_is_stored(home: Client) -> None:
    phone = Phone(home, "phone-a")
    known, foreign = phone.in_trolley(), phone.event({"kind": "undone", "event": "x"}, trip="no-such-week")
    answer = phone.sync(foreign, known)
    assert answer["acknowledged"] == [known["id"]]
    [refused] = answer["refused"]
    assert (refused["id"], refused["field"], refused["value"]) == (
        foreign["id"],
        "events[0].trip",
        "no-such-week",
    )
    assert "stays on the phone" in refused["mend"]
    assert kept(home) == [known["id"]]


def test_an_id_that_is_taken_by_another_event_stops_the_whole_batch(home: Client) -> None:
    phone = Phone(home, "phone-a")
    first = phone.in_trolley(1)
    phone.sync(first)
    new, forged = phone.in_trolley(1), first | {"what": first["what"] | {"units": 9}}
    answer = phone.send(new, forged)
    assert answer.status_code == 409
    assert answer.json()["error"]["field"] == "events[1].id"
    assert answer.json()["error"]["value"] == first["id"]
    assert kept(home) == [first["id"]]


def test_a_device_sends_its_own_events_only(home: Client) -> None:
    phone = Phone(home, "phone-a")
    answer = phone.send(phone.in_trolley() | {"device": "phone-b"})
    assert answer.status_code == 400
    assert answer.json()["error"]["field"] == "events[0].device"
    assert kept(home) == []


def test_another_protocol_is_told_to_update(home: Client) -> None:
    answer = Phone(home, "phone-a").send(protocol=2, news="of a later day")
    assert answer.status_code == 400
    assert answer.json()["error"]["field"] == "protocol"
    assert "stays on the phone" in answer.json()["error"]["mend"]


def test_a_batch_has_at_most_500_events(home: Client) -> None:
    phone = Phone(home, "phone-a")
    answer = phone.send(*[phone.in_trolley() for _ in range(501)])
    assert (answer.status_code, answer.json()["error"]["field"]) == (400, "events")
    assert kept(home) == []


@pytest.mark.parametrize("at", ["1987-01-01T00:00:00Z", "2999-01-01T00:00:00Z", "9999-12-31T23:59:59-23:59"])
def test_a_clock_off_by_years_is_told_and_loses_nothing(home: Client, at: str) -> None:
    phone = Phone(home, "phone-a")
    event = phone.in_trolley() | {"at": at}
    answer = phone.sync(event)
    assert answer["acknowledged"] == [event["id"]]
    assert "set the phone's clock" in answer["clock_note"]
    assert kept(home) == [event["id"]]


@pytest.mark.parametrize("at", ["", "yesterday", "2026-13-45"])
def test_a_clock_that_cannot_be_read_is_no_matter(home: Client, at: str) -> None:
    phone = Phone(home, "phone-a")
    answer = phone.sync(phone.in_trolley() | {"at": at})
    assert (len(answer["acknowledged"]), answer["clock_note"]) == (1, "")


def test_a_clock_that_is_right_is_not_mentioned(home: Client) -> None:
    phone = Phone(home, "phone-a")
    answer = phone.sync(phone.in_trolley() | {"at": datetime.now(UTC).isoformat()})
    assert answer["clock_note"] == ""
    assert abs(datetime.fromisoformat(answer["server_time"]) - datetime.now(UTC)) < timedelta(minutes=5)


def test_a_phone_of_another_log_gets_everything_again(home: Client) -> None:
    """The data were put back from a backup, or the phone was at another server: its cursor means nothing."""
    phone, other = Phone(home, "phone-a"), Phone(home, "phone-b")
    event = phone.in_trolley()
    log = phone.sync(event)["log"]
    other.sync()
    assert other.send(log=log).json()["events"] == []
    answer = other.send(log="of another house").json()
    assert (answer["events"], answer["log"]) == ([event], log)


def test_an_edited_trip_is_noticed_by_its_version(home: Client) -> None:
    home.post("/api/trips", content=msgspec.json.encode(small_trip(version=2)))
    assert Phone(home, "phone-a").sync()["trip_version"] == 2
    assert Phone(home, "phone-a", trip="no-such-week").sync()["trip_version"] is None


def test_a_finished_transaction_arrives_whole(home: Client) -> None:
    phone = Phone(home, "phone-a")
    done = phone.event(
        {
            "kind": "transaction_done",
            "transaction": as_json(transaction()),
            "shown_total_cents": 350,
        }
    )
    phone.sync(done)
    assert Phone(home, "phone-b").sync()["events"] == [done]
