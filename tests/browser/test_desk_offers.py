"""Offers get in at the Desk in a real browser: at a phone's width and a desk's, with script and without, by
keys alone; axe finds nothing on any page or state."""

from __future__ import annotations

import asyncio
import io
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import zxingcpp
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from tests.browser.axe import violations
from tests.browser.shopper import PATIENCE
from tests.intake.test_symbols import drawn, photo, stacked
from tests.served import Running
from tests.server.at_the_desk import BASICS, in_home

PASTE = """\
$1/2 Wickel rolled oats exp 12/31 limit 4
BOGO Wickel
20% off nimbelle soap
spend $25 get $5 slip
hello
"""
SOAP_AND_MORE = "20% off nimbelle soap\nhello there"
CODE = "8110106141416543213100110000"  # $1.00 off one of family 000 of company 0614141


@pytest.fixture
def household(running: Callable[..., Running], tmp_path: Path) -> Running:
    """A server over a household with stores and products."""
    # Playwright keeps an event loop in this thread.
    filling = threading.Thread(target=lambda: asyncio.run(in_home(tmp_path / "data", *BASICS)))
    filling.start()
    filling.join()
    return running()


@pytest.fixture(params=["phone", "desk"])
def desk(request: pytest.FixtureRequest, chromium: Browser, household: Running) -> Iterator[Page]:
    """The list of offers at either width, the phone's in the light and the desk's in the dark."""
    phone = request.param == "phone"
    context = chromium.new_context(
        viewport={"width": 360 if phone else 1200, "height": 800},
        color_scheme="light" if phone else "dark",
        locale="en-US",
        reduced_motion="reduce",
        bypass_csp=True,  # axe is a script that the page would not allow
    )
    yield opened(context, household)
    context.close()


@pytest.fixture
def plain(chromium: Browser, household: Running) -> Iterator[Page]:
    """The list of offers in a phone's browser without script."""
    context = chromium.new_context(viewport={"width": 360, "height": 800}, java_script_enabled=False)
    yield opened(context, household)
    context.close()


@pytest.fixture
def keys(chromium: Browser, household: Running) -> Iterator[Page]:
    """The list of offers for somebody without a mouse, under the page's own policy."""
    context = chromium.new_context(viewport={"width": 1000, "height": 800}, locale="en-US")
    yield opened(context, household)
    context.close()


def opened(context: BrowserContext, household: Running) -> Page:
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    expect.set_options(timeout=PATIENCE)
    page.goto(f"{household.url}/desk/offers")
    return page


def cut_off(page: Page) -> int:
    """By how many pixels the page is wider than its window."""
    return page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


def too_small(page: Page) -> list[str]:
    """Buttons, fields, ticks and summaries in view that a thumb would miss: lower than 44 pixels."""
    return page.evaluate(
        """() => [...document.querySelectorAll("button, input:not([type=hidden]), select, summary, textarea")]
            .filter((one) => one.checkVisibility() && one.className !== "unseen")
            .map((one) => [one, (one.closest(".tick") ?? one).getBoundingClientRect()])
            .filter(([, box]) => box.height < 43.9)
            .map(([one]) => one.outerHTML)"""
    )


def sound(page: Page, state: str) -> None:
    assert violations(page) == [], state
    assert cut_off(page) <= 0, state
    assert too_small(page) == [], state


def go(page: Page, path: str) -> None:
    page.goto(page.url.split("/desk")[0] + path)


def press(page: Page, name: str) -> None:
    """Presses the last button of that name: the first may be the unseen one that Enter presses."""
    page.get_by_role("button", name=name, exact=True).last.click()
    page.wait_for_load_state()


