"""Promise kept here: text at twice its size makes the Desk's pages longer, not wider than a phone
(WCAG 2.2, 1.4.4 and 1.4.10)."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.at_home import NARROW, cut_off, planner
from tests.served import Running

DRAFT = "/desk/drafts/vellinghay-saturday"
TRIP = "/desk/trips/vellinghay-saturday"
PAGES = (
    DRAFT,
    f"{DRAFT}/plan",
    TRIP,
    f"{TRIP}/publish",
    "/desk/binder",
    "/desk/larder/staples/laundry",
    "/desk/reports",
)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The demo household's server; tests of this file do not change it."""
    server = Running(tmp_path_factory.mktemp("demo") / "data", "demo")
    yield server.start()
    server.stop()


@pytest.mark.parametrize("address", PAGES)
def test_at_twice_the_text_size_no_page_scrolls_sideways(
    chromium: Browser, demo: Running, address: str
) -> None:
    with planner(chromium, demo, NARROW) as page:
        page.goto(address)
        expect(page.locator("[data-working]")).to_have_count(0)
        expect(page.locator("[data-pending]")).to_have_count(0)
        expect(page.locator("h1")).to_be_visible()
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        width = page.evaluate("document.documentElement.scrollWidth")
        assert width <= NARROW["width"], cut_off(page)


def test_at_twice_the_text_size_the_products_of_a_staple_fit_without_scrolling(
    chromium: Browser, demo: Running
) -> None:
    with planner(chromium, demo, NARROW) as page:
        page.goto("/desk/larder/staples/toothbrushes")
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        table = page.get_by_role("region", name="Products that will do").get_by_role("table")
        expect(table).to_be_visible()
        assert table.evaluate("each => each.scrollWidth - each.clientWidth") <= 0
