"""Everyone can read, print, install and change a published trip: axe finds nothing, the keys reach all, a
narrow phone cuts nothing off, and the pages ask nobody but their own host.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Literal

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from tests.browser.axe import violations
from tests.browser.reader import SLUG, TITLE, Reader, put_out
from tests.browser.saturday import SOAP, saturday
from tests.browser.shopper import PATIENCE, bring_in
from tests.served import Running, Static

Scheme = Literal["light", "dark"]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The trip, published into a sub-folder of a plain file server."""
    root = tmp_path_factory.mktemp("host")
    put_out(root / "deals")
    server = Static(root)
    yield f"{server.url}/deals"
    server.stop()


@pytest.fixture(params=["light", "dark"])
def coloured(request: pytest.FixtureRequest, chromium: Browser) -> Iterator[BrowserContext]:
    """A phone that likes light or dark pages; axe may be loaded into them."""
    scheme: Scheme = request.param
    context = chromium.new_context(
        viewport={"width": 360, "height": 800},
        has_touch=True,
        is_mobile=True,
        locale="en-US",
        color_scheme=scheme,
        reduced_motion="reduce",
        bypass_csp=True,
    )
    yield context
    context.close()


def test_the_desk_publishes_with_a_form_that_everyone_can_use(
    coloured: BrowserContext, running: Callable[..., Running]
) -> None:
    server = running()
    bring_in(server.url, saturday())
    page = coloured.new_page()
    page.set_default_timeout(PATIENCE)
    page.goto(f"{server.url}/desk/trips/saturday")
    page.get_by_role("link", name="Publish for readers").tap()
    page.wait_for_url("**/publish")
    assert violations(page) == [], "the form"
    page.get_by_label("Published by").fill("Wren Tallow")
    page.get_by_label("Address of the site's folder").fill("https://list.example/?week")
    page.get_by_role("button", name="Make the pages").tap()
    expect(page.get_by_role("alert")).to_contain_text("Write it without what follows ? or #.")
    assert violations(page) == [], "the form, refused"
    page.get_by_label("Address of the site's folder").fill("https://list.example/deals/")
    page.get_by_role("button", name="Make the pages").tap()
    with page.expect_download() as downloaded:
        page.get_by_role("link", name="Download the whole folder").tap(timeout=PATIENCE)
    assert downloaded.value.suggested_filename == "counterfoil-site.zip"
    assert violations(page) == [], "published"
    page.set_viewport_size({"width": 320, "height": 640})
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    page.get_by_role("button", name="Withdraw").tap()
    expect(page.get_by_text("No trip is in the folder at the moment.")).to_be_visible()


def test_axe_finds_nothing_on_the_pages_to_read(coloured: BrowserContext, site: str) -> None:
    page = coloured.new_page()
    for path in ("index.html", f"trips/{SLUG}/index.html"):
        page.goto(f"{site}/{path}")
        assert violations(page) == [], path


def test_axe_finds_nothing_while_a_trip_is_carried(coloured: BrowserContext, site: str) -> None:
    reader = Reader(coloured, site).carry()
    assert reader.violations() == [], "as published"
    deal = reader.opened(SOAP)
    reader.enter(deal.get_by_label(f"{SOAP} Alder Row Grocers"), "2.99")
    deal.get_by_label("You need").fill("many")
    deal.get_by_label("You need").blur()
    expect(deal.get_by_text("Write a whole number")).to_be_visible()
    assert reader.violations() == [], "changed, and a count refused"
    reader.page.get_by_role("checkbox", name="Bittern Lane Drugs").uncheck()
    reader.planned()
    assert reader.violations() == [], "a store left out"
    for screen in ("Aisle", "Register", "Trips"):
        reader.go(screen)
        assert reader.violations() == [], screen


