"""An example's days are moved by whole weeks: every ISO day, over any calendar's turns, and nothing else."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

import msgspec
import pytest

from counterfoil.demo_household import demo_household
from counterfoil.engine.check import check_trip
from counterfoil.engine.planner import plan
from counterfoil.home.moved_days import Json, days_moved, weeks_until_coming
from counterfoil.shipped import demo_folder

FILES = ("trip.json", "household.json", "earlier.json")
WRITTEN_FOR = "2026-12-05"  # the Saturday of demo/trip.json


@pytest.mark.parametrize(
    ("day", "weeks", "moved"),
    [
        ("2026-11-28", 1, "2026-12-05"),  # over the end of a month
        ("2026-12-26", 1, "2027-01-02"),  # into the next year
        ("2027-01-02", -1, "2026-12-26"),
        ("2028-02-26", 1, "2028-03-04"),  # over a leap day: seven days all the same
        ("2028-02-29", 52, "2029-02-27"),
        ("2026-12-05", 0, "2026-12-05"),
    ],
)
def test_a_day_moves_by_whole_weeks(day: str, weeks: int, moved: str) -> None:
    assert days_moved({"until": day, "cents": {day: 549}}, weeks) == {"until": moved, "cents": {moved: 549}}


@pytest.mark.parametrize(
    "text",
    ["", "2026-12", "2026-02-30", "2026-12-05T10:00:00Z", "until 2026-12-05", "20261205", "٢٠٢٦-12-05"],
)
def test_what_is_no_day_stays(text: str) -> None:
    document = {"words": text, "list": [text, 2026, 1.5, True, None]}
    assert days_moved(document, 3) == document


@pytest.mark.parametrize("name", FILES)
def test_every_day_of_the_demo_moves_and_nothing_else_does(name: str) -> None:
    written = (demo_folder() / name).read_text()
    days = re.findall(r'"(\d{4}-\d{2}-\d{2})"', written)
    assert len(days) > 10
    there = days_moved(json.loads(written), 60)
    assert days_moved(json.loads(written), 0) == json.loads(written)
    assert days_moved(there, -60) == json.loads(written)
    apart = [
        (date.fromisoformat(b) - date.fromisoformat(a)).days
        for a, b in _differing(json.loads(written), there)
    ]
    assert apart == [420] * len(days)


def _differing(one: Json, other: Json) -> list[tuple[str, str]]:
    """The texts and keys in which two documents of the same shape differ, in order."""
    match one, other:
        case str(), str():
            return [] if one == other else [(one, other)]
        case Mapping(), Mapping():
            keys = [pair for pair in zip(one, other, strict=True) if pair[0] != pair[1]]
            return keys + _differing(list(one.values()), list(other.values()))
        case Sequence(), Sequence():
            return [pair for here, there in zip(one, other, strict=True) for pair in _differing(here, there)]
        case _:
            assert one == other
            return []


def test_the_coming_saturday_is_today_or_within_six_days() -> None:
    for ahead in range(-800, 800):
        today = date.fromisoformat(WRITTEN_FOR) - timedelta(days=ahead)
        weeks = weeks_until_coming(WRITTEN_FOR, today.isoformat())
        coming = date.fromisoformat(WRITTEN_FOR) + timedelta(weeks=weeks)
        assert coming.weekday() == 5
        assert 0 <= (coming - today).days < 7


def test_the_demo_is_as_written_in_its_own_week() -> None:
    assert demo_household("2026-12-05") == demo_household("2026-11-29") == demo_household()


@pytest.mark.parametrize("today", ["2026-11-26", "2028-02-27", "2031-01-01"])
def test_in_any_week_the_demos_trip_plans_to_the_same_figures(today: str) -> None:
    written, moved = demo_household(), demo_household(today)
    assert moved.trip.day >= today
    assert check_trip(moved.trip) == []
    here, there = plan(written.trip), plan(moved.trip)
    assert there.totals == here.totals
    assert there.deals == here.deals
    assert [each.prints for each in there.transactions] == [each.prints for each in here.transactions]


def test_no_text_of_the_demo_tells_a_date_that_would_not_move() -> None:
    telling = re.compile(
        r"January|February|March|April|June|July|August|September|October|November|December"
        r"|\b(yesterday|tomorrow|today|20\d\d)\b|week-\d",
        re.IGNORECASE,
    )
    for name in FILES:
        texts = [
            text for text in _texts(json.loads((demo_folder() / name).read_text())) if telling.search(text)
        ]
        assert texts == [], name


def _texts(document: Json) -> list[str]:
    match document:
        case str():
            return [document] if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", document) else []
        case Mapping():
            return [text for value in document.values() for text in _texts(value)]
        case Sequence():
            return [text for value in document for text in _texts(value)]
        case _:
            return []


def test_the_prices_seen_and_the_counts_move_with_the_trip() -> None:
    written, moved = demo_household(), demo_household("2026-12-06")
    week = timedelta(days=7)

    def later(rows: object) -> list[tuple[str, str]]:
        return [
            (row["product"], (date.fromisoformat(row["day"]) + week).isoformat())
            for row in msgspec.to_builtins(rows)
        ]

    for before, after in ((written.prices, moved.prices), (written.stock, moved.stock)):
        assert [(row.product, row.day) for row in after] == later(before)
