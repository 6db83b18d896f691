"""The main job: a planned trip is carried through two stores with the radio off, and comes home whole.

The trip and all its cents are worked by hand in ``saturday.py``.
"""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import BrowserContext, expect

from tests.browser.saturday import (
    ALDER,
    BITTERN,
    OAT_SOAP,
    OATS,
    RAZORS,
    SHAMPOO,
    SMALL_SHAMPOO,
    SOAP,
    saturday,
)
from tests.browser.shopper import Shopper, bring_in
from tests.served import Running


def test_a_trip_is_carried_with_the_radio_off_and_comes_home_once(
    phone: BrowserContext, running: Callable[..., Running]
) -> None:
    server = running()
    bring_in(server.url, saturday())
    shopper = Shopper(phone, server.url).open()
    shopper.keep_page()
    shopper.totals(out_of_pocket="$17.01", net="$17.01")

    # Out of the house: no network, no server, and the page is opened anew.
    server.stop()
    phone.set_offline(True)
    shopper.page.reload()
    shopper.settled()
    shopper.totals(out_of_pocket="$17.01", net="$17.01")
    expect(shopper.line(SOAP)).to_contain_text("2 × $2.49 − $0.60 = $1.89")
    expect(shopper.line(SOAP)).to_contain_text("$0.60 off one Larkmoor soap")
    shopper.picture("aisle")

    shopper.take(OATS)
    shopper.state_of(OATS, "in the trolley")

    # No soap on the shelf: the oat soap costs 0.88 more on the whole trip.
    sheet = shopper.empty(SOAP)
    instead = sheet.get_by_role("button", name=OAT_SOAP)
    expect(instead).to_contain_text("net $0.88 more")
    shopper.picture("shelf-empty")
    instead.tap()
    shopper.told(f"Shelf empty: {SOAP} at {ALDER}")
    shopper.state_of(SOAP, "shelf empty")
    expect(shopper.line(OAT_SOAP)).to_contain_text("2 × $2.91 − $0.60 = $2.31")
    shopper.totals(out_of_pocket="$17.89", net="$17.89")
    shopper.spoken(
        f"Now also 2 × {OAT_SOAP} at {ALDER}, stack $2.31.",
        f"{ALDER}: the register now shows $8.41, was $7.53.",
        "Net now $17.89, was $17.01.",
    )
    shopper.picture("what-changed")

    # A slip of the thumb is taken back and done again.
    shopper.take(OAT_SOAP)
    shopper.page.get_by_role("button", name="Undo").tap()
    shopper.told("Taken back")
    shopper.state_of(OAT_SOAP, "to find")
    shopper.take(OAT_SOAP)

    # At Alder Row's register.
    shopper.go("Register")
    expect(shopper.till.get_by_role("heading", name=ALDER)).to_be_visible()
    expect(shopper.step("On the belt").get_by_role("listitem")).to_have_count(2)
    expect(shopper.step("Hand over 3 coupons").locator(".coupon-value")).to_have_text(
        ["−$0.60", "−$0.60", "−$0.50"]
    )
    expect(shopper.step("The register must show").locator(".must-show")).to_have_text("$8.41")
    expect(shopper.step("The register must show")).to_contain_text("$0.29 of it is tax")
    shopper.picture("register")
    shopper.done("$8.41")

    # Killed in the pocket between two stores: the page comes back as it was.
    shopper.page.close()
    shopper = Shopper(phone, server.url).open()
    shopper.state_of(OATS, "bought")
    shopper.state_of(OAT_SOAP, "bought")
    shopper.totals(out_of_pocket="$17.89", net="$17.89")

    # Bittern Lane: the slip of the first transaction was to pay the second ...
    shopper.take(RAZORS)
    shopper.go("Register")
    expect(shopper.step("The register must show").locator(".must-show")).to_have_text("$8.98")
    expect(shopper.page.get_by_role("button", name=f"{BITTERN}, transaction 2")).to_contain_text("$4.50")

    # ... but the small shampoo costs less than the slip, which is taken whole or not at all.
    shopper.go("Aisle")
    shopper.empty(SHAMPOO).get_by_role("button", name=SMALL_SHAMPOO).tap()
    shopper.told(f"Shelf empty: {SHAMPOO} at {BITTERN}")
    shopper.spoken(f"{BITTERN}: 1 transaction to go through the register, was 2.")
    shopper.totals(out_of_pocket="$20.99", net="$16.99")
    shopper.take(SMALL_SHAMPOO)
    shopper.go("Register")
    expect(shopper.step("The account first")).to_be_visible()
    expect(shopper.step("On the belt").get_by_role("listitem")).to_have_count(2)
    expect(shopper.step("The register must show").locator(".must-show")).to_have_text("$12.58")
    expect(shopper.step("Pay with")).to_contain_text("Cash or card")
    expect(shopper.step("Must come back")).to_contain_text("$4.00")
    shopper.done("$12.58")
    expect(shopper.page.get_by_text("Everything is through the register.")).to_be_visible()
    expect(shopper.page.get_by_role("link", name="notes unsent")).to_be_visible()
    shopper.go("Trip")
    shopper.picture("trip")

    # Home: the server is there again, and everything is sent without being asked for.
    server.start()
    phone.set_offline(False)
    expect(shopper.page.get_by_role("link", name="All sent")).to_be_visible()
    shopper.page.reload()
    expect(shopper.page.get_by_role("link", name="All sent")).to_be_visible()
    assert shopper.faults == []

    desk = phone.new_page()
    desk.goto(f"{server.url}/desk/trips/saturday")
    home = desk.get_by_role("region", name="What came home")
    expect(home).to_contain_text("2 transactions went through the register: you paid $20.99")
    # Each report once, in the order in which she made them.
    assert home.locator(".reports tbody td:first-child").all_inner_texts() == [
        f"2 × {OATS} put in the trolley at {ALDER}.",
        f"Shelf empty at {ALDER}: {SOAP}.",
        f"Chosen: 2 × {OAT_SOAP} at {ALDER}.",
        f"2 × {OAT_SOAP} put in the trolley at {ALDER}. (taken back)",
        f"Taken back: 2 × {OAT_SOAP} put in the trolley at {ALDER}.",
        f"2 × {OAT_SOAP} put in the trolley at {ALDER}.",
        f"Through the register at {ALDER} with 4 items; it showed $8.41.",
        f"2 × {RAZORS} put in the trolley at {BITTERN}.",
        f"Shelf empty at {BITTERN}: {SHAMPOO}.",
        f"Chosen: 1 × {SMALL_SHAMPOO} at {BITTERN}.",
        f"1 × {SMALL_SHAMPOO} put in the trolley at {BITTERN}.",
        f"Through the register at {BITTERN} with 3 items; it showed $12.58.",
    ]
