"""What may happen in an aisle, each noted in two taps and planned anew on the spot.

The trip is ``saturday.py``'s; figures in the comments are worked by hand.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from tests.browser.saturday import OATS, RAZORS, SHAMPOO, SMALL_SHAMPOO, SOAP, saturday
from tests.browser.shopper import Shopper, bring_in
from tests.served import Running


@pytest.fixture
def shopper(phone: BrowserContext, running: Callable[..., Running]) -> Shopper:
    server = running()
    bring_in(server.url, saturday())
    return Shopper(phone, server.url).open()


def test_one_of_two_lies_in_the_trolley(shopper: Shopper) -> None:
    sheet = shopper.more(SOAP)
    sheet.get_by_role("button", name="One more in the trolley").tap()
    expect(sheet.get_by_text("1 of 2 in the trolley")).to_be_visible()
    sheet.get_by_role("button", name="Close").tap()
    shopper.state_of(SOAP, "to find")
    expect(shopper.line(SOAP).locator(".stub-count")).to_have_text("1 of 2")
    shopper.line(SOAP).locator(".ticket-stub").tap()
    shopper.state_of(SOAP, "in the trolley")


def test_a_dearer_tag_changes_the_stack_and_says_so(shopper: Shopper) -> None:
    sheet = shopper.more(SOAP, "The tag shows another price")
    # Up to 2.91 soap is as good as oat soap at 2.91.
    expect(sheet.get_by_text("Buying as planned is right up to $2.91 on the tag.")).to_be_visible()
    sheet.get_by_label("The tag shows").fill("2.69")
    sheet.get_by_role("button", name="Note the price").tap()
    shopper.told("Tag shows $2.69")
    # 2.69 - 0.60 = 2.09; tax on 5.38 is 0.27: 0.42 more.
    expect(shopper.line(SOAP)).to_contain_text("2 × $2.69 − $0.60 = $2.09")
    shopper.spoken(f"{SOAP}: stack now $2.09, was $1.89.")
    shopper.totals(out_of_pocket="$17.43", net="$17.43")


def test_a_coupon_left_at_home_and_another_found(shopper: Shopper) -> None:
    sheet = shopper.more(RAZORS, "A coupon is not at hand")
    sheet.get_by_role("button", name="One copy fewer").tap()
    shopper.told("Coupon not at hand, 1 copy: $3.00 off Thistledown razors")
    shopper.totals(out_of_pocket="$20.01", net="$20.01")
    sheet = shopper.more(RAZORS, "A coupon is not at hand")
    sheet.get_by_role("button", name="One copy more").tap()
    shopper.told("1 more copy: $3.00 off Thistledown razors")
    shopper.totals(out_of_pocket="$17.01", net="$17.01")


def test_fewer_are_bought(shopper: Shopper) -> None:
    sheet = shopper.more(OATS, "How many to buy")
    sheet.get_by_role("button", name="One fewer").tap()
    expect(sheet.get_by_text("1 to buy")).to_be_visible()
    shopper.close()
    shopper.told("Now 1 × Oats")
    # The one without the coupon goes: 2.00 less.
    shopper.totals(out_of_pocket="$15.01", net="$15.01")


def test_a_line_is_left_and_wanted_again(shopper: Shopper) -> None:
    shopper.more(SHAMPOO).get_by_role("button", name="Leave it").tap()
    shopper.told("Left: Shampoo")
    shopper.state_of(SHAMPOO, "left")
    shopper.more(SHAMPOO).get_by_role("button", name="Do not leave it after all").tap()
    shopper.told("Taken back: Left: Shampoo")
    shopper.state_of(SHAMPOO, "to find")
    shopper.totals(out_of_pocket="$17.01", net="$17.01")


def test_the_shelf_is_not_empty_after_all(shopper: Shopper) -> None:
    sheet = shopper.empty(SHAMPOO)
    sheet.get_by_role("button", name=SMALL_SHAMPOO).tap()
    shopper.told("Shelf empty")
    shopper.state_of(SHAMPOO, "shelf empty")
    shopper.more(SHAMPOO).get_by_role("button", name="It is on the shelf after all").tap()
    shopper.told(f"Taken back: Shelf empty: {SHAMPOO}")
    shopper.state_of(SHAMPOO, "to find")
    expect(shopper.line(SMALL_SHAMPOO)).to_have_count(0)


# What is written is read back, as when another window's is looked for, before the tap that wrote it goes on.
READ_IN_BETWEEN = """() => {
    const { inHand } = document.querySelector('aisle-screen');
    const append = inHand.store.append.bind(inHand.store);
    inHand.store.append = async (...reports) => {
        const written = await append(...reports);
        window.read = inHand.refresh();
        await new Promise((resolve) => setTimeout(resolve, 100));
        return written;
    };
}"""


def test_what_is_read_back_while_it_is_noted_counts_once_and_is_told_as_hers(shopper: Shopper) -> None:
    shopper.page.evaluate(READ_IN_BETWEEN)
    shopper.take(OATS)
    noted = shopper.page.evaluate(
        """async () => {
            await window.read;
            return document.querySelector('aisle-screen').inHand.events.map(({ what }) => what.product);
        }"""
    )
    assert noted == ["oats"]
    shopper.told(f"{OATS} in the trolley")
    # Where the read came first, as from another window, it says so.
    shopper.page.evaluate(
        """() => {
            const { inHand } = document.querySelector('aisle-screen');
            const what = { kind: 'in_trolley', store: 'alder', product: 'soap', units: 2 };
            const { append } = Object.getPrototypeOf(inHand.store);
            return append.call(inHand.store, inHand.trip.id, [what]).then(() => inHand.refresh());
        }"""
    )
    shopper.told("News from another window")
    shopper.state_of(SOAP, "in the trolley")


def test_two_phones_see_each_others_trolleys(shopper: Shopper, chromium: Browser) -> None:
    context = chromium.new_context(viewport={"width": 360, "height": 800}, has_touch=True, is_mobile=True)
    other = Shopper(context, shopper.url).open()
    shopper.take(OATS)
    expect(shopper.page.get_by_role("link", name="All sent")).to_be_visible()
    other.page.reload()
    other.told("News from the other phone")
    other.state_of(OATS, "in the trolley")
    # Both take the soap while neither hears of the other: it lies in two trolleys, and both say so.
    shopper.phone.set_offline(True)
    context.set_offline(True)
    shopper.take(SOAP)
    other.take(SOAP)
    shopper.phone.set_offline(False)
    context.set_offline(False)
    expect(shopper.page.get_by_role("link", name="All sent")).to_be_visible()
    expect(other.page.get_by_role("link", name="All sent")).to_be_visible()
    for each in (shopper, other):
        # Whichever was first to send has not heard of the other yet.
        each.page.evaluate("dispatchEvent(new Event('focus'))")
        expect(each.line(SOAP)).to_contain_text("In two trolleys: 2 here, 2 on the other phone.")
    sheet = other.more(SOAP)
    for _ in range(2):
        sheet.get_by_role("button", name="Put one back").tap()
    expect(sheet.get_by_text("2 of 2 in the trolley")).to_be_visible()
    expect(other.line(SOAP)).not_to_contain_text("In two trolleys")
    other.totals(out_of_pocket="$17.01", net="$17.01")
    context.close()
