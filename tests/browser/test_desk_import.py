"""A table comes in at the Desk in a real browser: with script or without, at any width, by keyboard."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, FilePayload, Page, expect

from tests.browser.axe import violations
from tests.browser.shopper import PATIENCE
from tests.served import Running

HERE = "/desk/offers/import"
STORES = "id,name\nalder,Alder Row Grocers\nbittern,Bittern Lane Drugs\n"
MIXED = (
    "id,name,region,colour\n"
    "alder,Alder Row Market,north,red\n"
    "bittern,Bittern Lane Drugs,,\n"
    "cormorant,Cormorant Quay Provisions and Household Goods,,\n"
    "no good id,Dunnock Yard,,\n"
)
EITHER = "id,store,amount\nten,alder,7.35\n"  # slips, or gift cards


@pytest.fixture
def desk(chromium: Browser, running: Callable[..., Running]) -> Iterator[Page]:
    """The Desk of an empty household, without script."""
    context = chromium.new_context(base_url=running().url, java_script_enabled=False)
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    yield page
    context.close()


def send(page: Page, table: str, name: str = "offers.csv") -> None:
    """Sends a file, as she would choose it."""
    page.goto(HERE)
    file: FilePayload = {"name": name, "mimeType": "text/csv", "buffer": table.encode()}
    page.get_by_label("File").set_input_files(file)
    page.get_by_role("button", name="Look at it").click()


def test_a_table_is_looked_at_taken_in_and_taken_back_without_script(desk: Page) -> None:
    send(desk, STORES)
    expect(desk.get_by_role("heading", level=1)).to_have_text("What becomes of each row")
    desk.get_by_role("button", name="Take in 2 rows").click()
    expect(desk.get_by_role("status")).to_contain_text("2 rows were taken in")
    desk.get_by_role("button", name="Take all of it back").click()
    send(desk, STORES)
    expect(desk.get_by_role("button", name="Take in 2 rows")).to_be_visible()


def test_refused_rows_are_named_first_and_left_out_only_when_she_says_so(desk: Page) -> None:
    send(desk, STORES)
    desk.get_by_role("button", name="Take in 2 rows").click()
    send(desk, MIXED)
    first = desk.locator(".fates > li").first
    expect(first).to_contain_text("row 5")
    expect(first).to_contain_text("letters, digits, points, hyphens and underscores")
    desk.get_by_role("button", name="Take in 2 rows").click()
    expect(desk.get_by_role("alert")).to_contain_text("Nothing was taken in.")
    desk.get_by_label("Leave the 1 refused row out").check()
    desk.get_by_role("button", name="Take in 2 rows").click()
    expect(desk.get_by_role("status")).to_contain_text("2 rows were taken in")


def test_what_its_rows_are_is_said_afterwards_and_changed_without_script(desk: Page) -> None:
    send(desk, STORES)
    desk.get_by_role("button", name="Take in 2 rows").click()
    send(desk, EITHER)
    expect(desk.get_by_role("heading", name="offers.csv is still here")).to_be_visible()
    for kind in ("slips", "gift cards"):
        desk.get_by_label("These are").select_option(kind)
        desk.get_by_role("button", name="Look again").click()
        expect(desk.get_by_text(f"offers.csv, {kind}.")).to_be_visible()
    desk.get_by_role("button", name="Take in 1 row").click()
    expect(desk.get_by_role("status")).to_contain_text("1 row was taken in")


@pytest.mark.parametrize("width", [320, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_fits_its_width_and_axe_finds_nothing(
    chromium: Browser, running: Callable[..., Running], width: int, scheme: str
) -> None:
    context = chromium.new_context(
        base_url=running().url,
        viewport={"width": width, "height": 900},
        color_scheme=scheme,  # pyright: ignore[reportArgumentType]  # one of the two that it knows
        bypass_csp=True,
    )
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    page.goto(HERE)
    looked_at(page, width, f"begin-{scheme}")
    page.goto(f"{HERE}/columns/coupon")
    looked_at(page, width, f"columns-{scheme}")
    send(page, STORES)
    page.get_by_role("button", name="Take in 2 rows").click()
    looked_at(page, width, f"done-{scheme}")
    send(page, MIXED)
    looked_at(page, width, f"preview-{scheme}")
    page.get_by_role("button", name="Take in 2 rows").click()
    looked_at(page, width, f"refused-{scheme}")
    send(page, EITHER)
    looked_at(page, width, f"either-{scheme}")
    page.get_by_label("These are").select_option("gift cards")
    page.get_by_role("button", name="Look again").click()
    looked_at(page, width, f"chosen-{scheme}")
    context.close()


def looked_at(page: Page, width: int, name: str) -> None:
    """What axe, the width and the thumb ask of a page; a picture of it, where a folder for such is named."""
    assert violations(page) == [], name
    assert page.evaluate("document.documentElement.scrollWidth") <= width, name
    small: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("main button, main input:not([type=hidden]), main select")]
            .filter((each) => each.checkVisibility() && each.type !== "checkbox")
            .filter((each) => each.getBoundingClientRect().height < 44).map((each) => each.outerHTML)"""
    )
    assert small == [], name
    if pictures := os.environ.get("COUNTERFOIL_PICTURES"):
        page.screenshot(path=str(Path(pictures) / f"{name}-{width}.png"), full_page=True)