@pytest.mark.parametrize(("width", "text"), [(320, 100), (360, 200)])
def test_a_narrow_phone_or_large_text_cuts_nothing_off(
    phone: BrowserContext, site: str, width: int, text: int
) -> None:
    reader = Reader(phone, site)
    page = reader.page
    page.set_viewport_size({"width": width, "height": 640})
    larger = """(text) => {
        const sheet = new CSSStyleSheet();
        sheet.replaceSync(`:root { font-size: ${text}% }`);
        document.adoptedStyleSheets.push(sheet);
    }"""
    for path in ("index.html", f"trips/{SLUG}/index.html"):
        page.goto(f"{site}/{path}")
        page.evaluate(larger, text)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
    reader.carry()
    page.evaluate(larger, text)
    reader.opened(SOAP)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.evaluate("document.querySelector('main').scrollWidth") <= width
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, nav a, input, summary, select')].filter((element) => {
            const box = (element.closest('label') ?? element).getBoundingClientRect();
            return box.width > 0 && (box.width < 24 || box.height < 44);
        }).map((element) => element.outerHTML)"""
    )
    assert small == []


def test_the_keys_alone_change_a_price_and_leave_a_store_out(phone: BrowserContext, site: str) -> None:
    reader = Reader(phone, site).carry()
    page = reader.page

    def reach(wanted: Any) -> None:
        for _ in range(80):
            if wanted.evaluate("(element) => element === document.activeElement"):
                return
            page.keyboard.press("Tab")
        raise AssertionError(f"Tab never reached {wanted}")

    reach(page.get_by_role("checkbox", name="Bittern Lane Drugs"))
    page.keyboard.press("Space")
    reader.planned()
    reader.totals(out_of_pocket="$3.51", net="$3.51")
    deal = page.locator("details.hers").filter(has_text=SOAP)
    reach(deal.locator("summary"))
    page.keyboard.press("Enter")
    reach(deal.get_by_label(f"{SOAP} Alder Row Grocers"))
    page.keyboard.press("Control+A")
    page.keyboard.type("2.59")
    page.keyboard.press("Tab")
    reader.planned()
    reader.totals(out_of_pocket="$3.62", net="$3.62")
    assert reader.faults == []


def test_the_site_can_be_installed(whole_chromium: Browser, site: str) -> None:
    """As the browser itself judges it, from the article and from the page that carries."""
    page = whole_chromium.new_page()
    devtools: Any = page.context.new_cdp_session(page)

    def objections() -> set[str]:
        found = devtools.send("Page.getInstallabilityErrors")["installabilityErrors"]
        # Every test's browser keeps nothing beyond its test.
        return {each["errorId"] for each in found} - {"in-incognito"}

    page.goto(f"{site}/feed.xml")
    assert objections() == {"no-manifest"}
    for path in (f"trips/{SLUG}/index.html", "carry.html"):
        page.goto(f"{site}/{path}")
        manifest = devtools.send("Page.getAppManifest")
        assert manifest["url"] == f"{site}/manifest.webmanifest"
        assert manifest["errors"] == []
        assert objections() == set()
        parsed = devtools.send("Page.getAppManifest")["manifest"]
        assert parsed["startUrl"] == f"{site}/carry.html"
        assert parsed["scope"] == f"{site}/"


def test_an_article_is_printed_without_what_paper_cannot_do(phone: BrowserContext, site: str) -> None:
    page = phone.new_page()
    page.goto(f"{site}/trips/{SLUG}/index.html")
    printed = page.pdf(format="Letter")
    assert printed.startswith(b"%PDF-")
    page.emulate_media(media="print")
    expect(page.get_by_role("link", name="Carry this trip").first).to_be_hidden()
    expect(page.get_by_role("navigation", name="On this page")).to_be_hidden()
    expect(page.get_by_role("heading", name="At the register, in order")).to_be_visible()
    # Letter less margins of 1 cm is 7.7 inches wide, at 96 pixels to the inch.
    page.set_viewport_size({"width": 739, "height": 980})
    assert page.evaluate(
        "[...document.querySelectorAll('.wide')].every((each) => each.scrollWidth <= each.clientWidth)"
    )


def test_an_article_needs_no_script_and_one_style_sheet(phone: BrowserContext, site: str) -> None:
    reader = Reader(phone, site)
    reader.page.goto(f"{site}/trips/{SLUG}/index.html")
    expect(reader.page.get_by_role("heading", name=TITLE)).to_be_visible()
    kinds = {address.removeprefix(site).split("/")[1] for address in reader.asked}
    assert kinds <= {"trips", "styles", "icons", "manifest.webmanifest"}
    assert not [address for address in reader.asked if address.endswith((".js", ".wasm"))]
    assert reader.faults == []


def test_without_script_the_carrying_page_says_where_to_read(chromium: Browser, site: str) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{site}/carry.html")
    page.get_by_role("link", name="Every trip can be read and printed").click()
    expect(page.get_by_role("link", name=TITLE)).to_be_visible()
    context.close()


def test_an_article_opens_from_a_folder_without_any_server(chromium: Browser, tmp_path: Path) -> None:
    put_out(tmp_path / "deals")
    context = chromium.new_context()
    page = context.new_page()
    page.goto((tmp_path / "deals" / "index.html").as_uri())
    page.get_by_role("link", name=TITLE).click()
    expect(page.get_by_text("The register must show").first).to_be_visible()
    context.close()
