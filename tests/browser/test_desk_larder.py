"""The larder and the price book in a real browser: counting by keys, the chart beside its table, axe."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import pytest
from playwright.sync_api import Browser, Page, ViewportSize, expect

from tests.browser.at_home import NARROW, NARROWEST, WIDE, cut_off, kitchen, planner, too_small
from tests.browser.axe import violations
from tests.browser.waiting import until
from tests.served import Running

PAGES = (
    "/desk/larder",
    "/desk/larder/count",
    "/desk/larder/staples/towels",
    "/desk/larder/staples/towels/change",
    "/desk/larder/staples/new",
    "/desk/larder/prices",
    "/desk/larder/prices/staples/towels",
    "/desk/larder/prices/products/oats",
    "/desk/settings",
)
PRICES = "/desk/larder/prices/staples/towels"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A server whose household no test of this file changes for good."""
    running = kitchen(tmp_path_factory.mktemp("larder") / "data")
    yield running
    running.stop()


def charts_fetched(page: Page) -> list[str]:
    """Every file of the chart and its library that the page asked for, from now on."""
    found: list[str] = []
    wanted = ("/web/charts/", "/web/vendor/chart.js/")
    page.on("request", lambda asked: found.append(asked.url) if any(w in asked.url for w in wanted) else None)
    return found


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("viewport", [WIDE, NARROW], ids=["desk", "phone"])
def test_every_page_is_clean_by_axe_and_fits_thumb_and_width(
    chromium: Browser, server: Running, viewport: ViewportSize, scheme: Literal["light", "dark"]
) -> None:
    with planner(chromium, server, viewport, color_scheme=scheme, bypass_csp=True) as page:
        for address in PAGES:
            page.goto(address)
            page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
            assert violations(page) == [], address
            assert too_small(page) == [], address
            assert cut_off(page) == [], address


def test_nothing_is_cut_off_on_the_narrowest_phone(chromium: Browser, server: Running) -> None:
    with planner(chromium, server, NARROWEST) as page:
        for address in PAGES:
            page.goto(address)
            assert cut_off(page) == [], address


def test_a_count_is_made_by_keys_alone(chromium: Browser, server: Running) -> None:
    """The first field has the focus, Enter goes on, Ctrl with Enter sends."""
    with planner(chromium, server) as page:
        page.goto("/desk/larder/count")
        expect(page.get_by_label("Wickel rolled oats")).to_be_focused()
        for key in ("5", "Enter", "Enter", "7", "Enter"):
            page.keyboard.press(key)
        expect(page.get_by_label("Lathrin soap")).to_be_focused()
        page.keyboard.press("Control+Enter")
        expect(page.get_by_role("heading", name="Larder")).to_be_visible()
        page.goto("/desk/larder/staples/towels")
        expect(page.get_by_role("row", name="Dabwick paper towels, 2 rolls 7")).to_be_visible()
        expect(page.get_by_role("row", name="Dabwick paper towels, 12 rolls 1")).to_be_visible()
        page.goto("/desk/larder/staples/oats")
        expect(page.get_by_role("row", name="Wickel rolled oats 5")).to_be_visible()


def test_without_script_enter_keeps_what_was_counted_so_far(chromium: Browser, server: Running) -> None:
    with planner(chromium, server, NARROW, java_script_enabled=False) as page:
        page.goto("/desk/larder/count?search=soap")
        page.get_by_label("Lathrin soap").fill("4")
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", name="Larder")).to_be_visible()
        expect(page.locator(".staple").filter(has_text="Soap")).to_contain_text("16 bars")


def test_used_one_is_told_and_taken_back(chromium: Browser, server: Running) -> None:
    with planner(chromium, server, NARROW) as page:
        page.goto("/desk/larder")
        oats = page.locator(".staple").filter(has_text="Oats")
        before = oats.locator("dd").first.inner_text()
        oats.get_by_role("button", name="Used one").click()
        expect(page.get_by_role("status")).to_contain_text("a pack of Wickel rolled oats is used up")
        page.get_by_role("button", name="Take that back").click()
        expect(page.get_by_role("status")).to_have_count(0)
        expect(oats.locator("dd").first).to_have_text(before)


