"""What is due is on the phone, radio or not. That it reminds is in ``test_due_reminders.py``."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Response, expect

from tests.browser.due import ON, ahead, at_the_trip, due, household, in_words
from tests.browser.saturday import OATS
from tests.browser.shopper import Shopper
from tests.served import Running

Start = Callable[..., Running]


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Running]:
    yield from household(tmp_path)


@pytest.fixture
def shopper(phone: BrowserContext, server: Running) -> Shopper:
    return at_the_trip(Shopper(phone, server.url).open())


# --- the list --------------------------------------------------------------------------


def test_what_is_due_stands_day_by_day_soonest_first_with_what_to_do(shopper: Shopper) -> None:
    headings = due(shopper).get_by_role("heading", level=3)
    assert headings.all_inner_texts() == [f"{in_words(days)} in {days} days" for days in (2, 5, 6)]
    due(shopper).get_by_text(f"2 more until {in_words(12)}").tap()
    assert headings.all_inner_texts() == [f"{in_words(days)} in {days} days" for days in (2, 5, 6, 9, 12)]
    coupon = due(shopper).get_by_role("listitem").first
    expect(coupon).to_contain_text(
        "Last day of the coupon 50 cents off one Lathrin soap (soap-50) (3 copies)."
    )
    expect(coupon).to_contain_text("Plan a trip with it, or let it go.")
    # What is offered to everyone does not crowd out what is hers.
    offer = due(shopper).get_by_text("Last day of the percent offer 10 % off the whole aisle.")
    expect(offer).to_be_hidden()
    due(shopper).get_by_text("1 offer ends").tap()
    expect(offer).to_be_visible()
    expect(due(shopper)).to_contain_text("Last day of the slip of $3.00: Alder Row Grocers.")
    # What ends in forty days is not soon.
    expect(due(shopper)).not_to_contain_text("Buy one Lathrin soap")


def test_it_is_there_with_the_radio_off_and_says_how_old_it_is(shopper: Shopper) -> None:
    shopper.phone.set_offline(True)
    page = shopper.page
    page.reload()
    expect(due(shopper)).to_contain_text("Last day of the slip of $3.00")
    expect(due(shopper)).not_to_contain_text("As the Desk knew it")
    # Three days later, still without a network: what has ended is gone.
    page.clock.set_fixed_time(f"{ahead(3)}T08:00:00Z")
    page.reload()
    expect(due(shopper)).to_contain_text(f"As the Desk knew it on {in_words(0)}.")
    expect(due(shopper)).not_to_contain_text("(soap-50)")
    expect(due(shopper).get_by_role("heading", level=3).first).to_have_text(f"{in_words(5)} in 2 days")
    assert shopper.faults == []


def test_each_opening_asks_once_and_is_told_when_nothing_changed(
    phone: BrowserContext, server: Running
) -> None:
    answers: list[int] = []

    def answered(response: Response) -> None:
        # What the page asks passes through the worker, which is no second question.
        if response.url.endswith("/api/due") and response.request.service_worker is None:
            answers.append(response.status)

    phone.on("response", answered)
    shopper = at_the_trip(Shopper(phone, server.url).open())
    expect(due(shopper)).to_contain_text("(soap-50)")
    shopper.page.reload()
    expect(due(shopper)).to_contain_text("(soap-50)")
    shopper.page.wait_for_function("() => performance.getEntriesByName(`${origin}/api/due`).length > 0")
    assert answers == [200, 304]
    # A sync after every burst of taps asks nothing of it.
    shopper.go("Aisle")
    shopper.take(OATS)
    expect(shopper.page.get_by_role("link", name="All sent")).to_be_visible()
    assert answers == [200, 304]


def test_a_server_that_does_not_know_the_address_changes_nothing(
    phone: BrowserContext, server: Running
) -> None:
    phone.route("**/api/due", lambda route: route.fulfill(status=404, json={"error": {"mend": "no"}}))
    shopper = Shopper(phone, server.url).open()
    shopper.keep_page()
    shopper.go("Trip")
    expect(shopper.page.get_by_text("All sent").first).to_be_visible()
    expect(due(shopper)).to_have_count(0)
    assert shopper.faults == []


# --- where it cannot be ----------------------------------------------------------------

BLOCKED = "Object.defineProperty(Notification, 'permission', {get: () => 'denied'})"
NONE = "delete window.Notification"
IPHONE = "delete window.Notification; Object.defineProperty(navigator, 'standalone', {value: false})"
UNANSWERED = """
Object.defineProperty(Notification, 'permission', {get: () => 'default'});
Notification.requestPermission = async () => 'default';
"""


@pytest.mark.parametrize(
    ("where", "words"),
    [
        (BLOCKED, "Notifications of this page are blocked in the browser's or the phone's settings."),
        (NONE, "This browser shows no reminders for this page; over https most do."),
        (IPHONE, "An iPhone or iPad reminds only once this page is on its home screen"),
    ],
    ids=["blocked", "unsupported", "an iPhone's browser"],
)
def test_where_it_cannot_remind_it_says_why_and_points_to_the_calendar(
    phone: BrowserContext, server: Running, where: str, words: str
) -> None:
    phone.add_init_script(where)
    shopper = at_the_trip(Shopper(phone, server.url).open())
    expect(due(shopper)).to_contain_text(words)
    expect(due(shopper).get_by_role("button")).to_have_count(0)
    expect(due(shopper).get_by_role("link", name="Your own calendar can remind you too.")).to_have_attribute(
        "href", "/desk/calendar"
    )
    assert shopper.faults == []


def test_a_question_that_she_lets_be_turns_nothing_on(phone: BrowserContext, server: Running) -> None:
    phone.add_init_script(UNANSWERED)
    shopper = at_the_trip(Shopper(phone, server.url).open())
    due(shopper).get_by_role("button", name=ON).tap()
    expect(due(shopper)).to_contain_text("The browser got no answer from you, so nothing is turned on.")
    expect(due(shopper).get_by_role("button", name=ON)).to_be_visible()
