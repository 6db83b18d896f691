"""Promise kept here: what was written stays, what was corrected counts as corrected."""

from __future__ import annotations

from counterfoil.after.notes import Note, Remark, TakenBack, TimeSpent, standing

from .month import note


def minutes(name: str, minutes: int, corrects: str | None = None) -> Note:
    return note(name, "2026-11-01", TimeSpent(trip="week-44", minutes=minutes), corrects)


def back(name: str, target: str) -> Note:
    return note(name, "2026-11-02", TakenBack(note=target))


def told(*rows: Note) -> list[tuple[str, int]]:
    return [(row.id, row.what.minutes) for row in standing(rows) if isinstance(row.what, TimeSpent)]


def test_notes_stand_in_the_order_in_which_they_were_written() -> None:
    assert told(minutes("b", 10), minutes("a", 20)) == [("b", 10), ("a", 20)]


def test_a_correction_stands_in_the_place_of_what_it_corrects() -> None:
    assert told(minutes("a", 10), minutes("b", 20), minutes("c", 15, corrects="a")) == [("a", 15), ("b", 20)]


def test_a_correction_of_a_correction_is_one_of_the_same_note() -> None:
    assert told(minutes("a", 10), minutes("b", 15, corrects="a"), minutes("c", 18, corrects="b")) == [
        ("a", 18)
    ]


def test_taking_a_note_back_takes_its_corrections_with_it() -> None:
    assert told(minutes("a", 10), minutes("b", 15, corrects="a"), back("c", "a")) == []


def test_taking_a_correction_back_brings_back_what_it_corrected() -> None:
    assert told(minutes("a", 10), minutes("b", 15, corrects="a"), back("c", "b")) == [("a", 10)]


def test_a_taking_back_can_be_taken_back() -> None:
    assert told(minutes("a", 10), back("b", "a"), back("c", "b")) == [("a", 10)]


def test_a_correction_of_nothing_stands_by_itself() -> None:
    assert told(minutes("a", 10, corrects="never-written")) == [("a", 10)]


def test_a_correction_may_say_another_thing() -> None:
    rows = (minutes("a", 10), note("b", "2026-11-01", Remark(trip="week-44", words="No watch"), "a"))

    assert [type(row.what) for row in standing(rows)] == [Remark]
