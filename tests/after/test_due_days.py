"""Promise kept here: a list of what is due is read day by day, and nothing of it is lost by summing up."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.after.due_days import due_days
from counterfoil.after.expiries import Due, DueKind, due

from .month import books

EVERYTHING = 10_000


def sale(day: str, product: str, place: str = "Brindlewick Foods") -> Due:
    return Due(
        day=day, kind="sale", words=f"Sale on {product}", source=f"sale.{place}.{product}", place=place
    )


def coupon(day: str, name: str) -> Due:
    return Due(day=day, kind="coupon", words=name, source=f"coupon.{name}")


def test_several_sales_of_one_store_that_end_together_are_one_line() -> None:
    dues = [
        coupon("2026-12-01", "soap"),
        sale("2026-12-01", "tea"),
        sale("2026-12-01", "jam"),
        sale("2026-12-01", "oats", "Alder Row"),
    ]

    (day,), further = due_days(dues, EVERYTHING)

    assert [each.words for each in day.lines] == ["soap", "Sale on oats"]
    assert [(each.place, len(each.sales)) for each in day.ending] == [("Brindlewick Foods", 2)]
    assert (day.count, further) == (3, 0)


def test_days_are_shown_whole_and_the_first_always() -> None:
    dues = [coupon("2026-12-01", f"a{n}") for n in range(5)] + [coupon("2026-12-02", "b")]

    assert [(len(days), further) for days, further in (due_days(dues, 3), due_days(dues, 6))] == [
        (1, 1),
        (2, 0),
    ]


def test_a_sale_names_its_store_as_the_page_does() -> None:
    sales = [each for each in due(books(), "2026-10-01") if each.kind == "sale"]
    assert all(each.words.endswith(f" at {each.place}.") for each in sales)


kinds = st.sampled_from(DueKind.__args__)
things = st.builds(
    Due,
    day=st.dates().map(lambda day: day.isoformat()),
    kind=kinds,
    words=st.text(max_size=5),
    source=st.uuids().map(str),
    place=st.sampled_from(("Alder Row", "Brindlewick Foods")),
)


@settings(deadline=None)
@given(dues=st.lists(things, max_size=40), most=st.integers(1, 60))
def test_everything_is_on_its_day_or_counted_as_further(dues: list[Due], most: int) -> None:
    dues = sorted(dues, key=lambda each: each.day)
    days, further = due_days(dues, most)

    told = [
        each
        for day in days
        for each in (*day.lines, *(sale for store in day.ending for sale in store.sales))
        if each.day == day.day
    ]
    assert len(told) + further == len(dues)
    assert {each.source for each in told} == {each.source for each in dues[: len(told)]}