# --- the chart ------------------------------------------------------------------------


def test_the_chart_draws_what_the_table_says_and_is_silent_to_a_screen_reader(
    chromium: Browser, server: Running
) -> None:
    with planner(chromium, server) as page:
        asked = charts_fetched(page)
        page.goto(PRICES)
        frame = page.locator("figure .chart")
        expect(frame).to_be_visible()
        assert frame.get_attribute("aria-hidden") == "true"
        drawn = page.evaluate(
            """async () => {
                const { Chart } = await import("chart.js");
                const chart = Chart.getChart(document.querySelector("figure canvas"));
                const lowest = (points) => Math.min(...points.map((point) => point.y));
                return chart.data.datasets.map((set) => [set.label, set.data.length, lowest(set.data)]);
            }"""
        )
        assert drawn == [["Alder Row Grocers", 52, 41.58], ["Birchwell Market", 52, 41.58]]
        inked = page.evaluate(
            """() => {
                const canvas = document.querySelector("figure canvas");
                const pixels = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
                return pixels.some((value) => value > 0);
            }"""
        )
        assert inked
        assert any(url.endswith("/web/charts/line-chart.js") for url in asked)
        expect(page.locator("figure table")).to_be_hidden()
        page.get_by_text("Every price (104), the latest first").click()
        expect(page.get_by_role("row")).to_have_count(3 + 105)


def test_its_colours_are_the_sheets_and_follow_the_scheme(chromium: Browser, server: Running) -> None:
    colours = """async () => {
        const { Chart } = await import("chart.js");
        const chart = Chart.getChart(document.querySelector("figure canvas"));
        const sheet = getComputedStyle(document.querySelector("figure"));
        const inSheet = sheet.getPropertyValue("--chart-1").trim();
        return [chart.data.datasets[0].borderColor, inSheet, chart.options.animation];
    }"""
    with planner(chromium, server, color_scheme="light") as page:
        page.goto(PRICES)
        expect(page.locator("figure .chart")).to_be_visible()
        light = page.evaluate(colours)
        page.emulate_media(color_scheme="dark")
        until(page, f"async () => (await ({colours})())[0] !== {light[0]!r}")
        dark = page.evaluate(colours)
    assert light[0] == light[1]
    assert dark[0] == dark[1]
    assert light[2] is dark[2] is False


def test_pages_without_a_chart_fetch_no_library_and_without_script_the_table_is_there(
    chromium: Browser, server: Running
) -> None:
    with planner(chromium, server) as page:
        asked = charts_fetched(page)
        page.goto("/desk/larder", wait_until="networkidle")
        assert asked == []
    with planner(chromium, server, java_script_enabled=False) as page:
        page.goto(PRICES)
        page.get_by_text("Every price (104), the latest first").click()
        expect(page.get_by_role("row")).to_have_count(3 + 105)
        expect(page.locator("canvas")).to_have_count(0)


def test_the_proposal_becomes_hers_and_prices_are_found_as_she_types(
    chromium: Browser, server: Running
) -> None:
    with planner(chromium, server, NARROW) as page:
        page.goto(PRICES)
        page.get_by_role("button", name="Take the proposal").click()
        expect(page.get_by_text("Yours is 43.3¢/roll.")).to_be_visible()
        page.goto("/desk/larder/staples/towels/change")
        expect(page.get_by_label("Stock-up price")).to_have_value("0.4325")
        page.goto("/desk/larder/prices")
        page.get_by_label("Words of its name").press_sequentially("soap")
        expect(page.get_by_role("status")).to_have_text("1 product")
        expect(page.get_by_role("link", name="Lathrin soap")).to_be_visible()
