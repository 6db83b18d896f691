"""Which trip a phone carries is the shopper's choice, and what she carries never changes behind her back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import msgspec
from playwright.sync_api import BrowserContext, expect

from tests.browser.saturday import OATS, SOAP, saturday
from tests.browser.shopper import Shopper, bring_in
from tests.served import Running

Start = Callable[..., Running]


def test_with_one_trip_at_the_desk_there_is_nothing_to_choose(phone: BrowserContext, running: Start) -> None:
    server = running()
    bring_in(server.url, saturday())
    shopper = Shopper(phone, server.url).open()
    expect(shopper.page.get_by_role("heading", name="Saturday, two stores")).to_be_visible()
    shopper.state_of(SOAP, "to find")


def test_of_several_trips_the_only_one_that_is_not_over_is_in_hand_at_once(
    phone: BrowserContext, running: Start
) -> None:
    server = running()
    for weeks, title in ((-2, "Two weeks ago"), (-1, "Last week"), (1, "Next week")):
        day = (date.today() + timedelta(weeks=weeks)).isoformat()
        bring_in(
            server.url, msgspec.structs.replace(saturday(), id=f"{weeks + 2}-trip", title=title, day=day)
        )
    shopper = Shopper(phone, server.url).open()
    expect(shopper.page.get_by_role("heading", name="Next week")).to_be_visible()
    shopper.go("Trip")
    for over in ("Two weeks ago", "Last week"):
        expect(shopper.page.get_by_role("button", name=f"Carry: {over}")).to_be_visible()


def test_with_two_trips_at_the_desk_she_takes_one_and_then_the_other(
    phone: BrowserContext, running: Start
) -> None:
    server = running()
    bring_in(server.url, saturday())
    bring_in(server.url, msgspec.structs.replace(saturday(), id="sunday", title="Sunday, two stores"))
    shopper = Shopper(phone, server.url)
    shopper.page.goto(server.url)
    shopper.page.get_by_role("button", name="Carry: Sunday, two stores, Saturday, December 5").tap()
    expect(shopper.page.get_by_role("heading", name="Sunday, two stores")).to_be_visible()
    shopper.settled()
    shopper.go("Trip")
    shopper.page.get_by_role("button", name="Carry: Saturday, two stores").tap()
    expect(shopper.page.get_by_role("heading", name="Saturday, two stores")).to_be_visible()
    shopper.go("Trip")
    shopper.page.get_by_role("button", name="Take in hand: Sunday, two stores").tap()
    expect(shopper.page.get_by_role("heading", name="Sunday, two stores")).to_be_visible()


def test_a_trip_edited_at_home_waits_until_she_carries_it_anew(phone: BrowserContext, running: Start) -> None:
    server = running()
    bring_in(server.url, saturday())
    shopper = Shopper(phone, server.url).open()
    edited = saturday(version=2)
    bring_in(server.url, msgspec.structs.replace(edited, title="Saturday, oats only", wants=edited.wants[:1]))
    shopper.page.reload()
    notice = shopper.page.get_by_text("The trip was changed at home. What you carry stays as it is")
    expect(notice).to_be_visible()
    notice.get_by_role("button", name="Keep this one").tap()
    expect(notice).to_be_hidden()
    shopper.go("Trip")
    expect(shopper.page.get_by_text("The trip was changed at home since.")).to_be_visible()
    shopper.go("Aisle")
    shopper.state_of(SOAP, "to find")
    shopper.go("Trip")
    shopper.page.get_by_role("button", name="Carry the changed trip: Saturday, oats only").tap()
    expect(shopper.page.get_by_role("heading", name="Saturday, oats only")).to_be_visible()
    shopper.state_of(OATS, "to find")
    expect(shopper.line(SOAP)).to_have_count(0)


def test_a_first_visit_without_a_trip_says_where_trips_come_from(
    phone: BrowserContext, running: Start
) -> None:
    server = running()
    shopper = Shopper(phone, server.url)
    shopper.page.goto(server.url)
    expect(shopper.page.get_by_text("There is no trip at the Desk yet.")).to_be_visible()
    expect(shopper.page.get_by_role("link", name="To the Desk")).to_be_visible()


def test_what_is_unsent_can_be_saved_to_a_file(phone: BrowserContext, running: Start, tmp_path: Path) -> None:
    server = running()
    bring_in(server.url, saturday())
    shopper = Shopper(phone, server.url).open()
    shopper.keep_page()
    phone.set_offline(True)
    shopper.take(OATS)
    shopper.go("Trip")
    expect(shopper.page.get_by_role("heading", name="1 note unsent")).to_be_visible()
    with shopper.page.expect_download() as download:
        shopper.page.get_by_role("button", name="Save unsent to a file").tap()
    download.value.save_as(tmp_path / "unsent.json")
    unsent = msgspec.json.decode((tmp_path / "unsent.json").read_bytes())
    (event,) = unsent["events"]
    assert event["what"] == {"kind": "in_trolley", "store": "alder", "product": "oats", "units": 2}
