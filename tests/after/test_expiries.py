"""Promise kept here: every deadline stands on its day, whatever the clocks do in between."""

from __future__ import annotations

from datetime import date, timedelta

import msgspec
import pytest

from counterfoil.after.books import AtHome, Books, open_books
from counterfoil.after.expiries import due
from counterfoil.after.purchases import bought
from counterfoil.engine.offers import PercentOffer, ShelfPrice, Wallet
from counterfoil.engine.papers import Line, TransactionDone

from .month import (
    OSTREL,
    SOAP_BACK,
    SOAP_REWARD,
    SOAPS,
    WEEK_44,
    WEEK_45,
    belt,
    books,
    claim_note,
    events,
    first_week,
)
from .month import trip as a_trip


def told(of: Books, today: str, until: str = "9999-12-31") -> list[tuple[str, str, str]]:
    return [(each.day, each.kind, each.source) for each in due(of, today, until)]


def test_the_first_week_of_november() -> None:
    assert told(first_week(), "2026-11-01") == [
        ("2026-11-07", "claim", "claim.week-44.soap-back"),
        ("2026-11-14", "slip", "slip.week-44.soap-reward.ostrel.1.1"),
        ("2026-11-28", "rain check", "rain-check.rain-check.week-44-02"),
        ("2026-11-30", "set bonus", "open-bonus.both"),
        ("2026-11-30", "coupon", "coupon.soap-50"),
        ("2026-11-30", "rebate offer", "rebate-offer.tea-back"),
    ]


def test_words_say_what_to_do() -> None:
    words = [each.words for each in due(first_week(), "2026-11-01", "2026-11-28")]

    assert words == [
        "Last day to claim: Soap, 75 cents back, $1.50 in all, 2 times. Needs the receipt: 2 × Lathrin soap,"
        " 4 bars from Ostrel Pharmacy, 31 October 2026.",
        "Last day of the slip of $1.00: Ostrel Pharmacy.",
        "Rain check ends: 2 × Dabwick towels, 2 rolls at $1.25, Brindlewick Foods.",
    ]


def test_time_goes_by_and_each_thing_is_due_on_its_own_last_day_only() -> None:
    """Day by day through November, over the night in which the clocks go back: each source is listed
    until its day, included, and never after."""
    start = date(2026, 10, 31)
    seen: dict[str, list[str]] = {}
    for days in range(45):
        today = (start + timedelta(days=days)).isoformat()
        for each in due(books() if today >= WEEK_45.day else first_week(), today):
            assert each.day >= today
            seen.setdefault(each.source, []).append(today)
    assert seen["claim.week-44.soap-back"][-1] == "2026-11-07"
    assert seen["coupon.soap-50"][-1] == "2026-11-30"
    # The second trip spent the slip on the 7th: from then on nothing lapses.
    assert seen["slip.week-44.soap-reward.ostrel.1.1"][-1] == "2026-11-06"
    assert seen["claim.week-45.both.bonus"] == ["2026-11-07"]


def test_what_is_claimed_is_due_no_more() -> None:
    of = first_week(claim_note("n1", "2026-11-02", "claimed", times=2))

    assert [row for row in told(of, "2026-11-03") if row[1] == "claim"] == []


@pytest.mark.parametrize(
    ("bought_on", "days", "claim_by"),
    [
        ("2026-10-31", 1, "2026-11-01"),  # the night in which the clocks go back
        ("2026-03-07", 1, "2026-03-08"),  # and the one in which they go forward
        ("2026-10-24", 1, "2026-10-25"),  # the same in Europe
        ("2026-01-31", 28, "2026-02-28"),  # month-ends
        ("2026-01-31", 30, "2026-03-02"),
        ("2028-01-31", 29, "2028-02-29"),  # a leap day
        ("2028-02-29", 365, "2029-02-28"),
        ("2026-12-25", 7, "2027-01-01"),  # the turn of the year
        ("2026-11-07", 0, "2026-11-07"),
    ],
)
def test_a_deadline_is_so_many_calendar_days_after(bought_on: str, days: int, claim_by: str) -> None:
    rebate = msgspec.structs.replace(SOAP_BACK, deadline_days=days, until=None)
    reward = msgspec.structs.replace(SOAP_REWARD, valid_days=days)
    week = msgspec.structs.replace(
        a_trip("week", bought_on, Wallet()),
        rebates=(rebate,),
        set_bonuses=(),
        rewards=(reward,),
        coupons=(),
    )
    two = belt(week, OSTREL, Line(product="soap", units=2))
    of = open_books([bought(week, events(week, TransactionDone(transaction=two)))])

    assert told(of, claim_by) == [
        (claim_by, "claim", "claim.week.soap-back"),
        (claim_by, "slip", "slip.week.soap-reward.ostrel.1.1"),
    ]
    assert told(of, (date.fromisoformat(claim_by) + timedelta(days=1)).isoformat()) == []


def test_the_households_own_word_on_an_offer_counts() -> None:
    offer = PercentOffer(id="soap-20", store="ostrel", description="20 % off", bp=2_000, until="2026-11-20")
    week = msgspec.structs.replace(WEEK_44, percent_offers=(offer,))
    trips = [bought(week, events(week, TransactionDone(transaction=SOAPS)))]
    longer = msgspec.structs.replace(offer, until="2026-11-27")

    def ends(of: Books) -> list[str]:
        return [each.day for each in due(of, "2026-11-01") if each.kind == "percent offer"]

    assert ends(open_books(trips)) == ["2026-11-20"]
    assert ends(open_books(trips, at_home=AtHome(percent_offers=(longer,)))) == ["2026-11-27"]


def test_a_sale_ends_and_a_regular_price_does_not() -> None:
    sale = ShelfPrice(store="ostrel", product="soap", cents=250, kind="sale", until="2026-11-10")
    regular = ShelfPrice(store="brindlewick", product="tea", cents=200, until="2026-11-10")
    of = books(at_home=AtHome(tags=(sale, regular)))

    ends = [each.words for each in due(of, "2026-11-08") if each.kind == "sale"]
    assert ends == ["Last day of the sale on Lathrin soap, 4 bars at Ostrel Pharmacy."]
