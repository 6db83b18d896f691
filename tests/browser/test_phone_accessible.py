"""Everyone can use the page: axe finds nothing on any screen or state, the keys reach everything, and
large text or a narrow phone cuts nothing off."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Callable, Iterator
from typing import Literal

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, expect

from tests.browser.saturday import OAT_SOAP, OATS, RAZORS, SHAMPOO, SOAP, saturday
from tests.browser.shopper import Shopper, bring_in
from tests.browser.test_phone_in_trouble import FULL
from tests.browser.test_shared_offers import SHARE
from tests.served import Running

Scheme = Literal["light", "dark"]


@pytest.fixture(params=["light", "dark"])
def shopper(
    request: pytest.FixtureRequest, chromium: Browser, running: Callable[..., Running]
) -> Iterator[Shopper]:
    """A shopper whose phone likes light or dark pages; axe may be loaded into the page."""
    scheme: Scheme = request.param
    context = chromium.new_context(
        viewport={"width": 360, "height": 800},
        has_touch=True,
        is_mobile=True,
        locale="en-US",
        color_scheme=scheme,
        # Axe reads colours as they stand: halfway into an animation they are nobody's.
        reduced_motion="reduce",
        bypass_csp=True,
    )
    server = running()
    bring_in(server.url, saturday())
    yield Shopper(context, server.url).open()
    context.close()


def test_axe_finds_nothing_on_any_screen_or_state(shopper: Shopper) -> None:
    def clean(state: str) -> None:
        assert shopper.violations() == [], state

    clean("the Aisle")
    shopper.take(OATS)
    clean("the Aisle with news")
    sheet = shopper.more(SOAP)
    clean("a line's sheet")
    shopper.close()
    sheet = shopper.empty(SOAP)
    clean("swaps")
    sheet.get_by_text("Rain check with other words on it").tap()
    clean("a rain check's words")
    sheet.get_by_role("button", name=OAT_SOAP).tap()
    shopper.told("Shelf empty")
    clean("an empty shelf")
    sheet = shopper.more(RAZORS, "The tag shows another price")
    sheet.get_by_label("The tag shows").fill("7,4,9")
    sheet.get_by_role("button", name="Note the price").tap()
    expect(sheet.get_by_role("alert")).to_contain_text("write digits with a point")
    clean("a price refused")
    shopper.close()
    sheet = shopper.more(RAZORS, "A coupon is not at hand")
    sheet.get_by_text("Peeled off the package: another coupon").tap()
    clean("a coupon peeled off")
    shopper.close()
    sheet = shopper.more(RAZORS, "Another kind or size is here")
    sheet.get_by_role("button", name="Another one: by its barcode").tap()
    sheet.get_by_label("Digits under the barcode").fill("2000000000016")
    sheet.get_by_role("button", name="Look it up").tap()
    expect(sheet.get_by_role("alert")).to_contain_text("The last digit does not fit")
    clean("a barcode misread")
    sheet.get_by_label("Digits under the barcode").fill("2000000000015")
    sheet.get_by_role("button", name="Look it up").tap()
    expect(sheet.get_by_label("What it is")).to_be_visible()
    clean("a kind that is new here")
    shopper.close()
    shopper.page.get_by_role("button", name="Is this a deal?").first.tap()
    sheet = shopper.page.get_by_role("dialog")
    sheet.get_by_label("The tag shows").fill("2.60")
    sheet.get_by_role("button", name="Is it?").tap()
    expect(sheet.get_by_role("button", name="Into the trolley")).to_be_visible()
    clean("a deal")
    sheet.get_by_role("button", name="Close").tap()
    sheet = shopper.more(SHAMPOO, "How many to buy")
    expect(sheet.get_by_text("One more:")).to_be_visible()
    clean("how many")
    shopper.close()
    shopper.more(SHAMPOO).get_by_role("button", name="Leave it").tap()
    shopper.told("Left: Shampoo")
    clean("left")
    shopper.go("Register")
    clean("the Register")
    shopper.till.get_by_role("button", name="It shows another total").tap()
    clean("another total")
    sheet = shopper.page.get_by_role("dialog")
    sheet.get_by_label("The register shows").fill("9.01")
    sheet.get_by_role("button", name="Why?").tap()
    expect(sheet.get_by_text("explains it: $9.01").first).to_be_visible()
    clean("the likeliest cause")
    shopper.page.get_by_role("dialog").get_by_role("button", name="Close").tap()
    shopper.done("$8.41")
    clean("the Register with a transaction done")
    shopper.go("Aisle")
    shopper.state_of(OATS, "bought")
    clean("bought")
    shopper.go("Trip")
    clean("the Trip")


def test_axe_finds_nothing_when_something_is_in_the_way(shopper: Shopper) -> None:
    """What she sees seldom: two trolleys, a camera, a full phone, a trip edited at home, shared offers."""
    page = shopper.page

    def clean(state: str) -> None:
        assert shopper.violations() == [], state

    shopper.take(SOAP)
    expect(page.get_by_role("link", name="All sent")).to_be_visible()
    _other_phone_takes_soap(shopper.url)
    page.evaluate("dispatchEvent(new Event('focus'))")
    expect(shopper.line(SOAP)).to_contain_text("In two trolleys: 2 here, 2 on the other phone.")
    clean("two trolleys")
    page.evaluate(
        """() => { navigator.mediaDevices.getUserMedia = async () => {
            const canvas = document.createElement('canvas');
            canvas.getContext('2d').fillRect(0, 0, 300, 150);
            return canvas.captureStream(5);
        }; }"""
    )
    sheet = shopper.more(SOAP, "Another kind or size is here")
    sheet.get_by_role("button", name="Another one: by its barcode").tap()
    sheet.get_by_role("button", name="Read it with the camera").tap()
    expect(sheet.get_by_label("What the camera sees")).to_be_visible()
    clean("the camera's view")
    shopper.close()
    bring_in(shopper.url, saturday(version=2))
    page.reload()
    expect(page.get_by_text("The trip was changed at home.")).to_be_visible()
    clean("edited at home")
    shopper.go("Trip")
    expect(page.get_by_text("The trip was changed at home since.")).to_be_visible()
    clean("the Trip, edited at home")
    shopper.phone.set_offline(True)
    shopper.go("Aisle")
    shopper.empty(SHAMPOO).get_by_role("button", name="Rain check: 1 at $4.50").tap()
    shopper.told("Rain check")
    page.evaluate(FULL)
    shopper.line(OATS).locator(".ticket-stub").tap()
    expect(page.get_by_role("alert").filter(has_text="The phone's storage is full")).to_be_visible()
    clean("a full phone")
    with page.expect_navigation():
        page.evaluate(SHARE, {"text": "Larkmoor soap 3 for 5.00", "url": "https://paper.example/"})
    offers = page.get_by_role("region", name="Offers to read at the Desk")
    expect(offers.get_by_role("listitem")).to_have_count(1)
    expect(page.get_by_role("region", name="Rain checks taken")).to_be_visible()
    clean("the Trip with shared offers, rain checks and unsent notes")


def _other_phone_takes_soap(url: str) -> None:
    event = {
        "id": "01900000-0000-7000-8000-000000000001",
        "device": "phone-other",
        "counter": 0,
        "at": "2026-12-05T12:00:00Z",
        "trip": "saturday",
        "what": {"kind": "in_trolley", "store": "alder", "product": "soap", "units": 2},
    }
    body = {"protocol": 1, "device": "phone-other", "trip": "saturday", "events": [event]}
    request = urllib.request.Request(
        f"{url}/sync", data=json.dumps(body).encode(), headers={"Content-Type": "application/json"}
    )
    with urllib.request.urlopen(request) as answer:
        assert json.load(answer)["acknowledged"] == [event["id"]]


def test_the_keys_alone_carry_a_line_to_the_trolley_and_back(shopper: Shopper) -> None:
    page = shopper.page
    _tab_to(shopper, SOAP, "ticket-stub")
    page.keyboard.press("Enter")
    shopper.told(f"2 × {SOAP} in the trolley")
    shopper.state_of(SOAP, "in the trolley")
    _tab_to(shopper, SOAP, "ticket-name")
    page.keyboard.press("Enter")
    sheet = page.get_by_role("dialog")
    expect(sheet.get_by_role("heading", name=SOAP)).to_be_focused()
    page.keyboard.press("Tab")
    expect(sheet.get_by_role("button", name="Put one back")).to_be_focused()
    page.keyboard.press("Space")
    expect(sheet.get_by_text("1 of 2 in the trolley")).to_be_visible()
    page.keyboard.press("Escape")
    expect(sheet).to_be_hidden()
    expect(shopper.line(SOAP).locator(".ticket-name")).to_be_focused()


def test_the_keys_alone_carry_the_whole_trip_with_the_radio_off(
    phone: BrowserContext, running: Callable[..., Running]
) -> None:
    server = running()
    bring_in(server.url, saturday())
    shopper = Shopper(phone, server.url).open()
    shopper.keep_page()
    server.stop()
    phone.set_offline(True)
    page = shopper.page

    def press(wanted: Locator) -> None:
        _reach(shopper, wanted)
        page.keyboard.press("Enter")

    def go(screen: str) -> None:
        press(page.get_by_role("navigation", name="Screens").get_by_role("link", name=screen))
        expect(page.get_by_role("main", name=screen)).to_be_focused()

    def take(product: str) -> None:
        press(shopper.line(product).locator(".ticket-stub"))
        shopper.told(f"{product} in the trolley")

    def done(total: str) -> None:
        press(shopper.till.get_by_role("button", name=f"It shows {total}: done"))
        shopper.told("Through the register")

    take(OATS)
    press(shopper.line(SOAP).locator(".stub-none"))
    sheet = page.get_by_role("dialog")
    press(sheet.get_by_role("button", name=OAT_SOAP))
    shopper.told("Shelf empty")
    press(page.get_by_role("button", name="Undo"))
    shopper.told("Taken back: Shelf empty")
    take(SOAP)
    go("Register")
    for coupon in shopper.step("Hand over 3 coupons").get_by_role("checkbox").all():
        _reach(shopper, coupon)
        page.keyboard.press("Space")
        expect(coupon).to_be_checked()
    done("$7.53")
    go("Aisle")
    take(RAZORS)
    take(SHAMPOO)
    go("Register")
    done("$8.98")
    done("$4.50")
    expect(page.get_by_text("Everything is through the register.")).to_be_visible()
    shopper.totals(out_of_pocket="$17.01", net="$17.01")


def test_forced_colours_and_reduced_motion_are_respected(
    chromium: Browser, running: Callable[..., Running]
) -> None:
    context = chromium.new_context(
        viewport={"width": 360, "height": 800},
        has_touch=True,
        is_mobile=True,
        forced_colors="active",
        reduced_motion="reduce",
    )
    server = running()
    bring_in(server.url, saturday())
    shopper = Shopper(context, server.url).open()
    shopper.take(OATS)
    sheet = shopper.more(SOAP)
    assert sheet.evaluate("(dialog) => getComputedStyle(dialog).animationName") == "none"
    sheet.get_by_role("button", name="Close").tap()
    # The page's own colours are gone: every ticket, and the screen that is in view, keep an edge.
    for part in (".ticket-body", ".ticket-stubs", ".news", ".tabs a[aria-current]"):
        edge = shopper.page.locator(part).first.evaluate(
            "(element) => { const {borderStyle, outlineStyle} = getComputedStyle(element);"
            " return borderStyle + outlineStyle; }"
        )
        assert "solid" in edge, part
    shopper.state_of(OATS, "in the trolley")
    context.close()


def _tab_to(shopper: Shopper, product: str, part: str) -> None:
    """Presses Tab until a part of a product's ticket has focus."""
    _reach(shopper, shopper.line(product).locator(f".{part}"))