def test_every_form_and_its_mistakes_are_accessible_at_both_widths(desk: Page) -> None:
    sound(desk, "the list")
    for kind in ("price", "coupon", "percent_offer", "reward", "rebate", "set_bonus", "product", "store"):
        go(desk, f"/desk/offers/{kind}/new")
        sound(desk, f"a new {kind}")
        press(desk, "Keep it")
        expect(desk.get_by_role("alert")).to_be_focused()
        sound(desk, f"a {kind} with mistakes")
    go(desk, "/desk/offers/coupon/new")
    for value in ("a percentage off", "an item free", "the items for a fixed price", "an amount off a whole"):
        desk.get_by_label(value).check()
        sound(desk, value)
    go(desk, "/desk/offers/price/new")
    for deal in ("so many for one price", "buy one, get one for less"):
        desk.get_by_label(deal).check()
        sound(desk, deal)
    desk.get_by_text("Not in the list: add it").click()
    sound(desk, "a product that is added")
    go(desk, "/desk/offers/product/oats/remove")
    sound(desk, "what is still named")
    go(desk, "/desk/offers/product/soap/remove")
    sound(desk, "a removal")


def test_cards_barcodes_and_shared_texts_are_accessible_at_both_widths(desk: Page) -> None:
    desk.request.post(
        desk.url.split("/desk")[0] + "/desk/inbox/shared",
        data={"texts": [{"id": "a", "title": "This week", "text": PASTE, "url": "https://example.org"}]},
    )
    go(desk, "/desk/offers/shared")
    sound(desk, "shared texts")
    desk.get_by_role("link", name="Read it").click()
    expect(desk.get_by_role("heading", name="To confirm: 4")).to_be_visible()
    sound(desk, "cards")
    press(desk, "Keep it Sale: buy one get one free")
    expect(desk.get_by_role("alert")).to_be_visible()
    sound(desk, "a card with mistakes")
    go(desk, "/desk/offers/photo")
    sound(desk, "barcodes")
    desk.get_by_role("textbox", name="Digits").fill("1234")
    press(desk, "Look it up")
    sound(desk, "digits that are none")
    desk.get_by_role("textbox", name="Digits").fill(CODE)
    press(desk, "Look it up")
    expect(desk.get_by_role("heading", name="$1.00 off when you buy 1 of family 000")).to_be_visible()
    sound(desk, "a coupon's code")


def test_nothing_is_cut_off_on_the_narrowest_phone(chromium: Browser, household: Running) -> None:
    context = chromium.new_context(viewport={"width": 320, "height": 700})
    page = opened(context, household)
    for path in ("", "/store/new", "/coupon/new", "/price/new", "/reward/new", "/paste", "/photo", "/shared"):
        go(page, f"/desk/offers{path}")
        assert cut_off(page) <= 0, path
    context.close()


def test_a_coupon_is_filled_in_kept_changed_and_removed_without_script(plain: Page) -> None:
    plain.get_by_role("link", name="New coupon").click()
    expect(plain.get_by_label("Percent off", exact=True)).to_be_hidden()
    plain.get_by_label("an item free, or for less").check()
    expect(plain.get_by_label("Percent off the item")).to_be_visible()
    expect(plain.get_by_label("Amount off", exact=True)).to_be_hidden()
    plain.get_by_label("Find by name, words or number").fill("wickel")
    press(plain, "Find")
    expect(plain.get_by_text("2 fit:")).to_be_visible()
    expect(plain.get_by_label("an item free, or for less")).to_be_checked()
    plain.get_by_label("Wickel oats, honey").check()
    plain.get_by_label("Find by name, words or number").fill("")
    press(plain, "Keep it")
    expect(plain.get_by_text("Kept.")).to_be_visible()
    plain.get_by_role("link", name="the cheapest one free on 1 Wickel oats, honey").click()
    plain.get_by_label("Where the coupon is kept").fill("Page 4")
    press(plain, "Keep it")
    expect(plain.get_by_text("1 in hand; Page 4")).to_be_visible()
    plain.get_by_role("link", name="the cheapest one free on 1 Wickel oats, honey").click()
    plain.get_by_role("link", name="Remove it").click()
    press(plain, "Remove it")
    expect(plain.get_by_text("Nothing is on offer now")).to_be_visible()
    plain.get_by_role("button", name="Take back Removed coupon").click()
    go(plain, "/desk/offers?kind=coupon")
    expect(plain.get_by_text("1 in hand; Page 4")).to_be_visible()


