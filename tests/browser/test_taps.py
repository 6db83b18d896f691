"""Whatever happens, at most two taps note it (what is typed besides), it is planned anew on the spot, and one
more tap takes it back.

The trip is ``saturday.py``'s, with the soap at Bittern Lane too. The radio is off throughout.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import msgspec
import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from counterfoil.engine.offers import ShelfPrice
from tests.browser.saturday import BITTERN, OAT_SOAP, OATS, SHAMPOO, SOAP, saturday
from tests.browser.shopper import Shopper, bring_in
from tests.conftest import PHONE
from tests.served import Running

COUNT = """
window.taps = 0;
addEventListener('pointerup', () => { window.taps += 1; }, true);
"""
MOST = 2


@pytest.fixture(scope="module")
def kept(chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[BrowserContext, str]]:
    """A phone that carries the trip, with the address where it does; no server answers there any more."""
    server = Running(tmp_path_factory.mktemp("taps") / "data").start()
    phone = chromium.new_context(
        viewport={"width": PHONE["width"], "height": PHONE["height"]},
        has_touch=True,
        is_mobile=True,
        locale="en-US",
    )
    phone.add_init_script(COUNT)
    try:
        plain = saturday()
        soap_there = ShelfPrice(store="bittern", product="soap", cents=280, place="Aisle 4")
        bring_in(server.url, msgspec.structs.replace(plain, prices=(*plain.prices, soap_there)))
        shopper = Shopper(phone, server.url).open()
        shopper.keep_page()
        server.stop()
        phone.set_offline(True)
        shopper.page.close()
        yield phone, server.url
    finally:
        server.stop()
        phone.close()


@pytest.fixture
def shopper(kept: tuple[BrowserContext, str]) -> Iterator[Shopper]:
    phone, address = kept
    shopper = Shopper(phone, address).open()
    shopper.totals(out_of_pocket="$17.01", net="$17.01")
    yield shopper
    shopper.page.close()


def takes(s: Shopper) -> str:
    s.line(SOAP).locator(".ticket-stub").tap()
    return f"2 × {SOAP} in the trolley"


def takes_one(s: Shopper) -> str:
    s.more(SOAP).get_by_role("button", name="One more in the trolley").tap()
    return f"1 × {SOAP} in the trolley"


def swaps(s: Shopper) -> str:
    s.empty(SOAP).get_by_role("button", name=f"2 × {OAT_SOAP}").tap()
    return f"instead 2 × {OAT_SOAP}"


def gets_it_elsewhere(s: Shopper) -> str:
    s.empty(SOAP).get_by_role("button", name=f"Get it at {BITTERN}").tap()
    return f"instead 2 × {SOAP} at {BITTERN}"


def does_without(s: Shopper) -> str:
    s.empty(SOAP).get_by_role("button", name="Do without it on this trip").tap()
    return "Shelf empty"


def takes_a_rain_check(s: Shopper) -> str:
    s.empty(SHAMPOO).get_by_role("button", name="Rain check: 1 at $4.50").tap()
    return "Rain check"


def leaves(s: Shopper) -> str:
    s.more(SHAMPOO).get_by_role("button", name="Leave it").tap()
    return "Left: Shampoo"


def notes_the_tag(s: Shopper) -> str:
    price = s.more(SOAP, "The tag shows another price").get_by_label("The tag shows", exact=True)
    price.tap()
    price.fill("2.69")
    price.press("Enter")
    return "Tag shows $2.69"


def misses_a_coupon(s: Shopper) -> str:
    s.more(SOAP, "A coupon is not at hand").get_by_role("button", name="One copy fewer").tap()
    return "Coupon not at hand, 1 copy"


def left_every_copy_at_home(s: Shopper) -> str:
    s.more(SOAP, "A coupon is not at hand").get_by_role("button", name="Left at home, every copy").tap()
    return "Coupon not at hand, 2 copies"


def has_one_copy_more(s: Shopper) -> str:
    s.more(OATS, "A coupon is not at hand").get_by_role("button", name="One copy more").tap()
    return "1 more copy"


def peels_a_coupon_off(s: Shopper) -> str:
    part = s.more(SHAMPOO, "A coupon is not at hand")
    # No coupon names the shampoo, so the entry is open already.
    value = part.get_by_label("It takes off one")
    value.tap()
    value.fill("0.30")
    value.press("Enter")
    return "Coupon found, 1 copy"


def buys_fewer(s: Shopper) -> str:
    s.more(OATS, "How many to buy").get_by_role("button", name="One fewer").tap()
    return "Now 1 × Oats"


def buys_more(s: Shopper) -> str:
    s.more(SHAMPOO, "How many to buy").get_by_role("button", name="One more").tap()
    return "Now 2 × Shampoo"


def finds_another_kind(s: Shopper) -> str:
    part = s.more(SOAP, "Another kind or size is here")
    part.get_by_role("button", name=OAT_SOAP).tap()
    # The keypad is up for its price.
    price = part.get_by_label("Or it shows")
    expect(price).to_be_focused()
    price.fill("2.09")
    price.press("Enter")
    return f"Found for $2.09: {OAT_SOAP}"


def finds_a_kind_nobody_wrote_down(s: Shopper) -> str:
    part = s.more(SOAP, "Another kind or size is here")
    part.get_by_role("button", name="Another one: by its barcode").tap()
    digits = part.get_by_label("Digits under the barcode")
    expect(digits).to_be_focused()
    digits.fill("2000000000022")
    digits.press("Enter")
    price = part.get_by_label("The tag shows")
    expect(price).to_be_focused()
    price.fill("1.50")
    price.press("Enter")
    return "Found for $1.50"


def finds_a_deal(s: Shopper) -> str:
    s.page.get_by_role("button", name="Is this a deal?").first.tap()
    sheet = s.page.get_by_role("dialog")
    sheet.get_by_label("Call it").fill("Fernbeck balm")
    price = sheet.get_by_label("The tag shows")
    price.fill("2.60")
    price.press("Enter")
    sheet.get_by_role("button", name="Into the trolley").tap()
    return "Found for $2.60: Fernbeck balm"


IN_THE_AISLE = [
    *(takes, takes_one, swaps, gets_it_elsewhere, does_without, takes_a_rain_check, leaves, notes_the_tag),
    *(misses_a_coupon, left_every_copy_at_home, has_one_copy_more, peels_a_coupon_off, buys_fewer, buys_more),
    *(finds_another_kind, finds_a_kind_nobody_wrote_down, finds_a_deal),
]


def is_through(s: Shopper) -> str:
    s.till.get_by_role("button", name="It shows $7.53: done").tap()
    return "Through the register"


def shows_another_total(s: Shopper) -> str:
    s.till.get_by_role("button", name="It shows another total").tap()
    sheet = s.page.get_by_role("dialog")
    shown = sheet.get_by_label("The register shows")
    expect(shown).to_be_focused()
    shown.fill("7.83")
    shown.press("Enter")
    sheet.get_by_role("button", name="Paid $7.83 all the same: done").tap()
    return "which showed $7.83"


def a_coupon_is_refused(s: Shopper) -> str:
    s.till.get_by_role("button", name="It shows another total").tap()
    sheet = s.page.get_by_role("dialog")
    sheet.get_by_label("The register shows").fill("8.13")
    sheet.get_by_label("The register shows").press("Enter")
    sheet.get_by_role("button", name="Not taken, not paid: plan without it").tap()
    return "Coupon not at hand, 1 copy"


AT_THE_REGISTER = [is_through, shows_another_total, a_coupon_is_refused]


def noted_and_taken_back(shopper: Shopper, act: Callable[[Shopper], str]) -> None:
    before: int = shopper.page.evaluate("taps")
    told = act(shopper)
    # Counted when it is noted: the plan comes by itself.
    expect(shopper.page.locator(".news .cause")).to_contain_text(told)
    taps: int = shopper.page.evaluate("taps") - before
    shopper.told(told)
    assert 1 <= taps <= MOST
    if shopper.page.get_by_role("dialog").is_visible():
        shopper.close()
    shopper.page.get_by_role("button", name="Undo").tap()
    shopper.told("Taken back")
    shopper.totals(out_of_pocket="$17.01", net="$17.01")


@pytest.mark.parametrize("act", IN_THE_AISLE, ids=lambda act: act.__name__)
def test_in_the_aisle(shopper: Shopper, act: Callable[[Shopper], str]) -> None:
    noted_and_taken_back(shopper, act)


@pytest.mark.parametrize("act", AT_THE_REGISTER, ids=lambda act: act.__name__)
def test_at_the_register(shopper: Shopper, act: Callable[[Shopper], str]) -> None:
    shopper.go("Register")
    noted_and_taken_back(shopper, act)


def test_a_slip_that_does_not_come_out(shopper: Shopper) -> None:
    shopper.go("Register")
    shopper.page.get_by_role("button", name=f"{BITTERN}, transaction 1").tap()

    def no_slip(s: Shopper) -> str:
        s.step("Must come back").get_by_role("checkbox").uncheck()
        s.till.get_by_role("button", name="It shows $8.98: done").tap()
        return "Through the register"

    noted_and_taken_back(shopper, no_slip)
