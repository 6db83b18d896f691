"""The larder and the price book at the Desk: counting, using up, staples, prices, settings."""

from __future__ import annotations

import asyncio
import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from counterfoil.home.household import HouseholdSettings, Staple
from counterfoil.homes import Home, Snapshot
from counterfoil.store.facts import PriceRow, StockRow
from counterfoil.store.records import SqliteRecords
from counterfoil.store.sqlite import SqliteStore
from counterfoil.store.sqlite_facts import SqliteFacts
from tests.kitchen import TODAY, fill

from .conftest import Client, Phone, as_json, paired, small_trip
from .test_binder import bring_trip, soaps_bought
from .test_desk import words


@pytest.fixture
def data(tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    fill(folder)
    return folder


@pytest.fixture
def desk(data: Path) -> Iterator[Client]:
    """The household's owner at the Desk."""
    with paired(data, today=lambda: TODAY) as client:
        yield client


def of(page: str, staple: str) -> str:
    """What the larder's page says of one staple."""
    found = re.search(rf"{re.escape(staple)} At home .*?(?= [A-Z][a-z ]* At home |$)", page)
    assert found, page
    return found[0]


def kept(data: Path) -> Snapshot:
    """The household as it is kept."""

    async def read() -> Snapshot:
        store = SqliteStore(data)
        await store.open()
        try:
            return await Home(SqliteRecords(store)).snapshot()
        finally:
            await store.close()

    return asyncio.run(read())


def says(text: str) -> str:
    """An answer in words."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


# --- the larder -----------------------------------------------------------------------


def test_each_staple_stands_with_what_is_there_how_long_it_lasts_and_why(desk: Client) -> None:
    page = words(desk, "/desk/larder")
    towels = of(page, "Paper towels")
    assert "At home 16 rolls Lasts until about 2 January 2027 Needed none Welcome up to 2 packs" in towels
    assert "3 rolls a week go, as you wrote." in towels
    oats = of(page, "Oats")
    assert "At home 36 oz" in oats
    assert "90 oz went between the counts of 17 September and 26 November: 9 oz a week." in oats
    soap = of(page, "Soap")
    assert "12 bars were noted as used since 15 October: 2 bars a week." in soap


def test_an_empty_larder_says_what_a_staple_is(client: Client) -> None:
    assert "No staple is here yet." in words(client, "/desk/larder")
    assert "There is nothing to count yet" in words(client, "/desk/larder/count")


def test_what_was_used_is_noted_with_one_button_and_taken_back_with_another(desk: Client) -> None:
    page = desk.post("/desk/larder/used", data={"product": "towels-12"}).text
    assert "Noted: a pack of Dabwick paper towels, 12 rolls is used up." in says(page)
    assert "At home 4 rolls Lasts until about 5 December Needed 1 pack" in of(says(page), "Paper towels")
    desk.post("/desk/larder/used", data={"product": "towels-12", "undo": "yes"})
    assert "At home 16 rolls" in of(words(desk, "/desk/larder"), "Paper towels")


def test_many_are_counted_at_once_and_what_was_left_blank_stays_as_it_was(desk: Client) -> None:
    desk.post(
        "/desk/larder/count",
        data={"day": TODAY, "count-towels-12": "3", "count-towels-2": "", "count-soap": "0"},
    )
    page = words(desk, "/desk/larder")
    assert "At home 40 rolls" in of(page, "Paper towels")
    assert "At home 0 bars" in of(page, "Soap")


def test_a_count_after_a_use_on_the_same_day_is_what_is_there_and_a_use_after_it_counts(desk: Client) -> None:
    desk.post("/desk/larder/used", data={"product": "towels-12"})
    desk.post("/desk/larder/count", data={"day": TODAY, "count-towels-12": "2"})
    desk.post("/desk/larder/used", data={"product": "towels-12"})
    assert "At home 16 rolls" in of(words(desk, "/desk/larder"), "Paper towels")


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"day": TODAY}, "count at least one product"),
        ({"day": TODAY, "count-soap": "two"}, "a whole number from 0 to 10000"),
        ({"day": "2026-11-27", "count-soap": "2"}, "what is there tomorrow nobody has counted"),
        ({"day": "soon", "count-soap": "2"}, "no such day in the calendar"),
    ],
)
def test_a_count_that_is_turned_down_changes_nothing_and_keeps_what_was_typed(
    desk: Client, fields: dict[str, str], told: str
) -> None:
    before = words(desk, "/desk/larder")
    answer = desk.post(
        "/desk/larder/count", data={**fields, "count-oats": "7"} if len(fields) > 1 else fields
    )
    assert answer.status_code == 400
    assert told in html.unescape(answer.text)
    assert len(fields) == 1 or 'name="count-oats" type="text" inputmode="numeric" value="7"' in answer.text
    assert words(desk, "/desk/larder") == before


def test_the_count_can_be_narrowed_to_some_words(desk: Client) -> None:
    page = desk.get("/desk/larder/count?search=dabwick+2").text
    assert re.findall(r'name="count-([\w-]+)"', page) == ["towels-12", "towels-2"]
    assert "No product of a staple has these words." in words(desk, "/desk/larder/count?search=zebra")


def test_a_trip_brings_packs_and_its_correction_takes_them_back(desk: Client) -> None:
    phone = bring_trip(desk)
    done = phone.event(soaps_bought(1))
    phone.sync(done)
    assert "At home 20 bars" in of(words(desk, "/desk/larder"), "Soap")
    phone.sync(phone.event({"kind": "undone", "event": done["id"]}))
    assert "At home 12 bars" in of(words(desk, "/desk/larder"), "Soap")


# --- staples --------------------------------------------------------------------------


def test_a_staples_page_has_every_sentence_and_its_moves(desk: Client) -> None:
    page = words(desk, "/desk/larder/staples/towels")
    assert (
        "Of 16 rolls, 3 rolls go in a week until the next trip and 13 rolls stay; 6 rolls are to be kept"
        in page
    )
    assert "Stock-up price 40.0¢/roll" in page
    assert "26 November 2 packs counted Dabwick paper towels, 2 rolls" in page


def test_a_staple_is_added_with_products_found_by_their_words(desk: Client, data: Path) -> None:
    form = {"name": "Bathroom", "per": "roll", "keep": "4", "revision": "0"}
    page = says(desk.post("/desk/larder/staples/new", data={**form, "words": "dabwick", "do": "find"}).text)
    assert "which of the 2 is meant?" in page
    found = desk.post("/desk/larder/staples/new", data={**form, "words": "towels 2 rolls", "do": "find"}).text
    assert 'value="towels-2" checked' in found
    two = {**form, "products": ["towels-12", "towels-2"], "place-towels-12": "2", "place-towels-2": "1"}
    answer = desk.post("/desk/larder/staples/new", data={**two, "stock_up": "$0.3333", "room": "30"})
    assert answer.url.path == "/desk/larder/staples/bathroom"
    assert kept(data).staples["bathroom"] == Staple(
        id="bathroom",
        name="Bathroom",
        products=("towels-2", "towels-12"),
        per="roll",
        keep="4",
        room="30",
        stock_up_cents="33.33",
    )


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({}, "name at least one product"),
        ({"words": "zebra"}, "no product has all of these words"),
        (
            {"products": "oats", "per": "roll", "stock_up": "cheap"},
            "an amount for one unit of measure, as in $0.25",
        ),
        ({"products": "oats", "per": "fl-oz"}, "it is sold by 18 oz"),
        ({"products": "oats", "per": "furlong"}, "one of: mg"),
        ({"products": "oats", "name": ""}, "write what the household calls it"),
        ({"products": "oats", "keep": "many"}, "a number like 12 or 2.5"),
    ],
)
def test_a_staple_that_does_not_hold_together_is_told_by_field(
    desk: Client, fields: dict[str, str], told: str
) -> None:
    answer = desk.post("/desk/larder/staples/new", data={"name": "Porridge", "per": "oz", **fields})
    assert answer.status_code == 400
    assert told in html.unescape(answer.text)
    assert 'value="Porridge"' in answer.text or fields.get("name") == ""


def test_two_who_change_one_staple_lose_nothing(desk: Client, data: Path) -> None:
    form = {"name": "Towels", "per": "roll", "products": "towels-12", "revision": "1"}
    desk.post("/desk/larder/staples/towels/change", data=form)
    late = desk.post("/desk/larder/staples/towels/change", data={**form, "name": "Kitchen rolls"})
    assert late.status_code == 400
    assert "changed meanwhile" in late.text
    assert 'value="Kitchen rolls"' in late.text
    assert kept(data).staples["towels"].name == "Towels"


def test_a_staple_is_removed_and_its_stock_stays(desk: Client) -> None:
    desk.post("/desk/larder/staples/soap/remove")
    assert "Soap At home" not in words(desk, "/desk/larder")
    assert desk.get("/desk/larder/staples/soap").status_code == 404
    desk.post("/desk/larder/staples/new", data={"name": "Soap", "per": "bar", "products": "soap"})
    assert "At home 12 bars" in of(words(desk, "/desk/larder"), "Soap")


# --- the price book -------------------------------------------------------------------


def test_a_staples_price_book_compares_all_products_in_its_unit(desk: Client) -> None:
    """Sales are 4.99, 5.09 and 5.19 for twelve; the 21st of 104 prices is a 5.19: 43.25 cents a roll."""
    page = words(desk, "/desk/larder/prices/staples/towels")
    assert "Lowest in a year 41.6¢/roll , Birchwell Market, 12 November" in page
    assert "In the middle (median) 74.9¢/roll" in page
    assert "On sale about every 35 days (18 cycles; the last sale began 12 November)" in page
    assert "The price book proposes 43.3¢/roll : 20 in a hundred of the 104 prices of the last year" in page
    assert "Alder Row Grocers 41.6¢/roll 74.9¢/roll 74.9¢/roll 52" in page
    assert "2026-11-12 Birchwell Market Dabwick paper towels, 12 rolls $4.99 41.6¢/roll typed by hand" in page


def test_the_proposal_becomes_hers_with_one_button(desk: Client, data: Path) -> None:
    page = desk.post("/desk/larder/prices/staples/towels/stock-up").text
    assert kept(data).staples["towels"].stock_up_cents == "43.25"
    assert "Yours is 43.3¢/roll ." in says(page)
    assert "Take the proposal" not in page


def test_another_quantile_proposes_another_price(desk: Client) -> None:
    desk.post("/desk/settings", data={"currency": "USD", "stock_up_quantile": "1"})
    assert "proposes 41.6¢/roll : 1 in a hundred" in words(desk, "/desk/larder/prices/staples/towels")


def test_two_years_ago_counts_for_nothing_but_can_be_seen(desk: Client) -> None:
    assert "2024-11-28" not in words(desk, "/desk/larder/prices/products/oats")
    assert "2024-11-28" in words(desk, "/desk/larder/prices/products/oats?every=yes")


def test_a_price_typed_by_hand_is_in_the_book(desk: Client) -> None:
    sent = {"store": "birch", "day": TODAY, "cents": "0.98", "each": "0.90"}
    page = says(desk.post("/desk/larder/prices/products/oats", data=sent).text)
    assert "Lowest in a year 5.0¢/oz , Birchwell Market, 26 November" in page
    wrong = desk.post("/desk/larder/prices/products/oats", data={**sent, "each": "0.99", "store": ""})
    assert wrong.status_code == 400
    assert "no more than the price on the tag" in wrong.text
    assert "choose where it was seen" in wrong.text


def test_what_a_trip_saw_and_paid_is_one_price_at_what_was_paid(desk: Client) -> None:
    """Two soaps at 2.99 less 0.50 on one of them: 5.48 for two is 2.74 each."""
    phone = bring_trip(desk)
    phone.sync(phone.event(soaps_bought(1)))
    page = words(desk, "/desk/larder/prices/products/soap")
    assert "2026-11-26 Alder Row Grocers $2.74 68.5¢/bar paid" in page
    assert "not enough seen yet (0 of 3 cycles)" in page


def test_the_list_has_last_and_lowest_and_finds_by_words(desk: Client) -> None:
    page = words(desk, "/desk/larder/prices?search=dabwick+12")
    assert "1 product Product Last price" in page
    assert "Dabwick paper towels, 12 rolls $8.99 19 November , Alder Row Grocers $4.99 104" in page
    assert "No product has all of these words." in words(desk, "/desk/larder/prices?search=zebra")


def test_a_product_without_prices_says_so(desk: Client) -> None:
    assert "No price was seen in the last year." in words(desk, "/desk/larder/prices/products/towels-2")
    assert desk.get("/desk/larder/prices/products/gone").status_code == 404
    assert desk.get("/desk/larder/prices/staples/gone").status_code == 404


def test_prices_in_another_currency_are_not_compared(desk: Client) -> None:
    """A trip of other money tells its stock, but no price."""
    trip = as_json(small_trip()) | {"currency": "EUR", "day": TODAY}
    assert desk.post("/api/trips", json=trip).status_code == 201
    seen = f"{TODAY} Alder Row Grocers $2.00"
    assert seen not in words(desk, "/desk/larder/prices/products/oats")
    assert desk.post("/api/trips", json=trip | {"currency": "USD", "version": 2}).status_code == 201
    assert seen in words(desk, "/desk/larder/prices/products/oats")


# --- settings -------------------------------------------------------------------------


def test_settings_are_kept_as_typed_and_hold_for_the_needs(desk: Client, data: Path) -> None:
    sent = {
        "currency": "usd",
        "region": "north",
        "slip": "95",
        "gift_card": "90.5",
        "points": "",
        "rebate": "80",
        "further_transaction": "0.25",
        "further_store": "2.00",
        "days_to_next_visit": "14",
        "weeks_between_trips": "4",
        "stock_up_quantile": "25",
        "remind_days": "0",
    }
    assert "The settings are kept." in says(desk.post("/desk/settings", data=sent).text)
    settings = kept(data).settings
    assert (settings.currency, settings.weeks_between_trips, settings.remind_days) == ("USD", 4, 0)
    assert (settings.settings.worth.gift_card_bp, settings.settings.worth.points_bp) == (9_050, 10_000)
    assert settings.settings.further_store_cents == 200
    assert 'value="90.5"' in desk.get("/desk/settings").text
    assert "12 rolls go in 4 weeks until the next trip" in words(desk, "/desk/larder/staples/towels")


def test_settings_that_do_not_fit_are_told_by_field_and_change_nothing(desk: Client, data: Path) -> None:
    answer = desk.post(
        "/desk/settings",
        data={"currency": "dollars", "slip": "120", "weeks_between_trips": "0", "stock_up_quantile": "80"},
    )
    assert answer.status_code == 400
    for told in ("ISO 4217", "at most 100 %", "a whole number from 1 to 52", "a whole number from 1 to 50"):
        assert told in answer.text
    assert kept(data).settings == HouseholdSettings()


# --- what is kept ---------------------------------------------------------------------


def test_a_household_with_prices_and_stock_is_found_whole_at_the_next_start(data: Path) -> None:
    """The whole file is checked at each start; a table that the check misreads would keep her out."""
    for _ in range(2):
        with paired(data, today=lambda: TODAY) as client:
            assert client.get("/desk/larder").status_code == 200


def test_recent_stock_begins_with_the_last_count_before_a_day(data: Path) -> None:
    def counted(day: str, units: int, product: str = "jam") -> StockRow:
        return StockRow(product=product, day=day, units=units, how="counted")

    async def story() -> list[StockRow]:
        store = SqliteStore(data)
        await store.open()
        try:
            facts = SqliteFacts(store)
            await facts.add_stock("typed", [counted("2024-01-01", 9), counted("2024-06-01", 5)])
            await facts.add_stock("typed", [StockRow(product="jam", day="2024-08-01", units=-1, how="used")])
            await facts.add_stock("typed", [counted("2023-01-01", 1, "peas")])
            return [row for row in await facts.recent_stock("2025-11-27") if row.product in ("jam", "peas")]
        finally:
            await store.close()

    assert [(row.product, row.day, row.units) for row in asyncio.run(story())] == [
        ("peas", "2023-01-01", 1),
        ("jam", "2024-06-01", 5),
        ("jam", "2024-08-01", -1),
    ]


def test_heads_tell_the_last_days_cheapest_and_the_lowest_of_a_year(data: Path) -> None:
    def seen(day: str, cents: int, store: str = "alder") -> PriceRow:
        return PriceRow(product="jam", store=store, day=day, cents=cents, each_cents=cents, how="typed")

    async def story() -> tuple[object, ...]:
        store = SqliteStore(data)
        await store.open()
        try:
            facts = SqliteFacts(store)
            rows = [seen("2020-01-01", 99), seen("2026-11-01", 250), seen("2026-11-20", 300)]
            assert await facts.add_prices("typed", [*rows, seen("2026-11-20", 280, "birch")]) == 4
            await facts.add_prices("trip:next-week", [seen("2026-12-03", 1)])
            [head] = await facts.price_heads(["jam", "gone"], "2025-11-27", TODAY)
            return head.last_day, head.last_cents, head.last_store, head.lowest_cents, head.prices
        finally:
            await store.close()

    assert asyncio.run(story()) == ("2026-11-20", 280, "birch", 250, 3)


def test_a_stale_trip_is_reckoned_once(desk: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages that follow each other price no transaction twice."""
    phone: Phone = bring_trip(desk)
    phone.sync(phone.event(soaps_bought(1)))
    words(desk, "/desk/larder")

    def fail(*_: object) -> None:
        raise ZeroDivisionError("reckoned again")

    monkeypatch.setattr("counterfoil.reckoned_trips.bought", fail)
    for address in ("/desk/larder", "/desk/binder", "/desk/calendar", "/desk/larder/prices/products/soap"):
        words(desk, address)
