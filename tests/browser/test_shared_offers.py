"""An offer that another app shares is on the phone before that app goes on, until the Desk has it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Locator, Route, expect

from tests.browser.saturday import saturday
from tests.browser.shopper import Shopper, bring_in
from tests.browser.waiting import until
from tests.served import Running

OFFER = "Larkmoor soap 3 for 5.00 <b>this week</b>"
ADDRESS = "https://paper.example/soap"
# As a phone does it for a share target: a form posted to the address of the manifest.
SHARE = """(fields) => {
    const form = document.createElement('form');
    Object.assign(form, {method: 'post', action: '/share', enctype: 'multipart/form-data'});
    for (const [name, value] of Object.entries(fields)) {
        const field = document.createElement('textarea');
        Object.assign(field, {name, value});
        form.append(field);
    }
    document.body.append(form);
    form.submit();
}"""
UUID7 = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-8[0-9a-f]{3}-[0-9a-f]{12}")


class Desk:
    """The Desk's end of it, in place of the server's. ``status``: what it answers with."""

    def __init__(self, phone: BrowserContext) -> None:
        self.status = 200
        self.given: list[dict[str, Any]] = []
        phone.route("**/desk/inbox/shared", self._take)

    def _take(self, route: Route) -> None:
        texts = json.loads(route.request.post_data or "")["texts"]
        self.given += texts
        kept = {"kept": [text["id"] for text in texts]}
        route.fulfill(status=self.status, json=kept if self.status == 200 else {"error": {"mend": "no"}})


@pytest.fixture
def desk(phone: BrowserContext) -> Desk:
    return Desk(phone)


@pytest.fixture
def shopper(phone: BrowserContext, desk: Desk, running: Callable[..., Running]) -> Shopper:
    server = running()
    bring_in(server.url, saturday())
    shopper = Shopper(phone, server.url).open()
    shopper.keep_page()
    return shopper


def share(shopper: Shopper, **fields: str) -> None:
    with shopper.page.expect_navigation():
        shopper.page.evaluate(SHARE, fields)
    expect(shopper.page.get_by_role("main", name="Trip")).to_be_visible()


def offers(shopper: Shopper) -> Locator:
    return shopper.page.get_by_role("region", name="Offers to read at the Desk")


def test_with_the_radio_off_it_waits_and_goes_home_with_the_network(shopper: Shopper, desk: Desk) -> None:
    shopper.phone.set_offline(True)
    share(shopper, title="Soap", text=OFFER, url=ADDRESS)
    expect(offers(shopper).get_by_role("listitem")).to_contain_text(f"Soap\n{OFFER}\n{ADDRESS}")
    expect(offers(shopper)).to_contain_text("They go to the Desk when it answers, and stay here until then.")
    assert desk.given == []
    shopper.phone.set_offline(False)
    expect(offers(shopper)).to_contain_text("1 text sent there.")
    expect(offers(shopper).get_by_role("listitem")).to_have_count(0)
    (given,) = desk.given
    assert (given["title"], given["text"], given["url"]) == ("Soap", OFFER, ADDRESS)
    assert UUID7.fullmatch(given["id"])
    assert given["at"].endswith("Z")
    # Gone from the phone for good.
    shopper.page.reload()
    expect(shopper.page.get_by_role("region", name="This page on the phone")).to_be_visible()
    expect(offers(shopper)).to_have_count(0)


@pytest.mark.parametrize("status", [404, 503])
def test_it_stays_while_the_desk_does_not_take_it_and_is_the_same_text_at_the_next_try(
    shopper: Shopper, desk: Desk, status: int
) -> None:
    desk.status = status
    share(shopper, text=OFFER)
    shopper.page.get_by_text("All sent").first.wait_for()
    expect(offers(shopper).get_by_role("listitem")).to_contain_text(OFFER)
    # Nobody is told of a fault: nothing of hers is in danger.
    expect(shopper.page.get_by_role("alert")).to_have_count(0)
    expect(shopper.page.locator(".alert")).to_have_count(0)
    desk.status = 200
    shopper.page.evaluate("dispatchEvent(new Event('focus'))")
    expect(offers(shopper)).to_contain_text("1 text sent there.")
    assert len({text["id"] for text in desk.given}) == 1


def test_the_worker_sends_what_a_closed_page_left_behind(shopper: Shopper, desk: Desk) -> None:
    desk.status = 503
    share(shopper, text=OFFER)
    expect(offers(shopper).get_by_role("listitem")).to_contain_text(OFFER)
    # Its first try, which the Desk could not take: from there the id is the text's own.
    for _ in range(200):
        if desk.given:
            break
        shopper.page.wait_for_timeout(50)
    worker = shopper.phone.service_workers[0]
    # The worker's own requests pass by the stand-in of `desk`: it has one of its own, and has it before the
    # page is gone, since the browser may wake it then.
    worker.evaluate(
        """() => {
            self.given = [];
            self.fetch = async (address, {body}) => {
                const {texts} = JSON.parse(body);
                self.given.push(address, ...texts);
                return new Response(JSON.stringify({kept: texts.map(({id}) => id)}));
            };
        }"""
    )
    shopper.page.goto("about:blank")
    # An open page would be told to send them itself, and the last one takes a moment to go.
    until(worker, "async () => (await clients.matchAll({ type: 'window' })).length === 0")
    # The browser decides by itself when to wake the worker; this is what it does then.
    worker.evaluate("async () => { await sendOutbox(); await sendOutbox(); }")
    address, text = worker.evaluate("given")
    assert (address, text["text"]) == ("/desk/inbox/shared", OFFER)
    assert text["id"] == desk.given[0]["id"]
    shopper.open()
    shopper.go("Trip")
    expect(offers(shopper)).to_have_count(0)


def test_she_can_remove_what_she_does_not_want(shopper: Shopper) -> None:
    shopper.phone.set_offline(True)
    share(shopper, text=OFFER)
    offers(shopper).get_by_role("button", name="Remove").tap()
    expect(offers(shopper)).to_be_hidden()


def test_nothing_shared_is_nothing_kept(shopper: Shopper) -> None:
    share(shopper, title=" ", text="")
    expect(shopper.page.get_by_role("region", name="This page on the phone")).to_be_visible()
    expect(offers(shopper)).to_have_count(0)
