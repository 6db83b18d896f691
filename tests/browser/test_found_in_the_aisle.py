"""What the shelf has that the plan did not know: each is noted with the radio off and planned anew.

The trip is ``saturday.py``'s, with two more stores' worth of chances: Bittern Lane sells the soap too, at
2.80, and the soap's tag is limited to 6 a visit. Figures are worked by hand.
"""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import pytest
from playwright.sync_api import BrowserContext, expect

from counterfoil.engine.offers import ShelfPrice, Trip
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

# In-store numbers, whose check digits hold.
OAT_SOAP_GTIN = "2000000000015"
NEW_SOAP_GTIN = "2000000000022"


def trip() -> Trip:
    plain = saturday()
    return msgspec.structs.replace(
        plain,
        products=tuple(
            msgspec.structs.replace(each, gtin=f"0{OAT_SOAP_GTIN}") if each.id == "oat-soap" else each
            for each in plain.products
        ),
        prices=(
            *(
                msgspec.structs.replace(each, per_visit=6) if each.product == "soap" else each
                for each in plain.prices
            ),
            ShelfPrice(store="bittern", product="soap", cents=280, place="Aisle 4"),
        ),
    )


@pytest.fixture
def shopper(phone: BrowserContext, running: Callable[..., Running]) -> Shopper:
    server = running()
    bring_in(server.url, trip())
    shopper = Shopper(phone, server.url).open()
    shopper.keep_page()
    server.stop()
    phone.set_offline(True)
    return shopper


def test_a_line_says_what_to_pull_how_far_it_is_right_and_what_limits_it(shopper: Shopper) -> None:
    expect(shopper.line(SOAP)).to_contain_text("Pull 2 copies · Envelope, front pocket")
    expect(shopper.line(SOAP)).to_contain_text("at most 6 a visit")
    # The small one costs 3.60 and is worth 3.00; at 5.40 the large one, worth 4.80, is as good, and the
    # planner takes the small one.
    expect(shopper.line(SHAMPOO)).to_contain_text("right up to $5.39 on the tag")
    # Nothing stands in for oats: the tag decides nothing.
    expect(shopper.line(OATS)).to_contain_text("right at any tag")


def test_a_rain_check_leaves_the_soap_for_later_and_is_taken_back(shopper: Shopper) -> None:
    sheet = shopper.empty(SHAMPOO)
    sheet.get_by_role("button", name="Rain check: 1 at $4.50 on a later visit").tap()
    shopper.told(f"Rain check: 1 × {SHAMPOO} at $4.50")
    shopper.state_of(SHAMPOO, "shelf empty")
    # No small one is bought in its place; the slip goes home.
    expect(shopper.line(SMALL_SHAMPOO)).to_have_count(0)
    shopper.page.get_by_role("button", name="Undo").tap()
    shopper.told("Taken back: Rain check")
    shopper.state_of(SHAMPOO, "to find")
    sheet = shopper.empty(SHAMPOO)
    sheet.get_by_text("Rain check with other words on it").tap()
    sheet.get_by_label("Price of one on it").fill("3.99")
    sheet.get_by_label("Good until").fill("2027-01-02")
    sheet.get_by_role("button", name="Rain check for 1 taken").tap()
    shopper.told(f"Rain check: 1 × {SHAMPOO} at $3.99, good until Saturday, January 2, 2027")
    shopper.go("Trip")
    taken = shopper.page.get_by_role("region", name="Rain checks taken").get_by_role("listitem")
    # The one that was taken back is not among them.
    expect(taken).to_have_count(1)
    expect(taken).to_contain_text(f"1 × {SHAMPOO} at $3.99, {BITTERN}")
    expect(taken).to_contain_text("good until Saturday, January 2, 2027")


def test_what_is_out_here_is_got_at_the_next_store(shopper: Shopper) -> None:
    sheet = shopper.empty(SOAP)
    sheet.get_by_role("button", name=f"Get it at {BITTERN}").tap()
    shopper.told(f"instead 2 × {SOAP} at {BITTERN}")
    expect(shopper.page.get_by_role("region", name=BITTERN)).to_contain_text(SOAP)


def test_another_kind_is_found_by_its_barcode(shopper: Shopper) -> None:
    sheet = shopper.more(SOAP)
    shopper.picture("line")
    sheet = sheet.get_by_role("region", name="Another kind or size is here")
    sheet.get_by_role("button", name="Another one: by its barcode").tap()
    digits = sheet.get_by_label("Digits under the barcode")
    digits.fill("2000000000016")
    sheet.get_by_role("button", name="Look it up").tap()
    expect(sheet.get_by_role("alert")).to_have_text(
        "The last digit does not fit the others: read the number again."
    )
    digits.fill(OAT_SOAP_GTIN)
    sheet.get_by_role("button", name="Look it up").tap()
    sheet.get_by_label("Or it shows").fill("2.09")
    sheet.get_by_role("button", name="Note what was found").tap()
    shopper.told(f"Found for $2.09: {OAT_SOAP}")
    # 2.09 - 0.60 = 1.49, two are 2.98; tax on 4.18 is 0.21: 3.19 in place of 4.03.
    shopper.totals(out_of_pocket="$16.17", net="$16.17")
    shopper.state_of(OAT_SOAP, "to find")


