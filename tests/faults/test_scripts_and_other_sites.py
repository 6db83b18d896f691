"""In a real browser: text from offers and phones never runs, and a page of another site changes nothing.

A script stands in every text field that a trip or an event has. The pages are opened in Chromium,
which reports what the content security policy stopped: nothing may even be tried.
"""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Callable, Iterator
from typing import Any, TypeVar, cast

import msgspec
import pytest
from msgspec import inspect
from playwright.sync_api import Browser, BrowserContext, Page, expect

from counterfoil.engine.offers import Rebate, RewardOffer, SetBonus, Tier
from tests.served import Running, Static
from tests.server.conftest import Phone, as_json, small_trip, transaction

SCRIPT = (
    '\'"></script><script>window.hurt=1</script><img src=x onerror="window.hurt=1">{{7*7}}javascript:hurt()'
)
T = TypeVar("T", bound=msgspec.Struct)

# Chromium tells the page of each thing that the policy stopped.
LISTEN = """
  window.stopped = [];
  document.addEventListener('securitypolicyviolation', (event) => window.stopped.push(
    `${event.violatedDirective}: ${event.blockedURI} ${event.sample}`));
"""


REWARD = RewardOffer(
    id="slip",
    store="alder",
    description="",
    kind="slip",
    tiers=(Tier(threshold=2, cents=100),),
    products=("oats",),
)
REBATES = tuple(
    Rebate(id=each, description="", cents=50, products=("oats",)) for each in ("back", "back-too")
)
SET_BONUS = SetBonus(id="both", description="", cents=25, rebates=("back", "back-too"))


def scripted(document: T) -> T:
    """The document with the script in every free text; ids, dates and the like have a pattern and stay."""
    fields: dict[str, Any] = {}
    for field in msgspec.structs.fields(document):
        value = getattr(document, field.name)
        kind = inspect.type_info(field.type)
        if isinstance(kind, inspect.StrType) and kind.pattern is None:
            fields[field.name] = SCRIPT
        elif isinstance(value, msgspec.Struct):
            fields[field.name] = scripted(value)
        elif isinstance(value, tuple):
            parts = cast(tuple[object, ...], value)
            fields[field.name] = tuple(scripted(x) if isinstance(x, msgspec.Struct) else x for x in parts)
    return msgspec.structs.replace(document, **fields)


def full_trip() -> dict[str, Any]:
    """The small trip with a record of each kind, and the script in every text of it."""
    trip = msgspec.structs.replace(small_trip(), rewards=(REWARD,), rebates=REBATES, set_bonuses=(SET_BONUS,))
    return as_json(scripted(trip))


def events() -> list[dict[str, Any]]:
    """Every kind of report with the script in it, and one of a kind that is the script."""
    phone = Phone(None, SCRIPT[:64])
    done = as_json(scripted(transaction()))
    return [
        phone.in_trolley(),
        phone.event({"kind": SCRIPT[:64], "store": SCRIPT}),
        phone.event({"kind": "shelf_empty", "store": SCRIPT, "product": SCRIPT}),
        phone.event({"kind": "price_seen", "store": SCRIPT, "product": SCRIPT, "cents": 1}),
        phone.event({"kind": "found", "want": SCRIPT, "store": "alder", "product": "x", "cents": 9,
                     "product_data": {"id": "x", "description": SCRIPT}}),
        phone.event({"kind": "coupon_copies", "coupon": SCRIPT, "copies": 1}),
        phone.event({"kind": "need_changed", "want": SCRIPT, "need": 0, "welcome": 0}),
        phone.event({"kind": "transaction_done", "transaction": done, "shown_total_cents": 350}),
        phone.event({"kind": "undone", "event": SCRIPT}, at=SCRIPT[:40]),
    ]  # fmt: skip


def send(url: str, path: str, document: Any) -> Any:
    request = urllib.request.Request(
        url + path, json.dumps(document).encode(), {"Content-Type": "application/json"}
    )
    with urllib.request.urlopen(request) as answer:
        return json.loads(answer.read())


@pytest.fixture
def attacked(running: Callable[..., Running]) -> Running:
    """A server whose trip and events are full of scripts."""
    server = running()
    send(server.url, "/api/trips", full_trip())
    sent = events()
    answer = send(server.url, "/sync", {"device": SCRIPT[:64], "events": sent})
    assert len(answer["acknowledged"]) == len(sent)
    return server


@pytest.fixture
def watched(chromium: Browser) -> Iterator[Page]:
    """A page that keeps what the policy stopped and what was asked of elsewhere."""
    context = chromium.new_context()
    context.add_init_script(LISTEN)
    yield context.new_page()
    context.close()


def unhurt(page: Page) -> None:
    """No script ran, and none was stopped: the text was only ever text."""
    assert page.evaluate("window.hurt") is None
    assert page.evaluate("window.stopped") == []
    assert page.locator("img[src='x'], [onerror]").count() == 0


