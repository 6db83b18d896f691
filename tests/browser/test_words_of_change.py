"""What a replan changed is said in words, with both figures; what did not change is not mentioned.

Plans are the server's, as they travel: fields that stand at their default are left out.
"""

from __future__ import annotations

import json
from typing import Any

import msgspec
from playwright.sync_api import Page

from counterfoil.engine.papers import (
    CouponCopies,
    Happened,
    InTrolley,
    NeedChanged,
    PriceSeen,
    Report,
    ShelfEmpty,
    TransactionDone,
)
from counterfoil.engine.planner import plan
from tests.browser.saturday import ALDER, BITTERN, OAT_SOAP, OATS, RAZORS, SHAMPOO, SOAP, saturday

TRIP = saturday()


def changes(page: Page, before: list[Report], report: Report) -> tuple[list[str], list[str]]:
    """(sentences, how the totals moved) when ``report`` follows ``before``."""

    def happened(reports: list[Report]) -> Happened:
        return Happened(entries=tuple((f"event-{place}", what) for place, what in enumerate(reports)))

    after = [*before, report]
    events = [{"id": f"event-{place}", "what": _plain(what)} for place, what in enumerate(after)]
    sentences, totals = page.evaluate(
        """async ([trip, before, after, events]) => {
            const {whatChanged, totalsChanged} = await import('/web/phone/changes.js');
            const {fold} = await import('/web/phone/fold.js');
            return [whatChanged(trip, before, after, fold(events)), totalsChanged(trip, before, after)];
        }""",
        [_plain(TRIP), _plain(plan(TRIP, happened(before))), _plain(plan(TRIP, happened(after))), events],
    )
    return sentences, totals


def test_a_day_is_said_with_its_year_where_that_is_another(module_page: Page) -> None:
    said = module_page.evaluate(
        """async (days) => {
            const {longDay} = await import('/web/phone/report-words.js');
            return days.map(([day, near]) => longDay(day, near));
        }""",
        [["2026-12-19", "2026-12-05"], ["2027-01-02", "2026-12-05"], ["2026-12-19", "2026-12-19"]],
    )
    assert said == ["Saturday, December 19", "Saturday, January 2, 2027", "Saturday, December 19"]


def _plain(document: Any) -> Any:
    return json.loads(msgspec.json.encode(document))


def test_a_dearer_tag_says_what_the_stack_was(module_page: Page) -> None:
    # At 2.69 soap still beats oat soap at 2.91: 2.69 - 0.60 = 2.09; tax on 5.38 is 0.27, the register 7.95.
    sentences, totals = changes(module_page, [], PriceSeen(store="alder", product="soap", cents=269))
    assert sentences == [
        f"{SOAP}: stack now $2.09, was $1.89.",
        f"{ALDER}: the register now shows $7.95, was $7.53.",
    ]
    assert totals == ["Out of pocket now $17.43, was $17.01.", "Net now $17.43, was $17.01."]


def test_a_coupon_left_at_home_leaves_two_kinds_of_stack(module_page: Page) -> None:
    sentences, totals = changes(module_page, [], CouponCopies(coupon="larkmoor-60", copies=-1))
    assert sentences == [
        f"{SOAP}: stack now $1.89 and $2.49, was $1.89.",
        f"{ALDER}: the register now shows $8.13, was $7.53.",
    ]
    assert totals == ["Out of pocket now $17.61, was $17.01.", "Net now $17.61, was $17.01."]


def test_an_empty_shelf_says_what_comes_and_what_goes(module_page: Page) -> None:
    sentences, _ = changes(module_page, [], ShelfEmpty(store="alder", product="soap"))
    assert sentences == [
        f"Now also 2 × {OAT_SOAP} at {ALDER}, stack $2.31.",
        f"No longer 2 × {SOAP} at {ALDER}.",
        f"{ALDER}: the register now shows $8.41, was $7.53.",
    ]


def test_one_unit_fewer_says_both_counts(module_page: Page) -> None:
    # The one pair of oats without the coupon goes.
    sentences, _ = changes(module_page, [], NeedChanged(want="oats", need=1, welcome=1))
    assert sentences == [
        f"{OATS}: now 1, was 2; stack now $1.50, was $1.50 and $2.00.",
        f"{ALDER}: the register now shows $5.53, was $7.53.",
    ]


def test_putting_what_was_planned_into_the_trolley_changes_nothing(module_page: Page) -> None:
    sentences, totals = changes(module_page, [], InTrolley(store="alder", product="soap", units=2))
    assert (sentences, totals) == ([], [])


def test_what_went_through_the_register_as_planned_is_no_change(module_page: Page) -> None:
    first = next(each for each in plan(TRIP).transactions if each.store == "bittern")
    sentences, totals = changes(module_page, [], TransactionDone(transaction=first.transaction))
    assert (sentences, totals) == ([], [])


def test_a_shelf_that_empties_the_want_is_told_as_missing(module_page: Page) -> None:
    before: list[Report] = [ShelfEmpty(store="bittern", product="small-shampoo")]
    sentences, _ = changes(module_page, before, ShelfEmpty(store="bittern", product="shampoo"))
    assert f"No longer 1 × {SHAMPOO} at {BITTERN}." in sentences
    assert any(sentence.startswith("Missing 1: Shampoo.") for sentence in sentences)
    assert not any(RAZORS in sentence for sentence in sentences)
