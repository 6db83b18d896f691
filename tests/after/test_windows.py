"""Promise kept here: pages of half a year show every row once, and the sums of all beside their own."""

from __future__ import annotations

from datetime import date

from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.after.books import open_books
from counterfoil.after.reports import reports
from counterfoil.after.spending import monday
from counterfoil.after.tables import Column, Table, table_of
from counterfoil.after.windows import DAY_OF, WEEKS, window

from .month import books

TODAY = "2026-12-05"
days = st.dates(min_value=date(2020, 1, 1), max_value=date(2031, 12, 31)).map(lambda day: day.isoformat())


def trips(*on: str) -> Table:
    columns = (Column("Trip", "text"), Column("Day", "date"), Column("Paid", "cents", sums=True))
    return table_of("trips", "Trips", "", columns, ((f"t-{day}", day, 100) for day in on), ("USD", 2))


def pages(table: Table) -> list[Table]:
    """The table page by page."""
    count = window([table], 1, TODAY).pages
    return [window([table], page, TODAY).tables[0][0] for page in range(1, count + 1)]


def test_the_first_page_has_the_last_half_year() -> None:
    """Monday 8 June is 25 weeks before Monday 30 November: it is in; the Sunday before is not."""
    table = trips("2026-06-07", "2026-06-08", "2026-12-05")

    first = window([table], 1, TODAY)

    assert (first.since, first.until, first.pages) == ("2026-06-08", "2026-12-06", 2)
    assert [row[1] for row in first.tables[0][0].rows] == ["2026-06-08", "2026-12-05"]
    assert (first.tables[0][0].totals[2], first.tables[0][1].totals[2]) == (200, 300)
    assert [row[1] for row in window([table], 2, TODAY).tables[0][0].rows] == ["2026-06-07"]


def test_a_household_that_paused_sees_its_last_weeks_and_not_empty_ones() -> None:
    first = window([trips("2024-03-02")], 1, TODAY)

    assert (first.pages, len(first.tables[0][0].rows)) == (1, 1)


def test_a_page_beyond_the_last_is_the_last_and_one_before_the_first_the_first() -> None:
    table = trips("2025-01-04", "2026-12-05")
    assert window([table], 99, TODAY).page == window([table], 1, TODAY).pages == 4
    assert window([table], 0, TODAY).page == 1


def test_no_rows_are_one_page_of_this_half_year() -> None:
    empty = window([trips()], 1, TODAY)
    assert (empty.page, empty.pages, empty.until) == (1, 1, "2026-12-06")


@settings(deadline=None)
@given(on=st.lists(days, max_size=30))
def test_every_row_is_on_just_one_page_of_at_most_half_a_year(on: list[str]) -> None:
    table = trips(*on)
    found = pages(table)

    assert sorted(row[1] for page in found for row in page.rows) == sorted(on)  # pyright: ignore[reportArgumentType]
    assert all(len({monday(str(row[1])) for row in page.rows}) <= WEEKS for page in found)


def test_all_reports_but_what_is_outstanding_go_by_weeks() -> None:
    for of in (books(), open_books(())):
        found = reports(of, TODAY, "USD", 2)
        assert {table.name for table in found} == {*DAY_OF, "outstanding"}
        for table in found:
            if table.name in DAY_OF:
                [kind] = [column.kind for column in table.columns if column.title == DAY_OF[table.name]]
                assert kind == "date"
        shown = window(found, 1, TODAY)
        assert [whole for _, whole in shown.tables] == list(found)
