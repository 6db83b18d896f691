"""The Desk by keys alone, from an empty household to a trip on the phone: what a planner without a mouse does
in her first hour, in a real browser, with nothing pressed or filled that the keyboard did not reach."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.at_home import planner
from tests.browser.by_keys import Keys
from tests.browser.shopper import PATIENCE
from tests.served import Running

TAGS = "store,product,price\nwrenfold-grocers,quillet-oat-clusters-15-oz,4.19\n"


def test_the_keys_alone_lead_from_an_empty_household_to_a_trip_on_the_phone(
    chromium: Browser, running: Callable[..., Running], phone: BrowserContext, tmp_path: Path
) -> None:
    server = running()
    with planner(chromium, server, permissions=["clipboard-read", "clipboard-write"]) as page:
        keys = Keys(page)
        page.goto("/desk")
        write_a_store(page, keys)
        write_products(page, keys)
        write_a_tag(page, keys)
        bring_tags_in(page, keys, tmp_path)
        paste_a_coupon(page, keys)
        write_a_staple(page, keys)
        plan_a_trip(page, keys)
        pin_a_deal(page, keys)
        net = send_and_print(page, keys)
        look_into_the_binder(page, keys)
        look_into_the_larder(page, keys)

    carried = phone.new_page()
    carried.set_default_timeout(PATIENCE)
    carried.goto(server.url)
    expect(carried.locator(".totals[data-replanning=complete]")).to_be_visible()
    expect(carried.locator(".totals")).to_contain_text(net)


def write_a_store(page: Page, keys: Keys) -> None:
    keys.skip_to_content()
    keys.follow(page.get_by_role("link", name="Write down the stores you go to"), most=1)
    name = page.get_by_label("Name (needed)")
    expect(name).to_be_focused()
    keys.go()  # Enter on the blank form
    refused = page.get_by_role("alert")
    expect(refused).to_be_focused()
    keys.follow(refused.get_by_role("link", name="Name"), most=1)
    expect(name).to_be_focused()
    keys.write(name, "Wrenfold Grocers")
    keys.go()
    expect(page.get_by_role("status").filter(has_text="Kept.")).to_be_focused()


def write_products(page: Page, keys: Keys) -> None:
    keys.follow(page.get_by_role("link", name="Products"))
    keys.follow(page.get_by_role("link", name="New product"))
    what = page.get_by_label("What it is (needed)")
    for kind, button in (("squares", "Keep it, then another"), ("clusters", "Keep it")):
        expect(what).to_be_focused()
        keys.write(what, f"Quillet oat {kind}, 15 oz")
        keys.write(page.get_by_label("How much is in a pack"), "15")
        keys.write(page.get_by_label("Unit", exact=True), "oz")
        keys.follow(page.get_by_role("button", name=button, exact=True).last)
    expect(page.get_by_role("status").filter(has_text="Kept.")).to_be_focused()


def write_a_tag(page: Page, keys: Keys) -> None:
    keys.follow(page.get_by_role("link", name="Tags"))
    keys.follow(page.get_by_role("link", name="New tag"))
    store = page.get_by_label("Store (needed)")
    expect(store).to_be_focused()
    keys.choose(store, "Wrenfold")
    keys.write(page.get_by_label("Price of one on the tag"), "3.49")
    keys.write(page.get_by_label("Find by name, words or number"), "squares")
    expect(page.get_by_text("1 fits:")).to_be_visible()
    keys.press("Enter")
    expect(page.locator("[data-chosen]").get_by_label("Quillet oat squares")).to_be_checked()
    keys.to(page.get_by_label("no deal: one unit’s price is all"))
    keys.press("ArrowDown")
    expect(page.get_by_label("so many for one price")).to_be_checked()
    keys.write(page.get_by_label("How many", exact=True), "2")
    keys.write(page.get_by_label("What they cost together"), "6.00")
    keys.follow(page.get_by_role("button", name="Keep it", exact=True).last)
    expect(page.get_by_role("status").filter(has_text="Kept.")).to_be_focused()


def bring_tags_in(page: Page, keys: Keys, folder: Path) -> None:
    file = folder / "tags.csv"
    file.write_text(TAGS)
    keys.follow(page.get_by_role("link", name="All", exact=True))
    keys.follow(page.get_by_role("link", name="Bring in a table"))
    expect(page.get_by_label("File (needed)")).to_be_focused()
    keys.send_file(page.get_by_label("File (needed)"), file)
    keys.follow(page.get_by_role("button", name="Look at it"))
    expect(page.get_by_role("heading", name="What becomes of each row")).to_be_visible()
    keys.follow(page.get_by_role("button", name="Take in 1 row"))
    expect(page.get_by_role("status").filter(has_text="1 row was taken in")).to_be_focused()


def paste_a_coupon(page: Page, keys: Keys) -> None:
    until = date.today() + timedelta(days=28)
    keys.turn_to("Offers")
    keys.follow(page.get_by_role("link", name="Paste offers"))
    text = page.get_by_label("Offers as they are written")
    expect(text).to_be_focused()
    lines = f"$1/2 Quillet oat exp {until.month}/{until.day}/{until.year}\n20% off Quillet squares\n"
    keys.paste(text, lines)
    keys.follow(page.get_by_role("button", name="Read it", exact=True).last, most=1)
    expect(page.get_by_role("heading", name="To confirm: 2")).to_be_focused()
    first = page.get_by_role("article").first
    keys.to(first.get_by_label("Quillet oat clusters, 15 oz"))
    keys.press("Space")
    keys.to(first.get_by_label("Quillet oat squares, 15 oz"), most=1)
    keys.press("Space")
    keys.choose(first.get_by_label("Where it comes from"), "insert")
    keys.follow(first.get_by_role("button", name="Keep it"))
    refused = page.get_by_role("alert")
    expect(refused).to_be_focused()
    keys.follow(refused.get_by_role("link", name="Who pays for it"), most=1)
    keys.choose(first.get_by_label("Who pays for it"), "manufacturer")
    keys.follow(first.get_by_role("button", name="Keep it"))
    expect(page.get_by_role("status").filter(has_text="1 offer kept.")).to_be_focused()
    # She goes on with the next card, which stands just below.
    keys.follow(page.get_by_role("button", name="Set aside"))
    expect(page.get_by_role("status").filter(has_text="Set aside.")).to_be_focused()


def write_a_staple(page: Page, keys: Keys) -> None:
    keys.turn_to("Larder")
    keys.follow(page.get_by_role("link", name="add the first one"))
    name = page.get_by_label("Name (needed)")
    expect(name).to_be_focused()
    keys.write(name, "Oat breakfast")
    keys.choose(page.get_by_label("Used and compared by the"), "oz")
    keys.write(page.get_by_label("Product (needed)"), "squares")
    keys.follow(page.get_by_role("button", name="Find and add"))
    more = page.get_by_label("Add one")
    expect(more).to_be_focused()
    keys.write(more, "clusters")
    keys.write(page.get_by_label("Always keep"), "30")
    keys.write(page.get_by_label("Stock-up price"), "0.20")
    keys.go()  # Enter in any field keeps
    expect(page.get_by_role("heading", name="Oat breakfast")).to_be_visible()


def plan_a_trip(page: Page, keys: Keys) -> None:
    keys.skip_to_content()
    keys.turn_to("Counterfoil Desk")
    keys.follow(page.get_by_role("link", name="New trip"))
    title = page.get_by_label("Name (needed)")
    expect(title).to_be_focused()
    keys.write(title, "By keys alone")
    keys.date(page.get_by_label("Day (needed)"), (date.today() + timedelta(days=3)).isoformat())
    expect(page.get_by_role("checkbox", name="Wrenfold Grocers")).to_be_checked()
    keys.write(page.get_by_label("Needed: Oat breakfast"), "4")
    keys.write(page.get_by_label("Up to: Oat breakfast"), "4")
    keys.write(page.get_by_label("Most cash to put down"), "a lot")
    keys.follow(page.get_by_role("button", name="Plan", exact=True))
    refused = page.get_by_role("alert")
    expect(refused).to_be_focused()
    keys.follow(refused.get_by_role("link", name="Most cash"), most=1)
    keys.write(page.get_by_label("Most cash to put down"), "40.00")
    keys.follow(page.get_by_role("button", name="Plan", exact=True))
    expect(page.get_by_text("proven for these offers")).to_be_visible()


def pin_a_deal(page: Page, keys: Keys) -> None:
    keys.skip_to_content()
    keys.follow(page.get_by_role("link", name="Decisions"))
    keys.choose(page.get_by_label("Pin: at least so many of"), "Quillet oat clusters")
    keys.follow(page.get_by_role("button", name="Pin and plan anew"), most=2)
    expect(page.get_by_role("status").filter(has_text="Kept: ")).to_be_focused()
    expect(page.locator(".decisions")).to_contain_text("At least 1 × Quillet oat clusters")
    expect(page.get_by_text("proven for these offers")).to_be_visible()


def send_and_print(page: Page, keys: Keys) -> str:
    net = page.locator(".figures div", has_text="Net, at what").locator("dd").inner_text()
    keys.follow(page.get_by_role("link", name="Send", exact=True))
    keys.follow(page.get_by_role("button", name="Send to phone"), most=1)
    expect(page.get_by_role("status").filter(has_text="Version 1 is ready.")).to_be_focused()
    keys.follow(page.get_by_role("link", name="Checkout"))
    page.emulate_media(media="print")
    expect(page.get_by_text("Total that the register must show")).to_be_visible()
    expect(page.get_by_role("status")).to_be_hidden()
    page.emulate_media(media="screen")
    return net


def look_into_the_binder(page: Page, keys: Keys) -> None:
    keys.turn_to("Binder")
    coupon = page.get_by_role("listitem").filter(has_text="Quillet oat")
    expect(coupon).to_contain_text("1 copy")
    keys.follow(coupon.get_by_role("button", name="One more"))
    expect(coupon).to_contain_text("2 copies")
    # She is where she was: the next press is near.
    keys.follow(coupon.get_by_role("button", name="One fewer"), most=3)
    expect(coupon).to_contain_text("1 copy")


def look_into_the_larder(page: Page, keys: Keys) -> None:
    keys.turn_to("Larder")
    keys.follow(page.get_by_role("link", name="Count", exact=True))
    squares = page.get_by_label("Quillet oat squares")
    expect(squares).to_be_focused()
    keys.write(squares, "2")
    keys.press("Enter")
    clusters = page.get_by_label("Quillet oat clusters")
    expect(clusters).to_be_focused()
    keys.write(clusters, "0")
    keys.press("Enter")
    keys.go()
    expect(page.get_by_role("status").filter(has_text="2 products were counted.")).to_be_focused()
    why = page.locator("summary", has_text="Why")
    keys.to(why)
    keys.press("Enter")
    expect(page.get_by_text("counted", exact=False).last).to_be_visible()
    keys.follow(page.get_by_role("button", name="Used one"), most=1)
    expect(page.get_by_role("status").filter(has_text="is used up.")).to_be_focused()
    keys.follow(page.get_by_role("button", name="Take that back"), most=1)
    expect(page.locator(".staple")).to_contain_text("30 oz")
