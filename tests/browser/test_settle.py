"""The Desk after the trip, in a real browser: forms that note what became of things, with script and without.

The household of ``tests/after/month.py``, its first trip a week ago by this machine's day, so that nothing
has lapsed yet: soaps for 6.02 where their papers come to 5.92, a rebate of 0.75 twice, a slip of 1.00.
"""

from __future__ import annotations

import io
import json
import urllib.request
from collections.abc import Callable, Iterator
from datetime import date, timedelta

import msgspec
import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, expect

from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Event, TransactionDone
from tests.after.month import BOTH, SOAP_BACK, TEA_BACK, WEEK_44, WEEK_44_EVENTS
from tests.browser.axe import violations
from tests.browser.shopper import PATIENCE, bring_in
from tests.served import Running

SETTLE = "/desk/settle"
TRIP = "/desk/trips/week-44/settle"


def a_week_ago() -> tuple[Trip, tuple[Event, ...]]:
    """The first trip and its reports, moved to three days ago, with three weeks to claim."""
    day = (date.today() - timedelta(days=3)).isoformat()
    rebates = tuple(
        msgspec.structs.replace(each, until=None, deadline_days=21) for each in (SOAP_BACK, TEA_BACK)
    )
    coupons = tuple(msgspec.structs.replace(each, until=None) for each in WEEK_44.coupons)
    trip = msgspec.structs.replace(
        WEEK_44, day=day, rebates=rebates, set_bonuses=(BOTH,), coupons=coupons, title="The last week"
    )
    events = tuple(
        msgspec.structs.replace(
            event,
            what=msgspec.structs.replace(
                event.what, transaction=msgspec.structs.replace(event.what.transaction, day=day)
            ),
        )
        for event in WEEK_44_EVENTS
        if isinstance(event.what, TransactionDone)
    )
    return trip, events


@pytest.fixture
def household(running: Callable[..., Running]) -> Running:
    """A server that has the trip and what the phone reported of it."""
    server = running()
    trip, events = a_week_ago()
    bring_in(server.url, trip)
    batch = {"protocol": 1, "device": "phone", "events": msgspec.to_builtins(events)}
    request = urllib.request.Request(
        f"{server.url}/sync", data=json.dumps(batch).encode(), headers={"Content-Type": "application/json"}
    )
    with urllib.request.urlopen(request) as answer:
        assert len(json.load(answer)["acknowledged"]) == len(events)
    return server


@pytest.fixture(params=[True, False], ids=["with script", "without script"])
def desk(chromium: Browser, household: Running, request: pytest.FixtureRequest) -> Iterator[Page]:
    """A browser at the Desk."""
    context = chromium.new_context(base_url=household.url, java_script_enabled=request.param, locale="en-US")
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    expect.set_options(timeout=PATIENCE)
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    # A form that is turned down is answered with 400, which the browser tells on its console.
    page.on(
        "console",
        lambda told: faults.append(told.text) if told.type == "error" and "400" not in told.text else None,
    )
    yield page
    context.close()
    assert faults == []


def test_a_rebate_is_claimed_and_answered(desk: Page) -> None:
    desk.goto(SETTLE)
    claim = desk.get_by_role("article").filter(has_text="Soap, 75 cents back")
    expect(claim).to_contain_text("Needs the receipt: 2 × Lathrin soap")
    claim.get_by_label("How many times").fill("2")
    claim.get_by_role("button", name="Claimed").click()
    expect(claim).to_contain_text("claimed: 2")

    claim.get_by_text("Answered").click()
    claim.get_by_label("How many times").fill("1")
    claim.get_by_label("Paid, if another amount").fill("0.70")
    claim.get_by_role("button", name="Paid", exact=True).click()
    expect(claim).to_contain_text("claimed: 1")
    expect(claim).to_contain_text("paid: 1, $0.70")
    expect(desk.locator("#notes")).to_contain_text("Soap, 75 cents back: paid, $0.70.")


