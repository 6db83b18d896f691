"""The binder and the calendar in a real browser: at both widths, with script and without, by keys, by axe."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import pytest
from playwright.sync_api import Browser, Locator, Page, ViewportSize, expect

from tests.browser.at_home import NARROW, NARROWEST, WIDE, cut_off, kitchen, planner, too_small
from tests.browser.axe import violations
from tests.served import Running

PAGES = (
    "/desk/binder",
    "/desk/calendar",
    "/desk/binder/slips/new",
    "/desk/binder/rain-checks/new",
    "/desk/binder/gift-cards/card-birch",
)


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A server whose household no test of this file changes for good."""
    running = kitchen(tmp_path_factory.mktemp("binder") / "data")
    yield running
    running.stop()


def entry(page: Page, coupon: str) -> Locator:
    """A coupon in the binder."""
    return page.locator(f"#coupon-{coupon}")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("viewport", [WIDE, NARROW], ids=["desk", "phone"])
def test_every_page_is_clean_by_axe_and_fits_thumb_and_width(
    chromium: Browser, server: Running, viewport: ViewportSize, scheme: Literal["light", "dark"]
) -> None:
    with planner(chromium, server, viewport, color_scheme=scheme, bypass_csp=True) as page:
        for address in PAGES:
            page.goto(address)
            assert violations(page) == [], address
            assert too_small(page) == [], address
            assert cut_off(page) == [], address


def test_nothing_is_cut_off_on_the_narrowest_phone(chromium: Browser, server: Running) -> None:
    with planner(chromium, server, NARROWEST) as page:
        for address in PAGES:
            page.goto(address)
            assert cut_off(page) == [], address


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_copies_are_counted_by_buttons_with_script_and_without(
    chromium: Browser, server: Running, script: bool
) -> None:
    with planner(chromium, server, NARROW, java_script_enabled=script) as page:
        page.goto("/desk/binder")
        expect(entry(page, "soap-50")).to_contain_text("3 copies")
        entry(page, "soap-50").get_by_role("button", name="One fewer").click()
        expect(entry(page, "soap-50")).to_contain_text("2 copies")
        entry(page, "soap-50").get_by_role("button", name="One more").click()
        expect(entry(page, "soap-50")).to_contain_text("3 copies")
        entry(page, "app").get_by_role("button", name="It is loaded").click()
        expect(entry(page, "app")).to_contain_text("✓ loaded")
        entry(page, "app").get_by_role("button", name="Not loaded after all").click()
        expect(entry(page, "app")).to_contain_text("○ not loaded yet")


def test_by_keys_alone_a_count_keeps_its_place_on_the_page(chromium: Browser, server: Running) -> None:
    with planner(chromium, server) as page:
        page.goto("/desk/binder")
        more = entry(page, "print").get_by_role("button", name="One more")
        more.focus()
        page.keyboard.press("Enter")
        expect(entry(page, "print")).to_contain_text("2 copies")
        expect(page).to_have_url(f"{server.url}/desk/binder#coupon-print")
        # Once the page is whole the browser moves to the coupon, and goes on from there: its link comes next.
        page.wait_for_load_state("load")
        expect(page.locator("#coupon-print:target")).to_be_in_viewport()
        page.keyboard.press("Tab")
        expect(entry(page, "print").get_by_role("link")).to_be_focused()
        entry(page, "print").get_by_role("button", name="One fewer").click()
        expect(entry(page, "print")).to_contain_text("1 copy")


def test_a_form_that_is_turned_down_puts_the_finding_first_and_its_link_leads_to_the_field(
    chromium: Browser, server: Running
) -> None:
    with planner(chromium, server, NARROW, bypass_csp=True) as page:
        page.goto("/desk/binder/rain-checks/new")
        page.get_by_label("Product").fill("dabwick")
        page.get_by_label("Price of one").fill("1.2.3")
        page.get_by_role("button", name="Keep").click()
        trouble = page.get_by_role("alert")
        expect(trouble).to_be_focused()
        expect(trouble).to_contain_text("which of the 2 is meant?")
        assert violations(page) == []
        trouble.get_by_role("link", name="Amount").click()
        expect(page.get_by_label("Price of one")).to_have_value("1.2.3")
        expect(page.get_by_role("radio", name="Dabwick paper towels, 2 rolls")).to_be_visible()


def test_an_owner_is_shown_the_calendars_address_once(chromium: Browser, server: Running) -> None:
    with planner(chromium, server, NARROW, bypass_csp=True) as page:
        page.goto("/desk/calendar")
        page.get_by_role("button", name="Make an address").click()
        expect(page.get_by_role("heading", name="The calendar's address")).to_be_visible()
        assert violations(page) == []
        assert cut_off(page) == []
        address = page.locator("code").inner_text()
        answer = page.request.get(address)
        assert "BEGIN:VCALENDAR" in answer.text()
        page.get_by_role("link", name="Back to the calendar").click()
        page.get_by_role("button", name="Revoke it").click()
        expect(page.get_by_role("button", name="Make an address")).to_be_visible()
        assert page.request.get(address).status == 404
