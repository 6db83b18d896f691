"""When the phone itself is in the way, the page says so in words, and nothing noted is lost.

The trip is ``saturday.py``'s.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Locator, Route, expect

from tests.browser.saturday import OATS, SOAP, saturday
from tests.browser.shopper import Shopper, bring_in
from tests.served import Running

FULL = """() => {
    const add = IDBObjectStore.prototype.add;
    window.emptied = () => { IDBObjectStore.prototype.add = add; };
    IDBObjectStore.prototype.add = () => { throw new DOMException('no room', 'QuotaExceededError'); };
}"""

# As where the network went before the page was kept on the phone: no worker begins until `cut` is false.
CUT = """
window.cut = true;
window.Worker = class extends Worker {
    constructor(address, options) { super(window.cut ? '/gone.js' : address, options); }
};
"""


@pytest.fixture
def server(running: Callable[..., Running]) -> Running:
    server = running()
    bring_in(server.url, saturday())
    return server


def test_a_full_phone_says_so_keeps_what_it_has_and_saves_it_to_a_file(
    phone: BrowserContext, server: Running
) -> None:
    shopper = Shopper(phone, server.url).open()
    shopper.keep_page()
    phone.set_offline(True)
    shopper.take(OATS)
    shopper.page.evaluate(FULL)
    shopper.line(SOAP).locator(".ticket-stub").tap()
    alert = shopper.page.get_by_role("alert").filter(has_text="The phone's storage is full")
    expect(alert).to_contain_text("so this was not noted. Nothing else is lost.")
    shopper.state_of(SOAP, "to find")
    shopper.state_of(OATS, "in the trolley")
    alert.get_by_role("link", name="Send or save what is unsent").tap()
    expect(shopper.page.get_by_role("heading", name="1 note unsent")).to_be_visible()
    with shopper.page.expect_download() as download:
        shopper.page.get_by_role("button", name="Save unsent to a file").tap()
    saved = json.loads(download.value.path().read_bytes())
    assert [event["what"]["product"] for event in saved["events"]] == ["oats"]
    # Room again: the same tap is noted, once.
    shopper.page.evaluate("emptied()")
    shopper.go("Aisle")
    shopper.take(SOAP)
    shopper.state_of(SOAP, "in the trolley")


def test_a_window_that_keeps_nothing_says_so(phone: BrowserContext, server: Running) -> None:
    phone.add_init_script(
        "IDBFactory.prototype.open = () => { throw new DOMException('private', 'InvalidStateError'); };"
    )
    shopper = Shopper(phone, server.url)
    shopper.page.goto(server.url)
    expect(shopper.page.get_by_role("alert")).to_have_text(
        "This browser keeps nothing for this page (a private window?). "
        "Open it in an ordinary window to carry a trip."
    )


def test_a_wrong_clock_is_told_and_every_event_is_taken_in(phone: BrowserContext, server: Running) -> None:
    # Two days ahead, as a phone is whose owner has set it by hand.
    phone.add_init_script("const now = Date.now; Date.now = () => now() + 2 * 24 * 3600 * 1000;")
    shopper = Shopper(phone, server.url).open()
    shopper.take(OATS)
    expect(shopper.page.get_by_role("link", name="All sent")).to_be_visible()
    shopper.go("Trip")
    told = shopper.page.get_by_role("region", name="All sent")
    expect(told).to_contain_text("clock")
    # And stays told when there is nothing to send.
    with shopper.page.expect_response("**/sync"):
        shopper.page.evaluate("() => { dispatchEvent(new Event('focus')); }")
    expect(shopper.page.get_by_role("link", name="All sent")).to_be_visible()
    expect(told).to_contain_text("clock")


def test_a_server_put_back_from_a_backup_is_sent_everything_again(
    phone: BrowserContext, server: Running
) -> None:
    shopper = Shopper(phone, server.url).open()
    asked: list[list[Any]] = []

    def another_log(route: Route) -> None:
        asked.append(json.loads(route.request.post_data or "{}")["events"])
        answer = route.fetch().json()
        route.fulfill(json=answer | {"log": "after-the-backup"})

    shopper.take(OATS)
    expect(shopper.page.get_by_role("link", name="All sent")).to_be_visible()
    phone.route("**/sync", another_log)
    shopper.take(SOAP)
    expect(shopper.page.get_by_role("link", name="All sent")).to_be_visible()
    # First the new one alone; then, as the log is another, what only the old one had.
    assert [event["what"]["product"] for event in asked[0]] == ["soap"]
    assert [event["what"]["product"] for event in asked[-1]] == ["oats"]


def test_the_page_says_whether_the_browser_keeps_what_is_noted(
    phone: BrowserContext, server: Running
) -> None:
    phone.add_init_script(
        """navigator.storage.persisted = async () => false;
        navigator.storage.persist = async () => { window.asked = true; return Boolean(window.granted); };"""
    )
    shopper = Shopper(phone, server.url).open()
    # Asked for as soon as a trip is carried.
    shopper.page.wait_for_function("() => window.asked")
    shopper.go("Trip")
    here = shopper.page.get_by_role("region", name="This page on the phone")
    expect(here).to_contain_text("The browser may clear away what is noted here")
    expect(here).to_contain_text("Put it on the home screen")
    shopper.page.evaluate("() => { window.granted = true; }")
    here.get_by_role("button", name="Ask it to keep everything").tap()
    expect(here).to_contain_text("The browser has promised not to clear away what is noted here.")


@pytest.fixture
def stuck(phone: BrowserContext, server: Running) -> Shopper:
    """Something is noted, without a network, and the plan could not be worked out again."""
    phone.add_init_script(CUT)
    shopper = Shopper(phone, server.url).open()
    shopper.keep_page()
    phone.set_offline(True)
    shopper.line(SOAP).locator(".ticket-stub").tap()
    expect(what_changed(shopper)).to_contain_text("The plan could not be worked out again.")
    shopper.page.evaluate("() => { window.cut = false; }")
    return shopper


def test_a_plan_that_could_not_be_worked_out_is_tried_again_when_she_says_so(stuck: Shopper) -> None:
    what_changed(stuck).get_by_role("button", name="Try again").tap()
    is_worked_out(stuck)


def test_a_plan_that_could_not_be_worked_out_is_tried_again_once_the_desk_answers(stuck: Shopper) -> None:
    stuck.phone.set_offline(False)
    stuck.page.evaluate("dispatchEvent(new Event('online'))")
    is_worked_out(stuck)


def what_changed(shopper: Shopper) -> Locator:
    return shopper.page.get_by_role("region", name="What changed")


def is_worked_out(shopper: Shopper) -> None:
    shopper.settled()
    news = what_changed(shopper)
    expect(news).to_contain_text("in the trolley")
    expect(news).not_to_contain_text("could not be worked out")
    expect(news.get_by_role("button", name="Try again")).to_have_count(0)
