"""Promise kept here: a figure beyond what the engine reckons with is refused by its field, with the mend.

``counterfoil plan`` ends with exit code 2, one line for each finding, and nothing on standard output. At
the very edge of each range the trip is planned.
"""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from counterfoil.cli import main

Document = dict[str, Any]

TRIP: Document = {
    "format": "counterfoil-trip-1",
    "id": "limits",
    "title": "Limits",
    "day": "2026-12-05",
    "stores": [
        {"id": "ostrel", "name": "Ostrel", "rules": {"multiplying": {"times": 2}}},
        {"id": "pick-up", "name": "Ostrel pick-up", "channel_of": "ostrel"},
        {"id": "lockers", "name": "Ostrel lockers"},
    ],
    "products": [{"id": "soap", "description": "Soap", "size": {"amount": "75", "unit": "g"}}],
    "prices": [
        {
            "store": "ostrel",
            "product": "soap",
            "cents": 300,
            "deal": {"kind": "n_for_m", "n": 3, "cents": 750},
        },
    ],
    "wants": [
        {"id": "soap", "products": ["soap"], "need": 1, "welcome": 2, "stock_up": {"cents": "3", "per": "g"}}
    ],
    "coupons": [
        {
            "id": "soap-100",
            "description": "$1.00 off soap",
            "issuer": "manufacturer",
            "form": "insert",
            "gives": {"kind": "cents_off", "cents": 100},
            "asks": [{"products": ["soap"], "units": 1}],
        },
        {
            "id": "soap-tenth",
            "description": "10% off soap",
            "issuer": "store",
            "form": "digital",
            "stores": ["ostrel"],
            "gives": {"kind": "percent_off", "bp": 1000},
            "asks": [{"products": ["soap"]}],
        },
    ],
    "percent_offers": [{"id": "fifth", "store": "ostrel", "description": "20% off", "bp": 2000}],
    "rewards": [
        {
            "id": "back",
            "store": "ostrel",
            "description": "Spend 5, get 1",
            "kind": "slip",
            "by": "spend",
            "tiers": [{"threshold": 500, "cents": 100}, {"threshold": 900, "cents": 250}],
        }
    ],
    "rebates": [{"id": "soap-50", "description": "50 back", "cents": 50, "products": ["soap"]}],
    "wallet": {"slips": [{"id": "slip", "store": "ostrel", "cents": 100}], "cash_cents": 10000},
    "settings": {"worth": {"slip_bp": 9000}},
}


@pytest.fixture(autouse=True)
def _in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def with_value(field: str, value: object) -> Document:
    """The trip with one field set; ``field`` as the findings write it: ``prices[0].cents``."""
    trip = deepcopy(TRIP)
    steps = field.replace("[", ".").replace("]", "").split(".")
    place: Any = trip
    for step in steps[:-1]:
        place = place[int(step)] if step.isdigit() else place.setdefault(step, {})
    place[steps[-1]] = value
    return trip


def plan_of(trip: Document) -> int:
    Path("trip.json").write_text(json.dumps(trip))
    return main(["plan", "trip.json"])