def test_the_watch_itself_bites(attacked: Running, watched: Page) -> None:
    """A handler that did get into the page would be stopped by the policy, and reported here."""
    watched.goto(attacked.url + "/desk")
    watched.evaluate("document.body.innerHTML = '<img src=x onerror=window.hurt=1>'")
    watched.wait_for_function("() => window.stopped.length > 0")
    assert watched.evaluate("window.hurt") is None


@pytest.mark.parametrize("path", ["/desk", "/desk/trips/oats-week", "/desk/devices", "/pair"])
def test_a_script_stored_in_every_field_stays_text_at_the_desk(
    attacked: Running, watched: Page, path: str
) -> None:
    watched.goto(attacked.url + path)
    if path.startswith("/desk/trips") or path == "/desk":
        expect(watched.locator("main")).to_contain_text("window.hurt=1")
        expect(watched.locator("main")).to_contain_text("{{7*7}}")
    unhurt(watched)


def test_a_script_stored_in_every_field_stays_text_on_the_phone(attacked: Running, watched: Page) -> None:
    watched.goto(attacked.url)
    expect(watched.locator("aisle-line").first).to_be_visible(timeout=60_000)
    expect(watched.get_by_text("News from the other phone").first).to_be_attached(timeout=60_000)
    for screen in ("aisle", "register", "trip"):
        watched.goto(f"{attacked.url}/#/{screen}")
        expect(watched.locator("main")).to_be_visible()
        unhurt(watched)
    assert "window.hurt=1" in watched.content().replace("&lt;", "<")


@pytest.mark.parametrize(
    "path",
    [
        "/desk/trips/%3Cscript%3Ewindow.hurt=1%3C%2Fscript%3E",
        "/pair/%22%3E%3Cscript%3Ewindow.hurt=1%3C%2Fscript%3E",
        "/%3Cimg%20src=x%20onerror=window.hurt=1%3E",
        "/desk?trip=%3Cscript%3Ewindow.hurt=1%3C/script%3E",
        "/api/schema/%3Cscript%3Ewindow.hurt=1%3C%2Fscript%3E",
    ],
    ids=range(5),
)
def test_a_script_in_an_address_is_not_reflected(attacked: Running, watched: Page, path: str) -> None:
    watched.goto(attacked.url + path)
    unhurt(watched)


def test_a_page_of_another_site_changes_and_reads_nothing(attacked: Running, phone: BrowserContext) -> None:
    """The server trusts this machine, so the browser itself is the owner; only the pages differ:
    ``localhost`` and ``127.0.0.1`` are different sites to a browser."""
    other = Static()
    try:
        before = send(attacked.url, "/sync", {"device": "onlooker"})["events"]
        page = phone.new_page()
        page.goto(other.url.replace("127.0.0.1", "localhost") + "/tests/blank.html")
        target = attacked.url
        page.evaluate(
            """async (target) => {
              const what = {kind: 'in_trolley', store: 'alder', product: 'oats', units: 9};
              const event = {id: 'evil-1', device: 'evil', counter: 1, at: '', trip: 'oats-week', what};
              const batch = JSON.stringify({device: 'evil', events: [event]});
              const tries = ['/sync', '/api/trips', '/desk/trips', '/desk/devices/codes', '/pair'];
              for (const path of tries) for (const mode of ['no-cors', 'cors']) {
                await fetch(target + path, {method: 'POST', mode, credentials: 'include', body: batch,
                  headers: {'Content-Type': 'text/plain'}}).catch(() => {});
              }
              navigator.sendBeacon(target + '/sync', batch);
            }""",
            target,
        )
        readable = page.evaluate(
            """(target) => fetch(target + '/api/trips', {credentials: 'include'})
                .then(() => true, () => false)""",
            target,
        )
        assert readable is False
        for path, field in (("/desk/devices/codes", "role"), ("/desk/trips", "trip"), ("/sync", "x")):
            page.goto(other.url.replace("127.0.0.1", "localhost") + "/tests/blank.html")
            page.set_content(
                f'<form method="post" action="{target}{path}"><input name="{field}" value="owner"></form>'
            )
            with page.expect_navigation():
                page.evaluate("document.forms[0].submit()")
            assert page.locator(".code").count() == 0
        framed = page.context.new_page()
        framed.goto(other.url.replace("127.0.0.1", "localhost") + "/tests/blank.html")
        framed.set_content(f'<iframe src="{target}/desk/devices"></iframe>')
        assert framed.frames[-1].locator("h1", has_text="Devices").count() == 0
        assert send(attacked.url, "/sync", {"device": "onlooker"})["events"] == before
        with urllib.request.urlopen(attacked.url + "/api/trips") as answer:
            assert len(json.loads(answer.read())["trips"]) == 1
    finally:
        other.stop()
