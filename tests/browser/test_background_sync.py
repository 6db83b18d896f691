"""The outbox is sent when the network comes back, even with the page closed (where the browser can).

The browser decides by itself when to wake the worker, so the tests do what it would do then.
"""

from __future__ import annotations

import urllib.request
from collections.abc import Callable

from playwright.sync_api import BrowserContext, expect

from tests.browser.saturday import OATS, saturday
from tests.browser.shopper import Shopper, bring_in
from tests.served import Running

WAKE = "async () => { await sendOutbox(); }"


def told_at_the_desk(server: Running) -> int:
    """How often the Desk says that the oats are in the trolley."""
    with urllib.request.urlopen(f"{server.url}/desk/trips/{saturday().id}") as page:
        return page.read().decode().count(f"{OATS} put in the trolley")


def test_the_worker_sends_what_a_closed_page_left_behind(
    phone: BrowserContext, running: Callable[..., Running]
) -> None:
    server = running()
    bring_in(server.url, saturday())
    shopper = Shopper(phone, server.url).open()
    shopper.keep_page()
    server.stop()
    shopper.take(OATS)
    expect(shopper.page.get_by_text("1 note unsent")).to_be_visible()
    # With a page open the worker leaves the sending to it.
    worker = phone.service_workers[0]
    shopper.page.goto("about:blank")

    server.start()
    worker.evaluate(WAKE)
    worker.evaluate(WAKE)

    assert told_at_the_desk(server) == 1
    shopper.open()
    expect(shopper.page.get_by_text("All sent")).to_be_visible()
    assert told_at_the_desk(server) == 1
