"""A cold start shows the lines that were shown last before the page is loaded, where they still stand.

The page's frames are held, and with them all that comes after the first lines: so each test looks at them
for as long as it likes, taps what it likes, and lets the rest of the page come.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import msgspec
import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from counterfoil.engine.offers import Trip
from tests.browser.saturday import OATS, RAZORS, SOAP, saturday
from tests.browser.shopper import Shopper, bring_in
from tests.browser.test_phone_events import page, run
from tests.browser.waiting import until
from tests.served import Running

__all__ = ["page"]

HOLD = """
const frame = requestAnimationFrame.bind(window);
const held = [];
window.requestAnimationFrame = (act) => held.push(act);
window.goOn = () => { window.requestAnimationFrame = frame; held.splice(0).forEach((act) => frame(act)); };
"""
# How many events of the trip the lines that are kept stand on; -1 where none are kept.
KEPT = """() => new Promise((resolve) => {
    const opening = indexedDB.open('counterfoil');
    opening.onsuccess = () => {
        const asked = opening.result.transaction('notes').objectStore('notes').get('shown');
        asked.onsuccess = () => resolve(asked.result ? Number(asked.result.basis.split(' ')[2]) : -1);
    };
})"""
# How many events of the trip the plan stands on that is kept.
PLANNED = """() => new Promise((resolve) => {
    const opening = indexedDB.open('counterfoil');
    opening.onsuccess = () => {
        const asked = opening.result.transaction('plans').objectStore('plans').getAll();
        asked.onsuccess = () =>
            resolve(Math.max(-1, ...asked.result.map(({basis}) => Number(basis.split(' ')[2]))));
    };
})"""
# As on a phone that is busy with something else: at rest long before it paints.
SLOW_TO_PAINT = """
const frame = requestAnimationFrame.bind(window);
window.requestAnimationFrame = (act) => setTimeout(() => frame(act), 300);
window.requestIdleCallback = (act) => setTimeout(act);
"""
PLACES = """(root) => [...root.querySelectorAll('.ticket')].map((ticket) =>
    [ticket.getBoundingClientRect().x, ticket.getBoundingClientRect().y,
     ticket.getBoundingClientRect().height, ticket.innerText])"""

Start = Callable[..., Running]


@pytest.fixture
def phone(chromium: Browser) -> Iterator[BrowserContext]:
    """A phone into whose page axe may be loaded."""
    context = chromium.new_context(
        viewport={"width": 360, "height": 800},
        has_touch=True,
        is_mobile=True,
        locale="en-US",
        reduced_motion="reduce",
        bypass_csp=True,
    )
    yield context
    context.close()


def kept(phone: BrowserContext, running: Start, trip: Trip, taken: tuple[str, ...] = ()) -> Shopper:
    """The page after she took these, with its lines kept as they are shown and the network gone."""
    server = running()
    bring_in(server.url, trip)
    shopper = Shopper(phone, server.url).open()
    shopper.keep_page()
    for product in taken:
        shopper.take(product)
    until(shopper.page, f"async () => await ({KEPT})() === {len(taken)}")
    server.stop()
    phone.set_offline(True)
    return shopper


def started(shopper: Shopper, screen: str = "") -> Page:
    """A cold start that is held once the first lines are there."""
    shopper.page.close()
    phone = shopper.phone
    phone.add_init_script(HOLD)
    shopper.page = phone.new_page()
    shopper.page.goto(shopper.url + screen)
    return shopper.page


def go_on(shopper: Shopper) -> None:
    """The rest of the page comes; its own lines stand where the last ones were shown."""
    shopper.page.evaluate("goOn()")
    expect(shopper.page.locator(".last-shown")).to_have_count(0)


def last_lines(page: Page) -> Locator:
    lines = page.locator(".last-shown")
    expect(lines.locator(".ticket").first).to_be_visible()
    assert page.evaluate("customElements.get('counterfoil-phone') === undefined")
    return lines


def test_the_lines_are_there_before_the_page_and_stay_where_they_are(
    phone: BrowserContext, running: Start
) -> None:
    shopper = kept(phone, running, saturday(), (OATS,))
    lines = last_lines(started(shopper))
    expect(lines.get_by_role("heading", name="Saturday, two stores")).to_be_visible()
    expect(lines.locator(".ticket", has_text=OATS).locator(".stub-word")).to_have_text("in the trolley")
    expect(lines.locator(".ticket", has_text=SOAP).locator(".stub-word")).to_have_text("to find")
    expect(lines.locator(".totals")).to_contain_text("$17.01")
    # What the last tap did is not told again.
    expect(lines.locator(".news")).to_have_count(0)
    assert shopper.violations() == []
    places = lines.evaluate(PLACES)
    assert len(places) > 1
    go_on(shopper)
    assert shopper.page.locator("#screen").evaluate(PLACES)[: len(places)] == places
    assert shopper.faults == []


def test_what_is_tapped_before_the_page_is_there_is_noted_when_it_is(
    phone: BrowserContext, running: Start
) -> None:
    shopper = kept(phone, running, saturday())
    lines = last_lines(started(shopper))
    for product in (SOAP, OATS):
        stub = lines.locator(".ticket", has_text=product).locator(".ticket-stub")
        stub.tap()
        # It is not told as noted before it is.
        expect(stub.locator(".stub-word")).to_have_text("to find")
        expect(stub).to_have_attribute("aria-busy", "true")
    go_on(shopper)
    for product in (SOAP, OATS):
        shopper.state_of(product, "in the trolley")
    shopper.go("Trip")
    expect(shopper.page.locator(".noted li")).to_have_count(2)


def test_a_sheet_that_is_asked_for_comes_up_when_the_page_is_there(
    phone: BrowserContext, running: Start
) -> None:
    shopper = kept(phone, running, saturday())
    last_lines(started(shopper)).locator(".ticket", has_text=SOAP).locator(".ticket-name").tap()
    go_on(shopper)
    sheet = shopper.page.get_by_role("dialog")
    expect(sheet.get_by_role("heading", name=SOAP, exact=True)).to_be_visible()


def test_a_tap_is_noted_and_the_way_to_another_screen_followed(phone: BrowserContext, running: Start) -> None:
    shopper = kept(phone, running, saturday())
    lines = last_lines(started(shopper))
    lines.locator(".ticket", has_text=SOAP).locator(".ticket-stub").tap()
    lines.get_by_role("link", name="Register").tap()
    go_on(shopper)
    expect(shopper.page.get_by_role("main", name="Register")).to_be_visible()
    shopper.go("Aisle")
    shopper.state_of(SOAP, "in the trolley")


def test_focus_and_height_stay_when_the_page_comes(phone: BrowserContext, running: Start) -> None:
    shopper = kept(phone, running, saturday())
    lines = last_lines(started(shopper))
    lines.locator(".ticket", has_text=RAZORS).locator(".ticket-stub").focus()
    lines.locator("main").evaluate("(main) => main.scrollTo(0, 150)")
    go_on(shopper)
    expect(shopper.line(RAZORS).locator(".ticket-stub")).to_be_focused()
    assert shopper.page.locator("#screen").evaluate("(main) => main.scrollTop") == 150


def test_lines_that_no_longer_stand_are_not_shown(phone: BrowserContext, running: Start) -> None:
    shopper = kept(phone, running, saturday())
    # The page is closed before it was ever at rest again: the lines of before the tap are still kept.
    shopper.page.evaluate("window.requestIdleCallback = () => {}")
    shopper.page.evaluate("IDBObjectStore.prototype.delete = () => {}")
    shopper.take(SOAP)
    assert shopper.page.evaluate(KEPT) == 0
    page = started(shopper)
    expect(page.locator("#screen")).to_be_attached()
    expect(page.locator(".last-shown")).to_have_count(0)
    page.evaluate("goOn()")
    shopper.state_of(SOAP, "in the trolley")


def test_another_screen_begins_with_its_own(phone: BrowserContext, running: Start) -> None:
    shopper = kept(phone, running, saturday())
    page = started(shopper, "/#/register")
    expect(page.get_by_role("main", name="Register")).to_be_attached()
    expect(page.locator(".last-shown")).to_have_count(0)
    page.evaluate("goOn()")
    expect(shopper.till.get_by_role("button", name="It shows $7.53: done")).to_be_visible()


def test_markup_in_a_name_is_text_in_the_lines_shown_last(phone: BrowserContext, running: Start) -> None:
    trip = saturday()
    name = '<img src="x" onerror="document.title = 1"><b>Soap</b> & more'
    products = tuple(
        msgspec.structs.replace(product, description=name) if product.id == "soap" else product
        for product in trip.products
    )
    shopper = kept(phone, running, msgspec.structs.replace(trip, products=products))
    lines = last_lines(started(shopper))
    expect(lines.locator(".ticket-name", has_text=name)).to_be_visible()
    expect(lines.locator("img, .ticket-name b")).to_have_count(0)


def test_lines_are_kept_after_their_plan_however_late_that_is(phone: BrowserContext, running: Start) -> None:
    phone.add_init_script(SLOW_TO_PAINT)
    server = running()
    bring_in(server.url, saturday())
    shopper = Shopper(phone, server.url).open()
    shopper.take(OATS)
    until(shopper.page, f"async () => await ({PLANNED})() === 1")
    until(shopper.page, f"async () => await ({KEPT})() === 1")


def test_a_new_plan_or_a_trip_carried_anew_leaves_nothing_to_show(page: Page) -> None:
    """On the same events too: the proof may have found a better plan."""
    carried = {"id": "saturday", "trip": {"id": "saturday"}, "plan": None, "packageVersion": "1"}
    for change in ("keepPlan({trip: 'saturday', basis: 'b', plan: {}})", "carry(given)"):
        shown = run(
            page,
            f"""await store.carry(given);
                await store.keepShown('b', ['Soap']);
                const before = (await store.taken()).shown;
                await store.{change};
                return [before, (await store.taken()).shown];""",
            carried,
        )
        assert shown == [{"key": "shown", "basis": "b", "parts": ["Soap"]}, None]