def test_she_goes_on_from_where_she_was_without_script_too(plain: Page) -> None:
    go(plain, "/desk/offers/coupon/new")
    press(plain, "One requirement more (“one of these and one of those”)")
    expect(plain.get_by_label("How many to buy, requirement 2")).to_be_focused()
    plain.locator("#products-1").get_by_label("Find by name, words or number").fill("wickel")
    plain.locator("#products-1").get_by_role("button", name="Find").click()
    expect(plain.locator("#products-1")).to_be_focused()
    press(plain, "Keep it")
    expect(plain.get_by_role("alert")).to_be_focused()


def test_a_paste_is_read_and_kept_without_script(plain: Page) -> None:
    plain.get_by_role("link", name="Paste offers").click()
    plain.get_by_label("Offers as they are written").fill(SOAP_AND_MORE)
    press(plain, "Read it")
    expect(plain.get_by_text("hello there").last).to_be_visible()
    plain.get_by_label("Store", exact=True).first.select_option("Alder Row Grocers")
    plain.get_by_role("button", name="Keep it Percent offer: 20 % off").click()
    expect(plain.get_by_text("1 offer kept.")).to_be_visible()
    expect(plain.get_by_label("Offers as they are written")).to_have_value(
        "20% off nimbelle soap\nhello there"
    )


def test_products_are_found_as_typed_and_taken_by_enter_or_a_tick(desk: Page) -> None:
    go(desk, "/desk/offers/rebate/new")
    desk.get_by_label("Cash back").fill("0.50")
    words = desk.get_by_label("Find by name, words or number")
    words.press_sequentially("wick")
    expect(desk.get_by_text("2 fit:")).to_be_visible()
    words.press("Enter")
    chosen = desk.locator("[data-chosen]")
    expect(chosen.get_by_label("Wickel oats, honey")).to_be_checked()
    expect(words).to_be_focused()
    words.fill("soap")
    box = desk.get_by_label("Nimbelle bar soap")
    expect(box).to_be_visible()
    box.check()
    found = desk.locator("[data-found-products]").get_by_role("checkbox")
    expect(found).to_have_count(1)  # nothing moves from under her hand
    expect(box).to_be_checked()
    words.fill("wickel")
    expect(found).to_have_count(1)
    expect(chosen.get_by_role("checkbox")).to_have_count(2)
    words.fill("")
    press(desk, "Keep it")
    expect(desk.get_by_text("$0.50 back on 1 of 2 products")).to_be_visible()


def test_the_list_is_searched_as_typed_and_the_address_follows(desk: Page) -> None:
    desk.get_by_role("searchbox", name="Search").press_sequentially("rolled")
    expect(desk.get_by_text("2 records")).to_be_visible()
    expect(desk.get_by_role("link", name="Nimbelle bar soap")).to_have_count(0)
    expect(desk).to_have_url(desk.url.split("?")[0].rstrip("/") + "?search=rolled&order=end")
    desk.get_by_label("In the order of").select_option("their names")
    expect(desk).to_have_url(desk.url.split("?")[0].rstrip("/") + "?search=rolled&order=name")


def test_a_photo_gives_a_card_and_a_new_product_begins_with_its_number(desk: Page) -> None:
    soap, new = (drawn(digits, zxingcpp.BarcodeFormat.EAN13) for digits in ("0012345000065", "7300011000017"))
    desk.get_by_role("link", name="Photo or digits of a barcode").click()
    picture = {"name": "coupon.png", "mimeType": "image/png", "buffer": photo(stacked(CODE[4:]), soap, new)}
    desk.get_by_label("Photo", exact=True).set_input_files(files=[picture])  # pyright: ignore[reportArgumentType]  # a FilePayload
    press(desk, "Read it")
    expect(desk.get_by_role("link", name="Nimbelle bar soap")).to_be_visible()
    expect(desk.get_by_role("heading", name="$1.00 off when you buy 1 of family 000")).to_be_visible()
    sound(desk, "what a photo holds")
    desk.get_by_role("link", name="Add it, with its number").click()
    expect(desk.get_by_label("Number under the barcode")).to_have_value("07300011000017")


