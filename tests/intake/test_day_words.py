"""A day as a person says it."""

from __future__ import annotations

from counterfoil.intake.day_words import day_in_words


def test_a_day_in_another_year_is_said_with_it() -> None:
    assert day_in_words("2026-12-03", "2026-11-26") == "3 December"
    assert day_in_words("2027-01-12", "2026-11-26") == "12 January 2027"


def test_a_day_that_is_said_at_no_certain_time_has_its_year() -> None:
    assert day_in_words("2026-12-03") == "3 December 2026"
