"""``counterfoil demo`` in any week: its Saturday is to come, its larder asks, what is over can be settled."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any, NamedTuple

import msgspec
import pytest

from counterfoil.after.purchases import bought
from counterfoil.demo_household import demo_household
from counterfoil.demo_trips import Over, notes_at_home, trips_that_are_over
from counterfoil.engine.check import check_trip
from counterfoil.engine.papers import RainCheckTaken, TransactionDone

from .at_the_desk import words
from .conftest import Client, paired

PLAN = "/desk/drafts/vellinghay-saturday/plan"


class Demo(NamedTuple):
    """A demo that was filled on ``today``."""

    client: Client
    today: date

    def says(self, address: str) -> str:
        return words(self.client.get(address, headers={"Accept": "text/html"}).text)


# On its Saturday, the day after, in the middle of a later week, over a leap day.
@pytest.fixture(params=["2026-12-05", "2026-12-06", "2027-06-23", "2028-02-27"])
def demo(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Demo]:
    today: str = request.param
    with paired(tmp_path / "data", demo=True, today=lambda: today) as client:
        yield Demo(client, date.fromisoformat(today))


def test_the_trip_is_on_the_coming_saturday_and_the_others_are_over(demo: Demo) -> None:
    trips = demo.client.get("/api/trips").json()["trips"]
    ahead = [(date.fromisoformat(trip["day"]) - demo.today).days for trip in trips]
    assert [trip["id"] for trip in trips] == ["vellinghay-saturday", "before-the-baking", "paper-and-cereal"]
    assert 0 <= ahead[0] < 7
    assert [ahead[0] - each for each in ahead] == [0, 14, 35]
    assert {date.fromisoformat(trip["day"]).weekday() for trip in trips} == {5}


def test_the_trip_costs_what_the_readme_says_with_what_the_others_left(demo: Demo) -> None:
    while "Best possible" not in (said := demo.says(PLAN)):
        pass
    assert "worth to you $42.36" in said
    assert "Out of pocket $52.68" in said


def test_every_staple_of_the_larder_but_the_filler_is_known_to_last(demo: Demo) -> None:
    said = demo.says("/desk/larder")
    assert said.count("Lasts until about not known") == 1
    assert re.search(r"Bath tissue At home [\d.]+ rolls Lasts until about \d", said)
    assert said.count("Needed 1 pack") > 3


def test_settle_has_something_of_each_kind_to_do(demo: Demo) -> None:
    said = demo.says("/desk/settle")
    assert "Cocovane: $1.25 back on two: $1.25 ○ to claim" in said
    assert "Voltkin: $0.80 back: $0.80 ◐ claimed" in said
    assert "Marrowbell Mart asked for $0.60 more than the papers explain" in said
    assert "Bought without a plan at Brindlewick Foods: 2 for $6.68." in said
    assert "70 minutes for Before the baking." in said


def test_the_reports_tell_the_slip_that_lapsed_and_what_an_hour_brought(demo: Demo) -> None:
    said = demo.says("/desk/reports")
    assert "Printed by transaction 1 at Marrowbell Mart, lapsed" in said
    assert "Paper, teeth and cereal" in said
    assert "For an hour" in said


def test_a_later_start_adds_and_moves_nothing(tmp_path: Path) -> None:
    seen: list[tuple[Any, int]] = []
    for today in ("2026-12-05", "2026-12-19"):
        with paired(tmp_path / "data", demo=True, today=lambda today=today: today) as client:
            written_down = words(client.get("/desk/settle").text).count("Take back")
            seen.append((client.get("/api/trips").json(), written_down))
    assert seen[0] == seen[1]
    assert seen[0][1] == 8


# --- the trips that are over ----------------------------------------------------------------------


@pytest.fixture(scope="module")
def over() -> tuple[Over, ...]:
    demo = demo_household()
    return trips_that_are_over(demo.earlier, demo.trip)


def test_they_are_sound_and_the_register_takes_all_that_went_through_it(over: tuple[Over, ...]) -> None:
    for each in over:
        assert check_trip(each.trip) == []
        found = bought(each.trip, each.events)
        assert found.unread == ()
        assert [purchase.refused for purchase in found.purchases] == [""] * len(found.purchases)


def test_what_one_brings_the_next_carries(over: tuple[Over, ...]) -> None:
    first, second = over
    [taken] = [event for event in first.events if isinstance(event.what, RainCheckTaken)]
    [check] = second.trip.wallet.rain_checks
    [slip] = second.trip.wallet.slips
    assert check.id == f"rain-check.{taken.id}"
    done = [event.what.transaction for event in second.events if isinstance(event.what, TransactionDone)]
    assert check.id in {line.rain_check for transaction in done for line in transaction.lines}
    spent = [each for transaction in done for each in msgspec.to_builtins(transaction.tenders)]
    assert slip.id in {each.get("id") for each in spent}


def test_one_register_shows_what_comes_of_a_coupon_that_it_did_not_take(over: tuple[Over, ...]) -> None:
    found = [purchase for each in over for purchase in bought(each.trip, each.events).purchases]
    assert [purchase.unexplained_cents for purchase in found if purchase.unexplained_cents] == [60]


def test_their_reports_are_the_same_each_time_and_named_by_their_moment(over: tuple[Over, ...]) -> None:
    demo = demo_household()
    assert trips_that_are_over(demo.earlier, demo.trip) == over
    for each in over:
        for event in each.events:
            assert re.fullmatch(
                r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}", event.id
            )
            moment = int(event.id.replace("-", "")[:12], 16)
            assert date.fromisoformat("1970-01-01") + timedelta(milliseconds=moment) == date.fromisoformat(
                each.trip.day
            )


def test_a_purchase_without_a_plan_is_priced_by_the_register(over: tuple[Over, ...]) -> None:
    notes = msgspec.to_builtins(notes_at_home(demo_household().earlier, over))
    [purchase] = [note["what"] for note in notes if note["what"]["kind"] == "unplanned_purchase"]
    assert [line["cents"] for line in purchase["lines"]] == [349, 299]
    assert purchase["tax_cents"] == 20  # 6.625 % of 2.99; flour is not taxed there