def test_a_whole_form_opens_beside_the_cards_and_they_stay(desk: Page) -> None:
    go(desk, "/desk/offers/paste")
    desk.get_by_label("Offers as they are written").fill(PASTE)
    press(desk, "Read it")
    with desk.context.expect_page() as beside:
        desk.get_by_role("button", name="Whole form Coupon: $1.00 off on 2").click()
    form = beside.value
    expect(form.get_by_role("heading", name="New coupon")).to_be_visible()
    expect(form.get_by_label("Amount off", exact=True)).to_have_value("1.00")
    expect(form.get_by_label("Wickel rolled oats")).to_be_checked()
    expect(desk.get_by_role("heading", name="To confirm: 4")).to_be_visible()


def test_the_keys_alone_add_an_offer_and_a_product_on_the_way(keys: Page) -> None:
    faults: list[str] = []
    keys.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    reach(keys, keys.get_by_role("link", name="New tag"))
    keys.keyboard.press("Enter")
    reach(keys, keys.get_by_label("Store"))
    keys.keyboard.type("Birch")
    reach(keys, keys.get_by_label("Price of one on the tag"))
    keys.keyboard.type("2.49")
    reach(keys, keys.get_by_text("Not in the list: add it"))
    keys.keyboard.press("Enter")
    reach(keys, keys.get_by_label("New product: what it is"))
    keys.keyboard.type("Pinder plum jam")
    reach(keys, keys.get_by_role("button", name="Add it and go on"))
    keys.keyboard.press("Enter")
    expect(keys.get_by_role("group", name="Products")).to_be_focused()
    keys.keyboard.press("Tab")
    expect(keys.get_by_label("Pinder plum jam")).to_be_focused()
    expect(keys.get_by_label("Pinder plum jam")).to_be_checked()
    reach(keys, keys.get_by_label("no deal"))
    keys.keyboard.press("ArrowDown")
    expect(keys.get_by_label("How many")).to_be_visible()
    reach(keys, keys.get_by_label("How many"))
    keys.keyboard.type("2")
    reach(keys, keys.get_by_label("What they cost together"))
    keys.keyboard.type("4.50")
    keys.keyboard.press("Enter")
    expect(keys.get_by_text("Kept.")).to_be_visible()
    expect(keys.get_by_text("$2.49 each; 2 for $4.50; sale")).to_be_visible()
    assert faults == [], "the page's own policy allows all that it does"


def test_the_keys_alone_read_a_paste_and_keep_a_card(keys: Page) -> None:
    reach(keys, keys.get_by_role("link", name="Paste offers"))
    keys.keyboard.press("Enter")
    reach(keys, keys.get_by_label("Offers as they are written"))
    keys.keyboard.type("20% off nimbelle soap")
    keys.keyboard.press("Tab")
    keys.keyboard.press("Enter")
    reach(keys, keys.get_by_label("Store", exact=True).first)
    keys.keyboard.type("Birch")
    reach(keys, keys.get_by_role("button", name="Keep it Percent offer: 20 % off"))
    keys.keyboard.press("Enter")
    expect(keys.get_by_text("1 offer kept.")).to_be_visible()


def reach(page: Page, wanted: Locator) -> None:
    """Presses Tab until it has focus."""
    expect(wanted).to_be_visible()
    target = wanted.evaluate_handle("(one) => one.closest('summary') ?? one")
    for _ in range(90):
        if target.evaluate("(one) => one === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab never reached {wanted}")


def test_a_picture_that_holds_nothing_is_told(desk: Page) -> None:
    blank = io.BytesIO()
    drawn("012345000065", zxingcpp.BarcodeFormat.UPCA).crop((0, 0, 9, 9)).save(blank, "PNG")
    go(desk, "/desk/offers/photo")
    picture = {"name": "blank.png", "mimeType": "image/png", "buffer": blank.getvalue()}
    desk.get_by_label("Photo", exact=True).set_input_files(files=[picture])  # pyright: ignore[reportArgumentType]  # a FilePayload
    press(desk, "Read it")
    expect(desk.get_by_role("alert")).to_contain_text("take the photo from closer")
