"""The Desk: the plan and what came home, in plain words, without any script."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from counterfoil.engine.papers import Line

from .conftest import Client, Phone, as_json, paired, small_trip, transaction

PEELED = {
    "id": "found-oats",
    "description": "25 cents off, found on the package",
    "issuer": "manufacturer",
    "form": "on_package",
    "gives": {"kind": "cents_off", "cents": 25},
    "asks": [{"products": ["oats"]}],
}
RAIN_CHECK = {
    "kind": "rain_check_taken",
    "store": "alder",
    "product": "oats",
    "units": 2,
    "cents": 179,
    "until": "2027-01-02",
}


@pytest.fixture
def client(tmp_path: Path) -> Iterator[Client]:
    """A server on the day of the trip."""
    with paired(tmp_path / "data", today=lambda: "2026-12-05") as client:
        yield client


def words(client: Client, address: str) -> str:
    """What a page says, without its marks."""
    answer = client.get(address, headers={"Accept": "text/html"})
    assert answer.status_code == 200, answer.text
    # Our own module, and the map that names the libraries; nothing that a page says is ever a script.
    assert re.findall(r"<script[^>]*>", answer.text) == [
        '<script type="importmap">',
        '<script type="module" src="/web/desk/desk.js">',
    ]
    answer_text = re.sub(r'<script type="importmap">.*?</script>', "", answer.text)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer_text)).split())


def done(shown_total_cents: int | None = 350, units: int = 2) -> dict[str, Any]:
    """The report that the small trip went through the register."""
    through = msgspec.structs.replace(transaction(), lines=(Line(product="oats", units=units),))
    report: dict[str, Any] = {"kind": "transaction_done", "transaction": as_json(through)}
    return report if shown_total_cents is None else report | {"shown_total_cents": shown_total_cents}


def test_the_list_says_what_each_trip_has_heard(home: Client) -> None:
    assert "Oats for the week 5 December 1 0 0 nothing yet" in words(home, "/desk")
    Phone(home, "phone-a").sync(Phone(None, "phone-a").event(done()))
    heard = r"Oats for the week 5 December 1 1 1 \d+ [A-Z][a-z]+( \d{4})?, \d\d:\d\d UTC"
    assert re.search(heard, words(home, "/desk"))


def test_an_empty_desk_says_what_to_do(client: Client) -> None:
    assert "No trip is here yet. Bring one in below." in words(client, "/desk")


def test_the_plan_is_shown_with_its_cents_and_its_reasons(home: Client) -> None:
    page = words(home, "/desk/trips/oats-week")
    assert "1. Alder Row Grocers, transaction 1: $3.50" in page
    assert "50 cents off one Wickel oats : takes off $0.50." in page
    assert "Total that the register must show $3.50" in page
    assert "Pay with: Cash or card $3.50" in page
    assert "Breakfast Wickel rolled oats, 500 g Alder Row Grocers, Aisle 3 2 $4.00 $3.50" in page
    assert home.get("/api/trips/oats-week").json()["plan"]["proof"]["words"] in page
    assert "an expired or copied one is fraud" in page
    assert "Nothing has been reported from the store yet." in page


def test_a_register_that_showed_another_total_is_told_apart(home: Client) -> None:
    anna, ben = Phone(home, "phone-aaaaaa"), Phone(home, "phone-bbbbbb")
    anna.sync(anna.event(done(350)))
    ben.sync(ben.event(done(400)))
    page = words(home, "/desk/trips/oats-week")
    assert (
        "2 transactions went through the register: you paid $7.50 . The plan at home said $3.50 in 1." in page
    )
    assert "Alder Row Grocers 2 $3.50 $3.50 as reckoned 5 December, 10:00:01 UTC Phone 1 (aaaaaa)" in page
    assert (
        "Alder Row Grocers 2 $4.00 $3.50 $0.50 more than reckoned 5 December, 10:00:01 UTC Phone 2 (bbbbbb)"
        in page
    )


def test_a_total_that_was_not_told_counts_as_reckoned(home: Client) -> None:
    phone = Phone(home, "phone-a")
    phone.sync(phone.event(done(None)))
    assert "not told $3.50 no total told; as reckoned" in words(home, "/desk/trips/oats-week")


def test_a_transaction_that_our_register_refuses_is_shown_all_the_same(home: Client) -> None:
    """One box, but the coupon claims the second."""
    phone = Phone(home, "phone-a")
    report = done(150, units=1)
    report["transaction"]["uses"] = [{"coupon": "oats-50", "units": [1]}]
    phone.sync(phone.event(report))
    page = words(home, "/desk/trips/oats-week")
    assert "$1.50 not known As sent, our register would refuse it:" in page


def test_each_report_is_told_once_in_the_order_of_the_trip(home: Client) -> None:
    phone = Phone(home, "phone-a")
    events = [
        phone.in_trolley(2),
        phone.in_trolley(-1),
        phone.event({"kind": "shelf_empty", "store": "alder", "product": "oats"}),
        phone.event({"kind": "price_seen", "store": "alder", "product": "oats", "cents": 219}),
        phone.event(
            {
                "kind": "found",
                "want": "breakfast",
                "store": "alder",
                "product": "oats-xl",
                "cents": 329,
                "product_data": {"id": "oats-xl", "description": "Wickel rolled oats, 1 kg"},
            }
        ),
        phone.event({"kind": "coupon_copies", "coupon": "oats-50", "copies": -1}),
        phone.event({"kind": "coupon_found", "coupon": PEELED}),
        phone.event({"kind": "need_changed", "want": "breakfast", "need": 1, "welcome": 3}),
        phone.event({"kind": "need_changed", "want": "breakfast", "need": 0, "welcome": 0}),
        phone.event(RAIN_CHECK),
        phone.event(done()),
    ]
    phone.sync(*events[5:])
    phone.sync(*events)
    page = words(home, "/desk/trips/oats-week")
    told = (
        "2 × Wickel rolled oats, 500 g put in the trolley at Alder Row Grocers.",
        "1 × Wickel rolled oats, 500 g put back at Alder Row Grocers.",
        "Shelf empty at Alder Row Grocers: Wickel rolled oats, 500 g.",
        "The tag at Alder Row Grocers shows $2.19 for Wickel rolled oats, 500 g.",
        "Found at Alder Row Grocers for Breakfast: Wickel rolled oats, 1 kg, $3.29.",
        "1 fewer copy of the coupon 50 cents off one Wickel oats.",
        "A coupon found in the store, 1 copy: 25 cents off, found on the package.",
        "Breakfast: now 1 needed, up to 3 welcome.",
        "Left: Breakfast.",
        "Shelf empty at Alder Row Grocers; rain check for 2 × Wickel rolled oats, 500 g at $1.79 each, "
        "good until 2 January 2027.",
        "Through the register at Alder Row Grocers with 2 items; it showed $3.50.",
    )
    places = [page.find(sentence) for sentence in told]
    assert -1 not in places
    assert places == sorted(places)
    assert [page.count(sentence) for sentence in told] == [1] * len(told)


def test_what_was_taken_back_stays_in_view_and_counts_no_more(home: Client) -> None:
    phone = Phone(home, "phone-a")
    through = phone.event(done())
    phone.sync(through, phone.event({"kind": "undone", "event": through["id"]}))
    page = words(home, "/desk/trips/oats-week")
    assert "it showed $3.50. (taken back)" in page
    assert "Taken back: Through the register at Alder Row Grocers" in page
    assert "you paid" not in page
    assert "Oats for the week 5 December 1 0 2" in words(home, "/desk")


def test_what_cannot_be_read_is_shown_as_kept(home: Client) -> None:
    phone = Phone(home, "phone-a")
    phone.sync(phone.event({"kind": "smelled_good"}))
    page = words(home, "/desk/trips/oats-week")
    assert "A report of the kind “smelled_good”, which this version cannot read; it is kept" in page


def test_text_from_offers_and_phones_is_shown_as_text(client: Client) -> None:
    script = "<script>alert(1)</script>"
    trip = as_json(small_trip(title=script))
    trip["stores"][0]["name"] = script
    trip["products"][0]["description"] = script
    trip["coupons"][0]["description"] = script
    trip["wants"][0]["name"] = script
    client.post("/api/trips", json=trip)
    phone = Phone(client, script)
    phone.sync(phone.event({"kind": script}) | {"at": script})
    for address in ("/desk", "/desk/trips/oats-week"):
        page = client.get(address).text
        assert "<script>" not in page
        assert "&lt;script&gt;" in page


def test_a_trip_file_is_taken_in_by_the_form(client: Client) -> None:
    file = msgspec.json.encode(small_trip())
    answer = client.post("/desk/trips", files={"trip": ("trip.json", file)}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/desk/trips/oats-week")
    assert "Oats for the week" in words(client, "/desk")


def test_the_form_says_what_is_wrong_with_a_file_and_takes_nothing(client: Client) -> None:
    trip = as_json(small_trip())
    trip["prices"][0]["product"] = "barley"
    answer = client.post("/desk/trips", files={"trip": ("trip.json", msgspec.json.encode(trip))})
    assert answer.status_code == 400
    assert "The trip was not taken in. Nothing was changed." in answer.text
    assert "prices[0].product" in answer.text
    assert "No trip is here yet." in words(client, "/desk")


def test_the_form_without_a_file_asks_for_one(client: Client) -> None:
    answer = client.post("/desk/trips", data={"trip": ""})
    assert answer.status_code == 400
    assert "Choose a trip file (JSON) first." in answer.text
