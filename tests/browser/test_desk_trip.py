"""A trip made at the Desk in a real browser: with and without script, at home's width and the phone's, clean
by axe. ``test_desk_by_keys.py`` makes one without a mouse."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize, expect

from tests.browser.axe import violations
from tests.browser.shopper import PATIENCE
from tests.served import Running

WIDE: ViewportSize = {"width": 1200, "height": 900}
NARROW: ViewportSize = {"width": 360, "height": 800}
NARROWEST: ViewportSize = {"width": 320, "height": 640}
DRAFT = "/desk/drafts/vellinghay-saturday"
PAGES = (
    "/desk",
    "/desk/trips/new",
    DRAFT,
    f"{DRAFT}/plan",
    f"{DRAFT}/deals/ostrel/pearlip-mint",
    "/desk/trips/vellinghay-saturday",
)
# Where pictures are wanted: COUNTERFOIL_DESK_PICTURES names a folder.
PICTURES = os.environ.get("COUNTERFOIL_DESK_PICTURES", "")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The demo household's server; what tests of this file change they take back."""
    server = Running(tmp_path_factory.mktemp("demo") / "data", "demo")
    yield server.start()
    server.stop()


@pytest.fixture
def opened(chromium: Browser) -> Iterator[Callable[..., Page]]:
    """Opens pages in contexts of their own, which are closed after the test."""
    contexts: list[BrowserContext] = []

    def open_page(viewport: ViewportSize = WIDE, **options: object) -> Page:
        context = chromium.new_context(
            viewport=viewport,
            locale="en-US",
            timezone_id="UTC",
            reduced_motion="reduce",
            **options,  # pyright: ignore[reportArgumentType]  # playwright's own, passed on
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(PATIENCE)
        expect.set_options(timeout=PATIENCE)
        return page

    yield open_page
    for context in contexts:
        context.close()


def planned(page: Page, url: str) -> None:
    """Opens the plan and waits until it and all that stands beside it are there."""
    answer = page.goto(url)
    assert answer is not None
    assert answer.ok, page.locator("main").inner_text()
    expect(page.locator("[data-working]")).to_have_count(0)
    expect(page.locator("[data-pending]")).to_have_count(0)
    # A working page opens the plan by itself; what it opened must be the plan.
    fault = page.get_by_role("heading", name="Internal Server Error")
    assert fault.count() == 0, page.locator("main").inner_text()


def wider_than_the_page(page: Page) -> list[str]:
    """Whatever reaches beyond the page's width, but for what scrolls by itself."""
    return list(
        page.evaluate(
            """() => document.documentElement.scrollWidth <= innerWidth ? [] :
              [...document.querySelectorAll("main *")]
                .filter((each) => !each.closest(".wide, .unseen"))
                .filter((each) => each.getBoundingClientRect().right > innerWidth + 1)
                .map((each) => each.outerHTML.slice(0, 80))"""
        )
    )


def test_parts_arrive_where_they_were_kept_a_place_and_nothing_moves(
    demo: Running, opened: Callable[..., Page]
) -> None:
    """The first to ask this server for the plan, so that it is still being worked out."""
    page = opened()
    page.goto(demo.url + f"{DRAFT}/plan")
    expect(page.locator("[data-working]")).to_have_count(0)
    first = page.locator(".deal").first
    expect(page.locator("[data-pending]").first).to_be_attached()
    before = [each.inner_text() for each in page.locator(".deal h3").all()]
    held = page.get_by_role("link", name="Change stores, needs or money")
    held.focus()
    expect(page.locator("[data-pending]")).to_have_count(0)
    assert [each.inner_text() for each in page.locator(".deal h3").all()] == before
    assert held.evaluate("each => each === document.activeElement")
    expect(page.locator("[data-arrived]")).to_contain_text("27 of 27")
    page.get_by_role("link", name="Put them in that order").click()
    expect(first).to_contain_text("needed unit that nothing else meets")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("viewport", [WIDE, NARROW], ids=["home", "phone"])
def test_axe_finds_nothing_on_any_page_of_a_trip(
    demo: Running, opened: Callable[..., Page], viewport: ViewportSize, scheme: str
) -> None:
    page = opened(viewport, color_scheme=scheme, bypass_csp=True)
    found: list[str] = []
    for address in PAGES:
        planned(page, demo.url + address)
        page.evaluate("document.querySelectorAll('main details').forEach((each) => { each.open = true; })")
        if PICTURES:
            name = f"{address.strip('/').replace('/', '-')}-{viewport['width']}-{scheme}.png"
            page.screenshot(path=Path(PICTURES) / name, full_page=True)
        found += [f"{address}: {each}" for each in violations(page)]
    assert found == []


def test_nothing_is_cut_off_at_the_narrowest_width(demo: Running, opened: Callable[..., Page]) -> None:
    page = opened(NARROWEST)
    for address in PAGES:
        planned(page, demo.url + address)
        assert wider_than_the_page(page) == [], address


def test_what_is_touched_is_large_enough_for_a_thumb(demo: Running, opened: Callable[..., Page]) -> None:
    page = opened(NARROW)
    for address in PAGES:
        planned(page, demo.url + address)
        small = page.evaluate(
            """() => [...document.querySelectorAll("main :is(button, summary, .button, select, input)")]
              .filter((each) => each.type !== "hidden" && each.offsetParent)
              .filter((each) => (each.type === "checkbox" ? each.parentElement : each)
                .getBoundingClientRect().height < 43.5)
              .map((each) => each.outerHTML.slice(0, 90))"""
        )
        assert small == [], address


def follow_while_there(page: Page, name: str) -> None:
    """Follows the link of that name again and again, each time once the page is whole."""
    link = page.get_by_role("link", name=name)
    while link.count():
        with page.expect_navigation(wait_until="load"):
            link.click()


def test_without_script_links_show_what_has_arrived(
    running: Callable[..., Running], opened: Callable[..., Page]
) -> None:
    page = opened(java_script_enabled=False)
    page.goto(running(command="demo").url + f"{DRAFT}/plan")
    follow_while_there(page, "See the plan")
    follow_while_there(page, "Show what has arrived since")
    expect(page.get_by_text("Best possible: proven")).to_be_visible()
    card = page.locator(".card", has_text="Without going to Marrowbell Mart")
    expect(card).to_contain_text("$27.33 worse")
    card.get_by_role("button", name="Take this one").click()
    expect(page.get_by_text("Kept: Not going to Marrowbell Mart.")).to_be_visible()
    page.get_by_role("button", name="Take it back").click()
    follow_while_there(page, "See the plan")
    expect(page.locator(".deal", has_text="Marrowbell Mart").first).to_be_visible()


def test_a_deal_is_left_out_from_its_page_and_the_plan_says_what_came_of_it(
    demo: Running, opened: Callable[..., Page]
) -> None:
    page = opened(NARROW)
    planned(page, demo.url + f"{DRAFT}/plan")
    page.get_by_role("link", name="Pearlip toothpaste, mint").first.click()
    page.get_by_role("button", name="Leave it out anywhere").click()
    expect(page.get_by_text("Kept: Left out: Pearlip toothpaste, mint, 4.6 oz anywhere.")).to_be_visible()
    expect(page.locator(".deal", has_text="Pearlip toothpaste, bright").first).to_be_visible()
    decision = page.locator(".decisions li", has_text="Left out: Pearlip toothpaste, mint")
    decision.get_by_role("button").click()
    expect(page.locator(".deal", has_text="Pearlip toothpaste, mint").first).to_be_visible()


def test_the_paper_has_boxes_for_the_aisles_and_no_navigation(
    demo: Running, opened: Callable[..., Page]
) -> None:
    page = opened()
    page.goto(f"{demo.url}/desk/trips/vellinghay-saturday")
    page.emulate_media(media="print")
    expect(page.locator(".to-find .box").first).to_be_visible()
    expect(page.get_by_text("Total that the register must show").first).to_be_visible()
    for gone in ("header nav", "#came-home", ".within"):
        expect(page.locator(gone).first).to_be_hidden()
