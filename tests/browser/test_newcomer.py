"""A newcomer opens ``counterfoil demo`` and looks around: a plan, a larder that asks, a trip to settle, a
page for readers. Pictures for the README are made here when ``COUNTERFOIL_PICTURES`` asks for them.
"""

from __future__ import annotations

import io
import os
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.shopper import PATIENCE, PICTURES
from tests.served import Running, Static


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The demo household's server; what is published on it disturbs no other test."""
    server = Running(tmp_path_factory.mktemp("demo") / "data", "demo")
    yield server.start()
    server.stop()


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    """A page as wide as a desk's."""
    context = chromium.new_context(
        viewport={"width": 1080, "height": 860}, locale="en-US", timezone_id="UTC", reduced_motion="reduce"
    )
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    expect.set_options(timeout=PATIENCE)
    yield page
    context.close()


def keep_picture(page: Page, name: str) -> None:
    """Keeps what is in view for the README, where pictures are asked for."""
    if os.environ.get("COUNTERFOIL_PICTURES"):
        page.screenshot(path=PICTURES / f"{name}.png", animations="disabled")


def test_the_trip_to_come_is_planned_proven_and_compared(demo: Running, page: Page) -> None:
    page.goto(f"{demo.url}/desk")
    page.get_by_role("link", name="Saturday in Vellinghay").first.click()
    expect(page.get_by_text("Best possible: proven")).to_be_visible()
    figures = page.locator(".figures").first
    expect(figures).to_contain_text("$42.36")
    expect(figures).to_contain_text("$52.68")
    deals = page.get_by_role("link", name="Deals", exact=True)
    deals.click()
    for place in range(4):
        expect(page.locator(".deal").nth(place).locator("[data-pending]")).to_have_count(0)
    deals.click()
    keep_picture(page, "desk-trip")


def test_the_larder_says_how_long_things_last_and_why_they_are_needed(demo: Running, page: Page) -> None:
    page.goto(f"{demo.url}/desk/larder")
    staple = page.locator(".staple", has_text="Bath tissue")
    expect(staple).to_contain_text("Lasts until about")
    keep_picture(page, "larder")
    staple.locator("summary").click()
    expect(staple).to_contain_text("rolls went between the counts of")


def test_a_total_that_differs_and_a_rebate_wait_to_be_settled(demo: Running, page: Page) -> None:
    page.goto(f"{demo.url}/desk/settle")
    expect(page.get_by_text("Marrowbell Mart asked for $0.60 more than the papers explain")).to_be_visible()
    keep_picture(page, "settle")
    page.get_by_role("link", name="Before the baking").first.click()
    expect(page.get_by_text("The register showed $0.60 more than its papers come to.")).to_be_visible()


def test_the_reports_have_weeks_to_compare(demo: Running, page: Page) -> None:
    page.goto(f"{demo.url}/desk/reports")
    expect(page.locator("figure[data-chart]").first).to_be_visible()
    for trip in ("Paper, teeth and cereal", "Before the baking"):
        expect(page.locator("table").get_by_text(trip, exact=True).first).to_be_visible()


def test_the_price_book_knows_what_the_trips_paid(demo: Running, page: Page) -> None:
    page.goto(f"{demo.url}/desk/larder/prices")
    page.get_by_role("link", name="Pearlip toothpaste, mint").first.click()
    expect(page.locator("figure[data-chart]").first).to_be_visible()
    lowest = page.locator("dl div", has_text="Lowest in a year")
    expect(lowest).to_contain_text("50.9¢/oz, Ostrel Pharmacy")  # what the two of the first trip came to


def test_a_trip_is_published_for_readers(demo: Running, page: Page, tmp_path: Path) -> None:
    page.goto(f"{demo.url}/desk/trips/before-the-baking/publish")
    page.get_by_label("Published by").fill("Wren Tallow")
    page.get_by_label("Address of the site's folder").fill("https://list.example/deals/")
    page.get_by_role("button", name="Make the pages").click()
    with page.expect_download() as downloaded:
        page.get_by_role("link", name="Download the whole folder").click()
    folder = tmp_path / "deals"
    with zipfile.ZipFile(io.BytesIO(downloaded.value.path().read_bytes())) as packed:
        packed.extractall(folder)
    host = Static(tmp_path)
    try:
        [article] = folder.glob("**/trips/*/index.html")
        page.goto(f"{host.url}/{article.parent.relative_to(tmp_path)}/")
        expect(page.get_by_text("Cocovane baking chocolate").first).to_be_visible()
        expect(page.get_by_text("Marrowbell Mart").first).to_be_visible()
        keep_picture(page, "published")
    finally:
        host.stop()
