"""The household of ``tests/kitchen.py`` as of today, and its phone at what is due.

Coupons end in two and nine days, a slip in six, an offer to everyone in five, a rain check in twelve. It
wants to be reminded three days before.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from playwright.sync_api import Locator, expect

from tests.browser.at_home import kitchen
from tests.browser.saturday import saturday
from tests.browser.shopper import Shopper, bring_in
from tests.served import Running

ON = "Remind me on this phone"
OFF = "Stop reminding me"


def household(folder: Path) -> Iterator[Running]:
    """A server over the household, with a trip to carry."""
    server = kitchen(folder / "data")
    bring_in(server.url, saturday())
    yield server
    server.stop()


def at_the_trip(shopper: Shopper) -> Shopper:
    shopper.keep_page()
    shopper.go("Trip")
    expect(due(shopper)).to_be_visible()
    return shopper


def due(shopper: Shopper) -> Locator:
    return shopper.page.get_by_role("region", name="Due soon")


def ahead(days: int) -> str:
    return (datetime.now(UTC).date() + timedelta(days=days)).isoformat()


def in_words(days: int) -> str:
    day = date.fromisoformat(ahead(days))
    return f"{day:%A}, {day:%B} {day.day}"
