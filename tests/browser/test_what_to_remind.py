"""What a phone reminds of at a moment follows from the list, what was told and the day, and nothing else."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, TypedDict

import pytest
from playwright.sync_api import Browser, Page

ASK = """async ([dues, told, today, days]) => {
    await import("/web/phone/what-to-remind.js");
    return counterfoilReminding.reminderOf(dues, told, today, days);
}"""


class Told(TypedDict):
    """What was told before."""

    on: str
    keys: list[str]
    unread: list[str]


NOTHING: Told = {"on": "", "keys": [], "unread": []}


def thing(day: str, id: str = "slip.a", kind: str = "slip", words: str = "") -> dict[str, str]:
    return {"id": id, "day": day, "kind": kind, "words": words or f"Last day of {id}.", "act": "", "trip": ""}


def reminder(
    page: Page, dues: list[dict[str, str]], told: Told, today: str, days: int = 3
) -> dict[str, Any] | None:
    return page.evaluate(ASK, [dues, told, today, days])


def after(told: Told, shown: dict[str, Any], today: str) -> Told:
    """What was told once that was shown, and opened."""
    return {"on": today, "keys": [*told["keys"], *shown["keys"]], "unread": []}


@pytest.mark.parametrize(
    ("due", "first_told"),
    [
        ("2026-11-02", "2026-10-30"),  # over the night in which the clocks go back there, and a month's end
        ("2026-03-09", "2026-03-06"),  # and the one in which they go forward
        ("2026-03-30", "2026-03-27"),  # the same in Europe
        ("2026-03-02", "2026-02-27"),
        ("2028-03-01", "2028-02-27"),  # a leap day between
        ("2027-01-01", "2026-12-29"),
    ],
)
@pytest.mark.parametrize("zone", ["UTC", "America/Los_Angeles", "Europe/Berlin", "Africa/Cairo"])
def test_day_by_day_it_is_told_on_one_day_and_that_is_so_many_before(
    chromium: Browser, static_site: str, due: str, first_told: str, zone: str
) -> None:
    context = chromium.new_context(timezone_id=zone)
    page = context.new_page()
    page.goto(f"{static_site}/tests/blank.html")
    told, days = NOTHING, list[str]()
    for back in range(8, -2, -1):
        today = (date.fromisoformat(due) - timedelta(days=back)).isoformat()
        shown = reminder(page, [thing(due)], told, today)
        if shown is not None:
            days.append(today)
            told = after(told, shown, today)
    assert days == [first_told]
    context.close()


@pytest.mark.parametrize(
    ("zone", "moment", "day"),
    [
        # In Cairo the clocks go from 0:00 to 1:00: that day has no midnight.
        ("Africa/Cairo", "2026-04-23T22:00:00Z", "2026-04-24"),
        ("Africa/Cairo", "2026-04-23T21:59:59Z", "2026-04-23"),
        # In New York the hour from 1:00 to 2:00 comes twice, on one day.
        ("America/New_York", "2026-11-01T03:59:59Z", "2026-10-31"),
        ("America/New_York", "2026-11-01T05:30:00Z", "2026-11-01"),
        ("America/New_York", "2026-11-01T06:30:00Z", "2026-11-01"),
        ("America/New_York", "2026-11-02T04:59:59Z", "2026-11-01"),
        ("Pacific/Kiritimati", "2026-12-31T10:00:00Z", "2027-01-01"),
        ("UTC", "2028-02-29T23:59:59Z", "2028-02-29"),
    ],
)
def test_the_day_is_the_phones_own(
    chromium: Browser, static_site: str, zone: str, moment: str, day: str
) -> None:
    context = chromium.new_context(timezone_id=zone)
    page = context.new_page()
    page.goto(f"{static_site}/tests/blank.html")
    found = page.evaluate(
        """async (moment) => {
            await import("/web/phone/what-to-remind.js");
            return counterfoilReminding.localDay(new Date(moment));
        }""",
        moment,
    )
    context.close()
    assert found == day


def test_a_phone_that_was_off_tells_it_later_and_on_the_last_day_still(module_page: Page) -> None:
    for today, words in (
        ("2026-12-04", "Due tomorrow"),
        ("2026-12-05", "Due today"),
        ("2026-12-02", "Due on Saturday, December 5"),
    ):
        shown = reminder(module_page, [thing("2026-12-05")], NOTHING, today)
        assert shown is not None
        assert shown["title"] == words
    assert reminder(module_page, [thing("2026-12-05")], NOTHING, "2026-12-06") is None


def test_no_days_before_is_the_last_day_alone(module_page: Page) -> None:
    assert reminder(module_page, [thing("2026-12-05")], NOTHING, "2026-12-04", days=0) is None
    assert reminder(module_page, [thing("2026-12-05")], NOTHING, "2026-12-05", days=0) is not None


def test_one_notification_a_day_what_comes_later_waits_for_the_next(module_page: Page) -> None:
    first = thing("2026-12-07", "slip.a")
    shown = reminder(module_page, [first], NOTHING, "2026-12-05")
    assert shown is not None
    told = after(NOTHING, shown, "2026-12-05")
    both = [first, thing("2026-12-07", "claim.b", "claim")]
    assert reminder(module_page, both, told, "2026-12-05") is None
    next_day = reminder(module_page, both, told, "2026-12-06")
    assert next_day is not None
    assert next_day["keys"] == ["2026-12-07 claim.b"]
    assert next_day["title"] == "Due tomorrow"


def test_what_stands_unread_comes_along_but_is_no_reason_of_its_own(module_page: Page) -> None:
    old, new = thing("2026-12-07", "slip.a"), thing("2026-12-08", "claim.b", "claim")
    told: Told = {"on": "2026-12-04", "keys": ["2026-12-07 slip.a"], "unread": ["2026-12-07 slip.a"]}
    assert reminder(module_page, [old], told, "2026-12-05") is None
    shown = reminder(module_page, [old, new], told, "2026-12-05")
    assert shown is not None
    assert shown["keys"] == ["2026-12-07 slip.a", "2026-12-08 claim.b"]
    # Shown, and then the phone died before it could remember: it stands there and is not shown again.
    unremembered: Told = {"on": "", "keys": [], "unread": ["2026-12-07 slip.a"]}
    assert reminder(module_page, [old], unremembered, "2026-12-05") is None


def test_a_deadline_that_moved_is_told_for_its_new_day(module_page: Page) -> None:
    told: Told = {"on": "2026-12-04", "keys": ["2026-12-07 slip.a"], "unread": []}
    shown = reminder(module_page, [thing("2026-12-06")], told, "2026-12-05")
    assert shown is not None
    assert shown["keys"] == ["2026-12-06 slip.a"]


def test_hers_come_by_line_soonest_first_and_offers_are_counted(module_page: Page) -> None:
    dues = [
        thing("2026-12-06", "sale.x", "sale"),
        thing("2026-12-08", "claim.b", "claim", "Last day to claim: Soap."),
        thing("2026-12-05", "slip.a", "slip", "Last day of the slip of $1.00: Ostrel."),
        thing("2026-12-07", "sale.y", "sale"),
        *(thing("2026-12-08", f"coupon.{number}", "coupon") for number in range(4)),
    ]
    shown = reminder(module_page, dues, NOTHING, "2026-12-05")
    assert shown is not None
    assert shown["title"] == "8 things are due, the first today"
    assert shown["body"].splitlines() == [
        "Today: Last day of the slip of $1.00: Ostrel.",
        "On Tuesday, December 8: Last day to claim: Soap.",
        "On Tuesday, December 8: Last day of coupon.0.",
        "On Tuesday, December 8: Last day of coupon.1.",
        "And 2 more.",
        "2 offers end, the first tomorrow.",
    ]
    assert len(shown["keys"]) == 8


def test_only_what_can_still_be_due_is_remembered(module_page: Page) -> None:
    kept = module_page.evaluate(
        """async () => {
            await import("/web/phone/what-to-remind.js");
            return counterfoilReminding.worthKnowing(
                ["2026-11-30 a", "2026-12-01 b", "2027-01-01 c"], "2026-12-01");
        }"""
    )
    assert kept == ["2026-12-01 b", "2027-01-01 c"]