def _reach(shopper: Shopper, wanted: Locator) -> None:
    """Presses Tab until it has focus."""
    expect(wanted).to_be_visible()
    for _ in range(60):
        if wanted.evaluate("(element) => element === document.activeElement"):
            return
        shopper.page.keyboard.press("Tab")
    raise AssertionError(f"Tab never reached {wanted}")


@pytest.mark.parametrize(("width", "text"), [(320, 100), (360, 200)])
def test_a_narrow_phone_or_large_text_cuts_nothing_off(
    phone: BrowserContext, running: Callable[..., Running], width: int, text: int
) -> None:
    server = running()
    bring_in(server.url, saturday())
    shopper = Shopper(phone, server.url).open()
    shopper.page.set_viewport_size({"width": width, "height": 640})
    shopper.page.evaluate(
        """(text) => {
            const sheet = new CSSStyleSheet();
            sheet.replaceSync(`:root { font-size: ${text}% }`);
            document.adoptedStyleSheets.push(sheet);
        }""",
        text,
    )
    for screen in ("Aisle", "Register", "Trip"):
        shopper.go(screen)
        assert shopper.page.evaluate("document.documentElement.scrollWidth") <= width, screen
    shopper.go("Aisle")
    shopper.more(SOAP)
    assert shopper.page.evaluate("document.querySelector('dialog[open]').scrollWidth") <= width
    small = shopper.page.evaluate(
        """() => [...document.querySelectorAll('button, nav a, input')].filter((element) => {
            const {width, height} = element.getBoundingClientRect();
            // The whole ticket is the name's, a tick's whole label the box's.
            const larger = element.className === 'ticket-name' || element.type === 'checkbox';
            return width > 0 && (width < 24 || height < 44) && !larger;
        }).map((element) => element.outerHTML)"""
    )
    assert small == []