def test_the_trip_itself_is_planned(capsys: pytest.CaptureFixture[str]) -> None:
    assert plan_of(TRIP) == 0
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(
    ("field", "value", "mend"),
    [
        # Beyond the numbers that both languages and the solver count exactly.
        ("prices[0].cents", 10_000_001, "whole cents from 0 to 10000000"),
        ("prices[0].cents", 2**63, "whole cents from 0 to 10000000"),
        ("prices[0].cents", 10**40, "whole cents from 0 to 10000000"),
        ("prices[0].cents", 1e300, "whole cents from 0 to 10000000"),
        ("prices[0].cents", 2.99, "whole cents from 0 to 10000000"),
        ("prices[0].high_cents", 10_000_001, "whole cents from 0 to 10000000"),
        ("coupons[0].copies", 10_001, "a whole number from 0 to 10000"),
        ("coupons[0].gives.cents", 10_000_001, "whole cents from 1 to 10000000"),
        ("coupons[0].asks[0].units", 101, "a whole number from 1 to 100"),
        ("wants[0].need", 10_001, "a whole number from 0 to 10000"),
        ("wallet.cash_cents", 10_000_001, "whole cents from 0 to 10000000"),
        ("rewards[0].tiers[0].threshold", 10_000_001, "from 1 to 10000000"),
        ("wants[0].stock_up.cents", "999999999", "too much to count"),
        ("wants[0].stock_up.cents", "1000000000", 'digits with a point, in quotes, such as "2.5"'),
        # Below zero, or nothing where something must be.
        ("prices[0].cents", -1, "whole cents from 0"),
        ("coupons[0].gives.cents", 0, "whole cents from 1"),
        ("coupons[0].copies", -1, "a whole number from 0"),
        ("coupons[0].asks[0].units", 0, "a whole number from 1"),
        ("wants[0].need", -1, "a whole number from 0"),
        ("rebates[0].cents", -50, "whole cents from 1"),
        ("wallet.slips[0].cents", 0, "whole cents from 1"),
        ("wallet.cash_cents", -1, "whole cents from 0"),
        ("wants[0].stock_up.cents", "-3", 'digits with a point, in quotes, such as "2.5"'),
        # Packs.
        ("products[0].size.amount", "0", "a pack holds something: write how much"),
        ("products[0].size.amount", "0.000", "a pack holds something: write how much"),
        ("products[0].size.amount", "-75", 'digits with a point, in quotes, such as "2.5"'),
        ("products[0].size.unit", "handful", "not a unit of measure"),
        ("products[0].pieces", 0, "a whole number from 1 to 10000"),
        ("wants[0].stock_up.per", "ml", "soap"),
        # Percents, as basis points: 10,000 is the whole.
        ("percent_offers[0].bp", 10_001, "a whole number from 1 to 10000"),
        ("percent_offers[0].bp", 0, "a whole number from 1 to 10000"),
        ("coupons[1].gives.bp", 12_000, "a whole number from 1 to 10000"),
        ("settings.worth.slip_bp", 10_001, "a whole number from 0 to 10000"),
        ("stores[0].tax.rates", {"": 100_001}, "a whole number from 0 to 100000"),
        ("stores[0].rules.multiplying.times", 6, "a whole number from 2 to 5"),
        ("stores[0].rules.transactions_per_visit", 7, "a whole number from 1 to 6"),
        # Dates.
        ("day", "2026-02-29", "no such day in the calendar"),
        ("day", "05.12.2026", "a date as year-month-day"),
        ("prices[0].until", "2026-13-01", "no such day in the calendar"),
        ("coupons[0].from_date", "2026-11-31", "no such day in the calendar"),
        ("wallet.slips[0].until", "2026-00-10", "no such day in the calendar"),
        # Deals on a tag.
        ("prices[0].deal.n", 1, "a whole number from 2 to 100"),
        ("prices[0].deal.cents", 0, "whole cents from 1"),
        ("prices[0].deal.cents", 901, "3 at the tag's 300 cents cost less than the deal"),
        ("prices[0].deal.kind", "four_for_three", "one of: n_for_m, buy_one_get_one"),
        # Ranges and steps the wrong way round.
        ("prices[0].low_cents", 301, "at most the tag's 300 cents"),
        ("prices[0].high_cents", 299, "at least the tag's 300 cents"),
        ("prices[0].regular_cents", 299, "at least the tag's 300 cents"),
        ("rewards[0].tiers[1].threshold", 500, "steps go upward"),
        # Places.
        ("stores[0].channel_of", "pick-up", "leave channel_of out at the main store"),
        ("stores[0].channel_of", "ostrel", "leave channel_of out at the main store"),
        ("stores[2].channel_of", "pick-up", "it is a channel itself: name the store that it is a channel of"),
        ("stores[1].channel_of", "nowhere", "there is no store with this id"),
        ("exponent", 0, "USD has 2 digits after the point"),
    ],
)
def test_a_figure_out_of_range_is_refused_by_its_field(
    field: str, value: object, mend: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plan_of(with_value(field, value)) == 2
    said = capsys.readouterr()
    assert said.out == ""
    line = next(line for line in said.err.splitlines() if line.startswith(f"trip.json: {field}"))
    assert ": found " in line
    assert mend in line.split("; mend: ")[1]


def test_a_range_that_ends_before_it_begins(capsys: pytest.CaptureFixture[str]) -> None:
    trip = with_value("prices[0].from_date", "2026-12-06")
    trip["prices"][0]["until"] = "2026-12-05"
    assert plan_of(trip) == 2
    assert "prices[0].until: found 2026-12-05; mend: it ends before it begins" in capsys.readouterr().err


def test_a_circle_of_three_stores_is_told_at_each(capsys: pytest.CaptureFixture[str]) -> None:
    trip = with_value("stores[0].channel_of", "lockers")
    trip["stores"][2]["channel_of"] = "pick-up"
    assert plan_of(trip) == 2
    said = capsys.readouterr().err
    assert [f"stores[{place}].channel_of" in said for place in range(3)] == [True, True, True]


def test_a_trip_whose_sum_leaves_the_counted_range(capsys: pytest.CaptureFixture[str]) -> None:
    """10,000 units at 100,000.00 each: each figure is allowed, their sum is not."""
    trip = with_value("prices[0].cents", 10_000_000)
    trip["wants"][0] |= {"need": 10_000, "welcome": 10_000}
    assert plan_of(trip) == 2
    assert "trip.json: wants: found 100000000000 cents at the dearest tags" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("prices[0].cents", 10_000_000),
        ("coupons[0].copies", 10_000),
        ("coupons[0].gives.cents", 10_000_000),
        ("percent_offers[0].bp", 10_000),
        ("coupons[1].gives.bp", 10_000),
        ("prices[0].deal.cents", 900),
        ("prices[0].deal.n", 100),
        ("products[0].size.amount", "0.000001"),
        ("wallet.cash_cents", 0),
        ("stores[0].tax.rates", {"": 100_000}),
        ("day", "2028-02-29"),
    ],
)
def test_the_edge_of_each_range_is_planned(
    field: str, value: object, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plan_of(with_value(field, value)) == 0
    assert capsys.readouterr().err == ""
