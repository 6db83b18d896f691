"""At the register the screen stays on and the phone ticks in the hand; elsewhere neither.

The browser's lock and motor are stood in for, since a test has no screen to go dark.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, expect

from tests.browser.saturday import saturday
from tests.browser.shopper import Shopper, bring_in
from tests.served import Running

HAND = """
window.hand = [];
window.awake = 0;
Object.defineProperty(navigator, 'wakeLock', {value: {
    request: async (kind) => {
        if (window.refusing) throw new DOMException('low battery', 'NotAllowedError');
        hand.push(kind);
        window.awake += 1;
        return {release: async () => { window.awake -= 1; }};
    },
}});
navigator.vibrate = (milliseconds) => { hand.push(milliseconds); return true; };
"""
# As the browser does when she looks away: it lets go of the lock by itself.
LOOK = """(state) => {
    Object.defineProperty(document, 'visibilityState', {get: () => state, configurable: true});
    if (state === 'hidden') window.awake = 0;
    document.dispatchEvent(new Event('visibilitychange'));
}"""


@pytest.fixture
def shopper(phone: BrowserContext, running: Callable[..., Running]) -> Shopper:
    phone.add_init_script(HAND)
    server = running()
    bring_in(server.url, saturday())
    return Shopper(phone, server.url).open()


def hand(shopper: Shopper) -> list[Any]:
    return shopper.page.evaluate("hand")


def awake(shopper: Shopper, locks: int) -> None:
    shopper.page.wait_for_function("(locks) => awake === locks", arg=locks)


def test_the_screen_stays_on_at_the_register_alone(shopper: Shopper) -> None:
    assert hand(shopper) == []
    shopper.go("Register")
    awake(shopper, 1)
    assert hand(shopper) == ["screen"]
    # She answers a call, and is back.
    shopper.page.evaluate(LOOK, "hidden")
    awake(shopper, 0)
    shopper.page.evaluate(LOOK, "visible")
    awake(shopper, 1)
    shopper.go("Aisle")
    awake(shopper, 0)
    # Looking away and back in the Aisle holds nothing.
    shopper.page.evaluate(LOOK, "hidden")
    shopper.page.evaluate(LOOK, "visible")
    assert hand(shopper) == ["screen", "screen"]
    awake(shopper, 0)


def test_the_lock_is_held_by_one_transaction_after_the_other(shopper: Shopper) -> None:
    shopper.go("Register")
    awake(shopper, 1)
    for total in ("$7.53", "$8.98", "$4.50"):
        awake(shopper, 1)
        shopper.done(total)
    expect(shopper.page.get_by_text("Everything is through the register.")).to_be_visible()
    awake(shopper, 0)


def test_a_coupon_handed_over_and_a_transaction_done_are_felt(shopper: Shopper) -> None:
    shopper.go("Register")
    awake(shopper, 1)
    coupons = shopper.step("Hand over 3 coupons").get_by_role("checkbox")
    coupons.first.check()
    assert hand(shopper) == ["screen", 30]
    shopper.done("$7.53")
    assert hand(shopper).count(30) == 2


def test_a_phone_that_gives_no_lock_shows_the_register_all_the_same(shopper: Shopper) -> None:
    shopper.page.evaluate("() => { window.refusing = true; navigator.vibrate = undefined; }")
    shopper.go("Register")
    shopper.step("Hand over 3 coupons").get_by_role("checkbox").first.check()
    shopper.done("$7.53")
    assert shopper.faults == []
