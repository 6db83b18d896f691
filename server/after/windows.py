"""Reports half a year at a time: a page of years is long to read and slow to send. The files have it all."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import msgspec

from .spending import monday
from .tables import Table

WEEKS = 26  # on one page
# The date by which a row of a report belongs to a week. Of what is outstanding now, all is shown.
DAY_OF = {
    "weeks": "From",
    "trips": "Day",
    "categories": "From",
    "rebates": "Bought",
    "waste": "Lapsed on",
    "hours": "Day",
}


class Window(msgspec.Struct, frozen=True, kw_only=True):
    """The weeks of one page. ``page``: from 1, the newest first; ``since`` and ``until``: its first and last
    day, both included; ``tables``: the reports with the rows of these weeks, beside the whole reports."""

    page: int
    pages: int
    since: str
    until: str
    tables: tuple[tuple[Table, Table], ...]


def window(tables: Sequence[Table], page: int, today: str) -> Window:
    """A page of the reports; the last one where there are fewer. Pages go back from the newest week that any
    report has a row of, this week where there is none."""
    days = [day for table in tables for day in _days(table) if day] or [today]
    newest = date.fromisoformat(monday(max(days)))
    weeks = (newest - date.fromisoformat(monday(min(days)))).days // 7 + 1
    pages = -(-weeks // WEEKS)
    page = min(max(page, 1), pages)
    last = newest - timedelta(weeks=WEEKS * (page - 1))
    since = (last - timedelta(weeks=WEEKS - 1)).isoformat()
    until = (last + timedelta(days=6)).isoformat()
    return Window(
        page=page,
        pages=pages,
        since=since,
        until=until,
        # What has no day is with the oldest.
        tables=tuple((_cut(table, "" if page == pages else since, until), table) for table in tables),
    )


def _days(table: Table) -> list[str]:
    """The days of its rows; none where it is not shown by weeks."""
    title = DAY_OF.get(table.name)
    if title is None:
        return []
    place = next(place for place, column in enumerate(table.columns) if column.title == title)
    return [str(row[place] or "") for row in table.rows]


def _cut(table: Table, since: str, until: str) -> Table:
    if table.name not in DAY_OF:
        return table
    rows = zip(table.rows, _days(table), strict=True)
    return msgspec.structs.replace(table, rows=tuple(row for row, day in rows if since <= day <= until))
