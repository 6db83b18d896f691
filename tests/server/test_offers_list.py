"""The list of everything on offer: by kind, soonest end first, ended ones hidden, changes taken back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from counterfoil.engine.offers import Asks, CentsOff, Coupon, Product, ShelfPrice

from .at_the_desk import BASICS, Desk, at_the_desk, words


def coupon(id: str, until: str | None, description: str = "") -> Coupon:
    return Coupon(
        id=id,
        description=description or f"Coupon {id}",
        issuer="manufacturer",
        form="insert",
        gives=CentsOff(cents=50),
        asks=(Asks(products=("oats",)),),
        until=until,
    )


MANY = [coupon(f"c-{number:03}", "2026-12-31", f"Number {number:03}") for number in range(120)]


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    records = [
        *BASICS,
        coupon("next-week", "2026-12-12"),
        coupon("today", "2026-12-05"),
        coupon("yesterday", "2026-12-04"),
        coupon("for-ever", None),
        *MANY,
        ShelfPrice(store="birch", product="soap", cents=99, until="2026-12-01", from_date="2026-11-20"),
    ]
    with at_the_desk(tmp_path_factory.mktemp("list") / "data", records) as desk:
        yield desk


def test_what_ends_soonest_comes_first_and_what_ended_yesterday_is_hidden(desk: Desk) -> None:
    page = desk.says("/desk/offers?kind=coupon")
    assert page.index("Coupon today") < page.index("Coupon next-week") < page.index("Number 000")
    assert "Coupon yesterday" not in page
    assert "Coupon for-ever" not in page, "it is on the last page"
    assert "ended: until 4 December" in desk.says("/desk/offers?kind=coupon&ended=yes")


def test_a_page_has_fifty_records_and_leads_further_with_what_was_asked(desk: Desk) -> None:
    page = desk.open("/desk/offers?kind=coupon&order=name&ended=yes")
    assert page.count('<a href="/desk/offers/coupon/') == 50
    assert "Page 1 of 3" in words(page)
    assert 'href="/desk/offers?page=2&amp;kind=coupon&amp;search=&amp;order=name&amp;ended=yes"' in page
    assert "124 coupons" in words(page)
    assert "Page 3 of 3" in desk.says("/desk/offers?kind=coupon&page=99&ended=yes")
    for odd in ("-1", "x", "9" * 30, ""):
        assert "Page 1 of 3" in desk.says(f"/desk/offers?kind=coupon&ended=yes&page={odd}")


def test_a_search_goes_through_all_kinds_by_the_names_of_what_they_refer_to(desk: Desk) -> None:
    page = desk.says("/desk/offers?search=rolled+alder")
    assert "Wickel rolled oats, Alder Row Grocers $3.49 each; regular" in page
    assert "Nimbelle" not in page.partition("Last changes")[0]
    assert "Nothing has all of these words." in desk.says("/desk/offers?search=unheard+of")


def test_of_all_kinds_the_first_few_are_shown_with_the_way_to_the_rest(desk: Desk) -> None:
    page = desk.open("/desk/offers")
    assert "All 123 coupons" in words(page)
    assert 'aria-current="page">All</a>' in page
    for kind in ("Tags", "Coupons", "Products", "Stores"):
        assert kind in words(page)


def test_an_empty_household_is_told_where_to_begin(tmp_path: Path) -> None:
    with at_the_desk(tmp_path / "data", ()) as desk:
        assert "Nothing is here yet. Begin with a store" in desk.says("/desk/offers")
        assert "No store is here yet" in desk.says("/desk/offers/price/new")


def test_a_change_is_taken_back_unless_somebody_went_on_from_it(tmp_path: Path) -> None:
    with at_the_desk(tmp_path / "data") as desk:
        desk.send("/desk/offers/product/new", {"description": "Pinder jam"})
        desk.send("/desk/offers/product/pinder-jam", {"description": "Pinder jam, plum", "revision": "1"})
        page = words(desk.send("/desk/offers/changes/2/take-back", {}, status=400))
        assert "Nothing was taken back." in page
        assert "changed meanwhile" in page
        page = words(desk.send("/desk/offers/changes/3/take-back", {}))
        assert "Taken back." in page
        assert desk.kept().products["pinder-jam"].description == "Pinder jam"
        assert "taken back" in page.partition("Last changes")[2]
        assert "there is no such change" in words(desk.send("/desk/offers/changes/99/take-back", {}, 400))


def test_products_in_other_words_are_records_like_any_other(desk: Desk) -> None:
    assert isinstance(desk.kept().products["soap"], Product)
    assert "number 012345000065" in desk.says("/desk/offers?kind=product")