def test_a_kind_that_nobody_wrote_down_joins_the_trip(shopper: Shopper) -> None:
    sheet = shopper.more(SOAP, "Another kind or size is here")
    sheet.get_by_role("button", name="Another one: by its barcode").tap()
    sheet.get_by_label("Digits under the barcode").fill(NEW_SOAP_GTIN)
    sheet.get_by_role("button", name="Look it up").tap()
    sheet.get_by_label("What it is").fill("Larkmoor plain soap")
    sheet.get_by_label("The tag shows").fill("1.50")
    sheet.get_by_role("button", name="Note what was found").tap()
    shopper.told("Found for $1.50: Larkmoor plain soap")
    # Two at 1.50 and tax on 3.00: 3.15 in place of 4.03.
    shopper.totals(out_of_pocket="$16.13", net="$16.13")
    shopper.take("Larkmoor plain soap")
    shopper.page.reload()
    shopper.settled()
    shopper.state_of("Larkmoor plain soap", "in the trolley")


def test_a_coupon_is_peeled_off_a_package(shopper: Shopper) -> None:
    sheet = shopper.more(SHAMPOO, "A coupon is not at hand, or there is one more")
    sheet.get_by_label("It takes off one").fill("0.30")
    sheet.get_by_role("button", name="One copy at hand").tap()
    shopper.told("Coupon found, 1 copy: $0.30 off one")
    # The slip of 4.00 and 0.20 pay the shampoo.
    shopper.totals(out_of_pocket="$16.71", net="$16.71")
    shopper.page.get_by_role("button", name="Undo").tap()
    shopper.told("Taken back: Coupon found")
    shopper.totals(out_of_pocket="$17.01", net="$17.01")


def test_something_unplanned_is_held_against_the_price_book_and_taken(shopper: Shopper) -> None:
    alder = shopper.page.get_by_role("region", name=ALDER)
    alder.get_by_role("button", name="Is this a deal?").tap()
    sheet = shopper.page.get_by_role("dialog")
    sheet.get_by_label("Compare with your price for").select_option(label="Shampoo")
    sheet.get_by_label("Call it").fill("Fernbeck balm")
    sheet.get_by_label("How much is in it, in ml").fill("200")
    sheet.get_by_label("The tag shows").fill("3.60")
    sheet.get_by_role("button", name="Is it?").tap()
    # At 1.2 cents a millilitre, 200 ml are worth 2.40.
    expect(sheet.get_by_role("status")).to_contain_text(
        "$3.60: 1.8¢/ml, over your stock-up price, which is $2.40 for so much."
    )
    sheet.get_by_label("The tag shows").fill("2.60")
    sheet.get_by_label("Another coupon takes off one").fill("0.50")
    sheet.get_by_role("button", name="Is it?").tap()
    expect(sheet.get_by_role("status")).to_contain_text(
        "$2.10 after coupons: 1.1¢/ml, at or under your stock-up price, which is $2.40 for so much."
    )
    shopper.picture("is-this-a-deal")
    sheet.get_by_role("button", name="Into the trolley").tap()
    shopper.told("Found for $2.60: Fernbeck balm")
    shopper.state_of("Fernbeck balm", "in the trolley")
    # It is the shampoo of this trip: 7.53 + 2.10 here, 8.98 there, and the slip of 4.00 goes home.
    shopper.totals(out_of_pocket="$18.61", net="$14.61")


def test_something_the_trip_knows_is_tried_with_the_coupons_at_hand(shopper: Shopper) -> None:
    alder = shopper.page.get_by_role("region", name=ALDER)
    alder.get_by_role("button", name="Is this a deal?").tap()
    sheet = shopper.page.get_by_role("dialog")
    sheet.get_by_label("What is it").select_option(label=RAZORS)
    sheet.get_by_label("$3.00 off Thistledown razors").check()
    sheet.get_by_label("The tag shows").fill("5.00")
    sheet.get_by_role("button", name="Is it?").tap()
    expect(sheet.get_by_role("status")).to_contain_text("$2.00 after coupons.")


def test_whether_one_more_is_worth_it_is_said_before_it_is_chosen(shopper: Shopper) -> None:
    sheet = shopper.more(SHAMPOO, "How many to buy")
    # A second one costs its tag of 4.50 and is worth 400 x 1.2 = 4.80 to her.
    expect(sheet.get_by_text("One more: net $4.50 more, $4.80 worth more to you: worth it.")).to_be_visible()
    sheet.get_by_role("button", name="One more").tap()
    # The sheet stays: counting on is likely.
    expect(sheet.get_by_text("2 to buy")).to_be_visible()
    shopper.close()
    shopper.told("Now 2 × Shampoo")
    shopper.totals(out_of_pocket="$21.51", net="$21.51")
