"""The page may die between any two writes: no tap is lost that was told as noted, none is doubled or cut.

The renderer is really killed, about the write that chance picks; ``COUNTERFOIL_KILLS=200`` kills more often.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from random import Random
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Error, Page

from tests.browser.test_phone_events import IMPORT_MAP, OPEN

KILLS = int(os.environ.get("COUNTERFOIL_KILLS", "30"))
TAPS = 4  # a life; each writes the device's row, three events and their places in the outbox
WRITES = TAPS * 7

# Taps one after the other, each told when it is noted. At the fatal write the page stalls, and dies
# thereabouts.
LIVE = (
    """async (fatal) => {
    let writes = 0;
    for (const method of ['add', 'put']) {
        const write = IDBObjectStore.prototype[method];
        IDBObjectStore.prototype[method] = function (...given) {
            const request = write.apply(this, given);
            if (this.transaction.mode === 'readwrite' && ++writes === fatal) {
                console.log('dying');
                const end = performance.now() + 40;
                while (performance.now() < end);
            }
            return request;
        };
    }
    setTimeout(async () => {
"""
    + OPEN
    + """
        for (let tap = 0; tap < 4; tap += 1) {
            const events = await store.append('saturday', [1, 2, 3].map((units) =>
                ({kind: 'in_trolley', store: 'alder', product: 'soap', units})));
            console.log(`noted ${events.map(({id}) => id)}`);
        }
        console.log('dying');
    });
}"""
)

LOOK = (
    "async () => {"
    + OPEN
    + """
    const events = await store.events('saturday');
    return {events, unsent: await store.unsent(), folded: [...fold(events).trolley]};
}"""
)


@pytest.fixture
def phone_site(chromium: Browser, static_site: str) -> Iterator[tuple[BrowserContext, str]]:
    context = chromium.new_context()
    context.route(
        "**/store.html",
        lambda route: route.fulfill(
            content_type="text/html",
            body=f'<!doctype html><title>store</title><script type="importmap">{IMPORT_MAP}</script>',
        ),
    )
    yield context, static_site + "/store.html"
    context.close()


def opened(context: BrowserContext, address: str) -> Page:
    page = context.new_page()
    page.goto(address)
    return page


def killed_after(page: Page, write: int) -> list[str]:
    """The rest of the page's life; the ids of the events that it told as noted before it died."""
    noted: list[str] = []
    dying: list[bool] = []

    def heard(said: ConsoleMessage) -> None:
        word, _, ids = said.text.partition(" ")
        if word == "noted":
            noted.extend(ids.split(","))
        dying.append(word == "dying")

    page.on("console", heard)
    page.evaluate(LIVE, write)
    while not any(dying):
        page.wait_for_timeout(1)  # lets the page's words in
    with contextlib.suppress(Error):
        page.goto("chrome://crash", timeout=5_000)  # its answer dies with it
    page.close()
    return noted


def test_no_event_is_lost_or_doubled_wherever_the_page_dies(
    phone_site: tuple[BrowserContext, str],
) -> None:
    context, address = phone_site
    chance = Random(20261205)
    told: list[str] = []
    page = opened(context, address)
    for _ in range(KILLS):
        told += killed_after(page, chance.randint(1, WRITES))
        page = opened(context, address)
        seen: dict[str, Any] = page.evaluate(LOOK)
        ids = [event["id"] for event in seen["events"]]
        # What was told is there; what is there is whole taps, each event once, in order, and unsent.
        assert set(told) <= set(ids)
        assert ids == sorted(set(ids))
        assert [event["counter"] for event in seen["events"]] == list(range(len(ids)))
        assert [event["what"]["units"] for event in seen["events"]] == [1, 2, 3] * (len(ids) // 3)
        assert seen["unsent"] == seen["events"]
        # The same events give the same screen, however often the page comes back.
        assert seen["folded"] == ([["alder soap", 2 * len(ids)]] if ids else [])
        assert page.evaluate(LOOK) == seen
