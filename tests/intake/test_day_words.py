"""A day and a moment as a person says them."""

from __future__ import annotations

from counterfoil.intake.day_words import day_in_words, moment_in_words


def test_a_day_in_another_year_is_said_with_it() -> None:
    assert day_in_words("2026-12-03", "2026-11-26") == "3 December"
    assert day_in_words("2027-01-12", "2026-11-26") == "12 January 2027"


def test_a_day_that_is_said_at_no_certain_time_has_its_year() -> None:
    assert day_in_words("2026-12-03") == "3 December 2026"


def test_what_is_no_day_stays_as_it_came() -> None:
    assert day_in_words("2026-02-31", "2026-11-26") == "2026-02-31"


def test_a_moment_is_said_in_one_zone_as_finely_as_it_is_asked_for() -> None:
    assert moment_in_words("2026-12-03T23:30:05-02:00", "2026-11-26") == "4 December, 01:30 UTC"
    assert (
        moment_in_words("2026-12-03T23:30:05Z", "2027-01-02", to="seconds") == "3 December 2026, 23:30:05 UTC"
    )
    assert moment_in_words("2026-12-03T23:30:05Z", "2026-11-26", to="hours") == "3 December, 23 h UTC"


def test_a_clock_without_a_zone_or_without_sense_is_shown_as_it_was() -> None:
    assert moment_in_words("2026-12-03T23:30:05", "2026-11-26") == "3 December, 23:30"
    assert moment_in_words("9999-12-31T23:59:59-12:00") == "9999-12-31T23:59:59-12:00"
    assert moment_in_words("noon") == "noon"
