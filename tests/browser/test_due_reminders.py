"""A phone reminds of what is due once it was told to, and never twice."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, TypedDict

import pytest
from playwright.sync_api import Browser, BrowserContext, Worker, expect

from tests.browser.due import OFF, ON, ahead, at_the_trip, due, household, in_words
from tests.browser.shopper import Shopper
from tests.browser.waiting import until
from tests.served import Running


class Shown(TypedDict):
    """A notification that stands on the phone."""

    title: str
    body: str
    tag: str


STANDING = """async () => {
    const registration = await navigator.serviceWorker.ready;
    return (await registration.getNotifications()).map(({title, body, tag}) => ({title, body, tag}));
}"""
# One that is noted but not in view yet is struck out by Chromium when it is asked what stands there. So this
# is never asked while one is being shown.
ONE_STANDS = """async () => {
    const registration = await navigator.serviceWorker.ready;
    return navigator.locks.request('counterfoil-due', async () =>
        (await registration.getNotifications()).length > 0);
}"""
MEANWHILE = """async () => {
    const {reminders, list} = await counterfoilDue.kept();
    const {held, pending} = await navigator.locks.query();
    const locks = [held, pending].map((each) => each.map(({name}) => name));
    return JSON.stringify([Notification.permission, reminders, list?.dues.length, locks]);
}"""
# As she clears them away, or the phone does after a tap.
CLEARED = """async () => {
    const registration = await navigator.serviceWorker.ready;
    for (const each of await registration.getNotifications()) each.close();
}"""


@pytest.fixture
def chromium(whole_chromium: Browser) -> Browser:
    """A browser that shows notifications."""
    return whole_chromium


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Running]:
    yield from household(tmp_path)


@pytest.fixture
def shopper(phone: BrowserContext, server: Running) -> Shopper:
    return at_the_trip(Shopper(phone, server.url).open())


def allow(shopper: Shopper) -> None:
    shopper.phone.grant_permissions(["notifications"], origin=shopper.url)


def turn_on(shopper: Shopper) -> None:
    allow(shopper)
    due(shopper).get_by_role("button", name=ON).tap()
    expect(due(shopper).get_by_text("This phone reminds you 3 days before")).to_be_visible()


def standing(shopper: Shopper) -> list[Shown]:
    return shopper.page.evaluate(STANDING)


def shown(shopper: Shopper) -> Shown:
    """The notification that stands there, once it does.

    Where none does, what is said beside tells whether it was never asked for (nothing told, no lock held), is
    still being shown (the lock is held), or was shown and lost (told)."""
    try:
        until(shopper.page, ONE_STANDS)
    except AssertionError as error:
        error.add_note(f"meanwhile: {shopper.page.evaluate(MEANWHILE)}")
        raise
    (one,) = standing(shopper)
    return one


def on_day(worker: Worker, day: str) -> bool:
    """What the worker does when it is awake on that day; whether it showed anything."""
    return worker.evaluate("(day) => counterfoilDue.remind(registration, day)", day)


def test_nothing_is_asked_until_she_taps_and_then_it_reminds_at_once(shopper: Shopper) -> None:
    shopper.page.evaluate(
        """() => {
            window.asked = 0;
            const ask = Notification.requestPermission.bind(Notification);
            Notification.requestPermission = () => { window.asked += 1; return ask(); };
        }"""
    )
    expect(due(shopper).get_by_text("This phone can remind you 3 days before.")).to_be_visible()
    assert shopper.page.evaluate("asked") == 0
    turn_on(shopper)
    assert shopper.page.evaluate("asked") == 1
    one = shown(shopper)
    assert one["title"] == f"Due on {in_words(2)}"
    assert one["body"].startswith(f"On {in_words(2)}: Last day of the coupon 50 cents off one Lathrin soap")
    assert one["tag"] == "counterfoil-due"


def test_what_was_told_is_not_told_again_however_often_the_page_is_opened(shopper: Shopper) -> None:
    turn_on(shopper)
    shown(shopper)
    shopper.page.evaluate(CLEARED)
    for _ in range(2):
        shopper.page.reload()
        expect(due(shopper).get_by_role("button", name=OFF)).to_be_visible()
        shopper.page.evaluate("dispatchEvent(new Event('focus'))")
        expect(shopper.page.get_by_text("All sent").first).to_be_visible()
    assert on_day(shopper.phone.service_workers[0], ahead(0)) is False
    assert on_day(shopper.phone.service_workers[0], ahead(1)) is False
    assert standing(shopper) == []


def test_with_the_radio_off_the_page_reminds_by_what_it_knows(shopper: Shopper) -> None:
    turn_on(shopper)
    shown(shopper)
    shopper.page.evaluate(CLEARED)
    shopper.phone.set_offline(True)
    # Four days on, the offer ends tomorrow and the slip lapses the day after.
    shopper.page.clock.set_fixed_time(f"{ahead(4)}T08:00:00Z")
    shopper.page.reload()
    assert shown(shopper) == {
        "title": "2 things are due, the first tomorrow",
        "body": f"On {in_words(6)}: Last day of the slip of $3.00: Alder Row Grocers.\n"
        "Tomorrow: Last day of the percent offer 10 % off the whole aisle.",
        "tag": "counterfoil-due",
    }
    assert shopper.faults == []


def test_the_worker_reminds_with_the_page_closed_one_notification_in_place_of_the_other(
    shopper: Shopper,
) -> None:
    turn_on(shopper)
    shown(shopper)
    worker = shopper.phone.service_workers[0]
    shopper.page.goto("about:blank")
    assert on_day(worker, ahead(1)) is False
    assert on_day(worker, ahead(2)) is True  # the offer that ends in five days
    assert on_day(worker, ahead(2)) is False
    assert on_day(worker, ahead(3)) is True  # the slip that lapses in six
    notifications = worker.evaluate(
        "async () => (await registration.getNotifications()).map(({title, body}) => ({title, body}))"
    )
    # What still stood there unread came along, but for the coupon that has ended.
    assert [each["title"] for each in notifications] == [f"2 things are due, the first on {in_words(5)}"]
    assert "Last day of the slip of $3.00: Alder Row Grocers." in notifications[0]["body"]
    assert "soap-50" not in notifications[0]["body"]


@pytest.mark.parametrize("wake", ["periodicsync", "sync"])
def test_the_browsers_own_wake_ups_bring_the_list_and_remind(shopper: Shopper, wake: str) -> None:
    """The browser decides by itself when to wake the worker, so the test sends what it would send then."""
    allow(shopper)
    due(shopper).get_by_role("button", name=ON).tap()
    shown(shopper)
    shopper.page.evaluate(CLEARED)
    worker = shopper.phone.service_workers[0]
    shopper.page.goto("about:blank")
    found = worker.evaluate(
        """async (wake) => {
            const {list} = await counterfoilDue.kept();
            const more = {id: 'claim.new', day: list.today, kind: 'claim', words: 'Last day to claim: Soap.',
                act: '', trip: ''};
            // It was told yesterday; today the server knows of a claim.
            await new Promise((resolve) => {
                const opening = indexedDB.open('counterfoil-due');
                opening.onsuccess = () => {
                    const tx = opening.result.transaction('kept', 'readwrite');
                    const store = tx.objectStore('kept');
                    const asked = store.get('reminders');
                    asked.onsuccess = () => {
                        asked.result.told.on = '2020-01-01';
                        store.put(asked.result);
                    };
                    tx.oncomplete = () => { opening.result.close(); resolve(); };
                };
            });
            const fetched = [];
            self.fetch = async (address) => {
                fetched.push(address);
                const dues = [more, ...list.dues];
                return new Response(JSON.stringify({...list, dues}), {headers: {etag: 'W/"x"'}});
            };
            const waited = [];
            const event = new ExtendableEvent(wake);
            Object.defineProperty(event, 'tag', {value: wake === 'sync' ? 'outbox' : 'counterfoil-due'});
            event.waitUntil = (promise) => waited.push(promise);
            dispatchEvent(event);
            await Promise.allSettled(waited);
            const shown = await registration.getNotifications();
            return {fetched, bodies: shown.map(({body}) => body)};
        }""",
        wake,
    )
    assert "/api/due" in found["fetched"]
    assert found["bodies"] == ["Today: Last day to claim: Soap."]


def test_a_tap_on_it_opens_the_trip_screen(shopper: Shopper) -> None:
    turn_on(shopper)
    shown(shopper)
    shopper.go("Aisle")
    worker = shopper.phone.service_workers[0]
    click = """async () => {
        const [notification] = await registration.getNotifications();
        const waited = [];
        const event = new NotificationEvent('notificationclick', {notification});
        event.waitUntil = (promise) => waited.push(promise);
        // Only a real tap may bring a window to the front, or open one.
        const opened = [];
        WindowClient.prototype.focus = async function () { opened.push('front'); return this; };
        clients.openWindow = async (address) => { opened.push(address); return null; };
        dispatchEvent(event);
        await Promise.all(waited);
        return {opened, left: (await registration.getNotifications()).length};
    }"""
    assert worker.evaluate(click) == {"opened": ["front"], "left": 0}
    expect(shopper.page.get_by_role("main", name="Trip")).to_be_visible()
    assert on_day(worker, ahead(3)) is True
    # A page of the Desk is not taken from her.
    shopper.page.goto(f"{shopper.url}/desk")
    assert worker.evaluate(click) == {"opened": ["/#/trip"], "left": 0}
    assert shopper.page.url.endswith("/desk")


def test_one_tap_turns_it_off_and_turning_it_on_again_does_not_tell_it_twice(shopper: Shopper) -> None:
    turn_on(shopper)
    shown(shopper)
    due(shopper).get_by_role("button", name=OFF).tap()
    expect(due(shopper).get_by_role("button", name=ON)).to_be_visible()
    assert standing(shopper) == []
    worker = shopper.phone.service_workers[0]
    assert on_day(worker, ahead(3)) is False
    due(shopper).get_by_role("button", name=ON).tap()
    expect(due(shopper).get_by_role("button", name=OFF)).to_be_visible()
    assert on_day(worker, ahead(0)) is False
    assert standing(shopper) == []


def test_the_keys_turn_it_on_and_off_and_focus_stays(shopper: Shopper) -> None:
    allow(shopper)
    page = shopper.page
    button = due(shopper).get_by_role("button")
    for _ in range(60):
        if button.evaluate("(element) => element === document.activeElement"):
            break
        page.keyboard.press("Tab")
    expect(button).to_be_focused()
    page.keyboard.press("Enter")
    expect(button).to_have_text(OFF)
    expect(button).to_be_focused()
    page.keyboard.press("Space")
    expect(button).to_have_text(ON)
    expect(button).to_be_focused()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_and_nothing_is_cut_off(chromium: Browser, server: Running, scheme: Any) -> None:
    context = chromium.new_context(
        viewport={"width": 320, "height": 640},
        has_touch=True,
        is_mobile=True,
        locale="en-US",
        timezone_id="UTC",
        color_scheme=scheme,
        reduced_motion="reduce",
        bypass_csp=True,
    )
    shopper = at_the_trip(Shopper(context, server.url).open())
    due(shopper).get_by_text("1 offer ends").tap()
    assert shopper.violations() == []
    turn_on(shopper)
    assert shopper.violations() == []
    page = shopper.page
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    small = page.evaluate(
        """() => [...document.querySelectorAll('.due button, .due summary, .due li a')].filter((element) =>
            element.getBoundingClientRect().height < 44).map((element) => element.outerHTML)"""
    )
    assert small == []
    context.close()