def test_a_mistake_stands_by_its_field_and_nothing_typed_is_lost(desk: Page) -> None:
    desk.goto(SETTLE)
    back = desk.get_by_role("article").filter(has_text="Ostrel Pharmacy: $0.10")
    back.get_by_label("Amount").fill("ten cents")
    back.get_by_role("button", name="Asked").click()

    expect(desk.get_by_role("alert")).to_contain_text("That was not written down.")
    expect(back.get_by_label("Amount")).to_have_value("ten cents")
    expect(back).to_contain_text("write digits with a point")
    back.get_by_label("Amount").fill("0.10")
    back.get_by_role("button", name="Asked").click()
    expect(back).to_contain_text("Asked Ostrel Pharmacy for $0.10.")


def test_a_receipt_is_photographed_and_a_note_taken_back(desk: Page) -> None:
    desk.goto(TRIP)
    out = io.BytesIO()
    Image.new("RGB", (300, 500), "white").save(out, "JPEG")
    desk.get_by_label("Photo", exact=True).set_input_files(
        {"name": "receipt.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}
    )
    desk.get_by_label("Of", exact=True).select_option(label="Ostrel Pharmacy, transaction 1")
    desk.get_by_role("button", name="Keep the photo").click()
    expect(desk.get_by_role("img", name="Receipt")).to_be_visible()
    expect(desk.get_by_role("link", name="Photo of the receipt", exact=True)).to_be_visible()

    desk.get_by_role("button", name="Take back").click()
    expect(desk.get_by_role("img", name="Receipt")).to_have_count(0)
    desk.get_by_role("link", name="erase it").click()
    expect(desk.get_by_role("heading", name="Erase this photo for good?")).to_be_visible()
    desk.get_by_role("button", name="Erase it for good").click()
    expect(desk.get_by_role("status").filter(has_text="The photo is erased.")).to_be_focused()
    expect(desk.get_by_role("link", name="erase it")).to_have_count(0)


def test_a_phones_photo_is_kept_small_and_bare_and_fits_the_phone(
    chromium: Browser, household: Running
) -> None:
    """As a camera writes it: lying on its side, twelve million pixels, with the place in it."""
    exif = Image.Exif()
    exif[0x0112] = 6  # to be turned by a quarter
    exif.get_ifd(0x8825)[1] = "N"
    taken = io.BytesIO()
    Image.effect_noise((4_000, 3_000), 40).convert("RGB").save(taken, "JPEG", exif=exif)
    context = chromium.new_context(
        base_url=household.url, viewport={"width": 360, "height": 800}, has_touch=True, is_mobile=True
    )
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    page.goto(TRIP)
    field = page.get_by_label("Photo", exact=True)
    # Without `capture`, a phone offers its camera and its pictures.
    assert (field.get_attribute("accept") or "").startswith("image/jpeg")
    assert field.get_attribute("capture") is None
    field.set_input_files({"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": taken.getvalue()})
    page.get_by_role("button", name="Keep the photo").tap()
    picture = page.get_by_role("img", name="Receipt")
    picture.scroll_into_view_if_needed()
    page.wait_for_function("(img) => img.naturalWidth > 0", arg=picture.element_handle())
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    size = picture.evaluate("(img) => [img.naturalWidth, img.naturalHeight]")
    assert size == [1_800, 2_400]
    kept = page.request.get(str(picture.get_attribute("src"))).body()
    assert len(kept) <= 1_500_000
    assert len(kept) < len(taken.getvalue())
    assert dict(Image.open(io.BytesIO(kept)).getexif()) == {}
    assert b"Exif" not in kept
    context.close()


def test_a_purchase_without_a_plan_is_written_down_and_corrected(desk: Page) -> None:
    desk.goto(SETTLE)
    desk.get_by_role("link", name="Bought without a plan").click()
    desk.get_by_label("Store").select_option(label="Brindlewick Foods")
    desk.get_by_role("group", name="Product 1").get_by_label("Name, words of it").fill("hobrin")
    desk.get_by_role("group", name="Product 1").get_by_label("Paid for all").fill("1.80")
    desk.get_by_role("button", name="Keep").click()
    expect(desk.locator("#notes")).to_contain_text("Bought without a plan at Brindlewick Foods: 1 for $1.80.")

    desk.get_by_role("link", name="Correct").click()
    expect(desk.get_by_role("group", name="Product 1").get_by_label("Name, words of it")).to_have_value("tea")
    desk.get_by_role("group", name="Product 1").get_by_label("Paid for all").fill("1.70")
    desk.get_by_label("Note").fill("less, by the loyalty card")
    desk.get_by_role("button", name="Keep").click()
    expect(desk.locator("#notes li")).to_have_count(1)
    expect(desk.locator("#notes")).to_contain_text("1 for $1.70. less, by the loyalty card")


def test_reports_are_drawn_where_there_is_script_and_are_tables_anyway(
    desk: Page, request: pytest.FixtureRequest
) -> None:
    desk.goto("/desk/settle/purchase")
    desk.get_by_label("Day").first.fill((date.today() - timedelta(days=17)).isoformat())
    desk.get_by_label("Store").select_option(label="Brindlewick Foods")
    desk.get_by_role("group", name="Product 1").get_by_label("Name, words of it").fill("Rock sugar")
    desk.get_by_role("group", name="Product 1").get_by_label("Paid for all").fill("1.05")
    desk.get_by_role("button", name="Keep").click()
    desk.goto("/desk/reports")
    drawn = desk.locator("#weeks figure canvas")
    expect(drawn).to_have_count(1 if request.node.callspec.params["desk"] else 0)
    table = desk.get_by_role("region", name="Trip by trip, the table").get_by_role("table")

    expect(table.get_by_role("row", name="The last week")).to_contain_text("$8.02")
    with desk.expect_download() as download:
        desk.get_by_role("link", name="Trip by trip as CSV").click()
    assert download.value.suggested_filename == "counterfoil-trips.csv"


PAGES = (SETTLE, TRIP, "/desk/settle/purchase", "/desk/reports")


@pytest.mark.parametrize("width", [320, 1280])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_fits_its_width_and_axe_finds_nothing(
    chromium: Browser, household: Running, width: int, scheme: str
) -> None:
    context: BrowserContext = chromium.new_context(
        base_url=household.url,
        viewport={"width": width, "height": 900},
        color_scheme=scheme,  # pyright: ignore[reportArgumentType]  # one of the two that it knows
        bypass_csp=True,
    )
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    for address in PAGES:
        page.goto(address)
        sound(page, width, address)
    page.goto(TRIP)
    picture = io.BytesIO()
    Image.new("RGB", (300, 500), "white").save(picture, "JPEG")
    page.get_by_label("Photo", exact=True).set_input_files(
        {"name": "receipt.jpg", "mimeType": "image/jpeg", "buffer": picture.getvalue()}
    )
    page.get_by_role("button", name="Keep the photo").click()
    page.get_by_role("link", name="Erase").click()
    sound(page, width, "the page that asks")
    page.get_by_role("button", name="Erase it for good").click()
    sound(page, width, "a photo that was erased")
    context.close()


def sound(page: Page, width: int, where: str) -> None:
    """What axe, the width and the thumb ask of a page with everything unfolded."""
    page.evaluate("document.querySelectorAll('details').forEach((each) => (each.open = true))")
    assert violations(page) == [], where
    assert page.evaluate("document.documentElement.scrollWidth") <= width, where
    small: list[str] = page.evaluate(
        """() => [...document.querySelectorAll("main button, main input, main select, main summary")]
            .filter((each) => each.checkVisibility() && !each.closest(".unseen"))
            .filter((each) => each.getBoundingClientRect().height < 44)
            .map((each) => each.outerHTML)"""
    )
    assert small == [], where
