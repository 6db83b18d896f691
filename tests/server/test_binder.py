"""The binder and the calendar at the Desk: copies counted and used, papers, a feed that its key opens."""

from __future__ import annotations

import asyncio
import html
import re
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import icalendar
import msgspec
import pytest

from counterfoil.engine.offers import Trip, Want
from counterfoil.engine.papers import Line, Transaction, Use
from counterfoil.homes import Home
from counterfoil.store.records import SqliteRecords
from counterfoil.store.sqlite import SqliteStore
from tests.kitchen import ALDER, SOAP, TODAY, coupon, days_before, fill

from .conftest import Client, Phone, as_json, paired
from .test_desk import words

SOAP_TAG: dict[str, Any] = {"store": "alder", "product": "soap", "cents": 299}


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


def act(desk: Client, id: str, do: str, **fields: str) -> None:
    """Presses one of a coupon's buttons."""
    answer = desk.post(f"/desk/binder/coupons/{id}", data={"do": do, **fields}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"] == f"/desk/binder#coupon-{id}"


def copies(desk: Client, id: str) -> str:
    """What the page says of a coupon's copies."""
    page = desk.get("/desk/binder", headers={"Accept": "text/html"}).text
    entry = re.search(rf'id="coupon-{id}".*?<p class="copies">(.*?)</p>', page, re.DOTALL)
    assert entry, page
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", entry[1])).split())


def bring_trip(desk: Client, slip: bool = False) -> Phone:
    """A trip that carries the soap coupons, and its phone."""
    soap_coupon = coupon("soap-50", days_before(TODAY, -2), copies=3)
    trip = msgspec.to_builtins(
        Trip(
            id="soap-week",
            title="Soap for the week",
            day=TODAY,
            stores=(ALDER,),
            products=(SOAP,),
            prices=(),
            wants=(Want(id="soap", products=("soap",), need=2, welcome=2),),
            coupons=(soap_coupon,),
        )
    )
    trip["prices"] = [SOAP_TAG]
    if slip:
        trip["rewards"] = [REWARD]
    answer = desk.post("/api/trips", json=trip)
    assert answer.status_code == 201, answer.text
    return Phone(desk, "phone-a", "soap-week")


REWARD: dict[str, Any] = {
    "id": "soap-reward",
    "store": "alder",
    "description": "Buy 2 soaps, get a slip",
    "kind": "slip",
    "tiers": [{"threshold": 2, "cents": 100}],
    "products": ["soap"],
    "valid_days": 10,
}


def soaps_bought(uses: int, slip: bool = False) -> dict[str, Any]:
    """The report that two soaps went through the register with so many coupons."""
    through = Transaction(
        store=ALDER,
        day=TODAY,
        products=(SOAP,),
        prices=(),
        lines=(Line(product="soap", units=2),),
        coupons=(coupon("soap-50", days_before(TODAY, -2), copies=3),),
        uses=tuple(Use(coupon="soap-50", units=(unit,)) for unit in range(uses)),
    )
    document = as_json(through) | {"prices": [SOAP_TAG]}
    if slip:
        document["rewards"] = [REWARD]
    return {"kind": "transaction_done", "transaction": document}


# --- coupons --------------------------------------------------------------------------


def test_the_soonest_to_end_comes_first_by_form_and_the_expired_stand_apart(desk: Client) -> None:
    page = words(desk, "/desk/binder")
    assert "6 copies of 4 coupons in hand; 1 still to load ." in page
    soap = "50 cents off one Lathrin soap (soap-50) 2 days left , until 28 November; in: red pouch, page 4"
    assert f"Inserts {soap}" in page
    assert page.index("(soap-50)") < page.index("Buy one Lathrin soap, get one free until 5 January 2027")
    assert "Printables 75 cents off Wickel oats no last day" in page
    assert "$1.00 off Dabwick towels 9 days left , until 5 December; Alder Row Grocers" in page
    assert (
        "Expired: do not use An expired coupon is not taken, and using one is fraud. Throw these away."
        " 25 cents off Wickel oats ended 23 November; in: drawer 2 copies" in page
    )


def test_a_trip_takes_its_copies_and_a_report_that_is_taken_back_gives_them_again(desk: Client) -> None:
    phone = bring_trip(desk)
    done = phone.event(soaps_bought(2))
    phone.sync(done)
    assert copies(desk, "soap-50") == "1 copy"
    assert "3 counted, 2 used since." in words(desk, "/desk/binder")
    phone.sync(phone.event({"kind": "undone", "event": done["id"]}))
    assert copies(desk, "soap-50") == "3 copies"


def test_a_count_after_a_use_wins_even_if_it_is_the_number_that_stood_there(desk: Client) -> None:
    phone = bring_trip(desk)
    phone.sync(phone.event(soaps_bought(2)))
    act(desk, "soap-50", "count", copies="3")
    assert copies(desk, "soap-50") == "3 copies"
    assert "3 counted" not in words(desk, "/desk/binder")


def test_one_more_and_one_fewer_go_from_what_is_left(desk: Client) -> None:
    phone = bring_trip(desk)
    phone.sync(phone.event(soaps_bought(1)))
    act(desk, "soap-50", "fewer")
    assert copies(desk, "soap-50") == "1 copy"
    act(desk, "soap-50", "more")
    act(desk, "soap-50", "more")
    assert copies(desk, "soap-50") == "3 copies"


def test_what_was_thrown_away_is_none_and_can_be_counted_again(desk: Client) -> None:
    act(desk, "soap-50", "thrown")
    assert "No copy left (1) 50 cents off one Lathrin soap (soap-50)" in words(desk, "/desk/binder")
    act(desk, "soap-50", "fewer")
    act(desk, "soap-50", "more")
    assert copies(desk, "soap-50") == "1 copy"


def test_expired_coupons_that_were_thrown_away_are_gone_from_the_page(desk: Client) -> None:
    act(desk, "old", "thrown")
    assert "Expired" not in words(desk, "/desk/binder")


def test_copies_found_in_the_store_are_in_the_binder(desk: Client) -> None:
    phone = bring_trip(desk)
    phone.sync(phone.event({"kind": "coupon_copies", "coupon": "soap-50", "copies": 2}))
    assert copies(desk, "soap-50") == "5 copies"
    phone.sync(phone.event({"kind": "coupon_copies", "coupon": "soap-50", "copies": -2}))
    assert copies(desk, "soap-50") == "3 copies"


def test_a_digital_coupon_is_loaded_once_and_keeps_its_mark_through_a_count(desk: Client) -> None:
    assert copies(desk, "app") == "1 copy ○ not loaded yet"
    act(desk, "app", "load")
    act(desk, "app", "more")
    assert copies(desk, "app") == "2 copies ✓ loaded"
    act(desk, "app", "unload")
    assert copies(desk, "app") == "2 copies ○ not loaded yet"


@pytest.mark.parametrize(
    ("fields", "status", "told"),
    [
        ({"do": "burn"}, 400, "one of: more, fewer, count, thrown, load, unload"),
        ({"do": "count", "copies": "-1"}, 400, "a whole number from 0 to 10000"),
        ({"do": "count"}, 400, "write how many there are"),
    ],
)
def test_what_no_button_sends_changes_nothing_and_is_told(
    desk: Client, fields: dict[str, str], status: int, told: str
) -> None:
    answer = desk.post("/desk/binder/coupons/soap-50", data=fields)
    assert answer.status_code == status
    assert told in answer.text
    assert copies(desk, "soap-50") == "3 copies"


def test_a_coupon_that_is_not_there_is_not_found(desk: Client) -> None:
    assert desk.post("/desk/binder/coupons/gone", data={"do": "more"}).status_code == 404


# --- many coupons -----------------------------------------------------------------------


@pytest.fixture
def full(data: Path) -> Path:
    """The binder with 120 inserts more, one for each of the next days; "late" is the last of them."""
    day = date.fromisoformat(TODAY)
    more = [
        coupon(f"many-{n}", (day + timedelta(days=n + 60)).isoformat(), description=f"Many {n:03}")
        for n in range(119)
    ]
    late = coupon("late", None, description="Late one of Lathrin soap", where="blue box")

    async def keep() -> None:
        store = SqliteStore(data)
        await store.open()
        try:
            await Home(SqliteRecords(store)).save((*more, late), words="Many", device="desk")
        finally:
            await store.close()

    asyncio.run(keep())
    return data


def ids(text: str) -> list[str]:
    """The coupons of a page in their order."""
    return re.findall(r'<li class="paper[^"]*" id="coupon-([^"]+)"', text)


def page_of(desk: Client, address: str) -> str:
    return desk.get(address, headers={"Accept": "text/html"}).text


def test_every_coupon_is_on_just_one_page_of_its_form_the_soonest_first(full: Path) -> None:
    with paired(full, today=lambda: TODAY) as desk:
        first = page_of(desk, "/desk/binder")
        pages = [ids(page_of(desk, f"/desk/binder?form=insert&page={n}")) for n in (1, 2, 3)]
        beyond = ids(page_of(desk, "/desk/binder?form=insert&page=99"))

    assert 'href="/desk/binder?form=insert">All 12' in first
    assert "many-0" in ids(first)
    assert "late" not in ids(first)
    assert [len(page) for page in pages[:2]] == [50, 50]
    together = [each for page in pages for each in page]
    assert len(together) == len(set(together)) >= 120
    assert together[-1] == "late"
    assert beyond == pages[2]


def test_words_find_a_coupon_wherever_its_page_is(full: Path) -> None:
    with paired(full, today=lambda: TODAY) as desk:
        assert ids(page_of(desk, "/desk/binder?search=late+BLUE")) == ["late"]
        assert ids(page_of(desk, "/desk/binder?search=blue+box")) == ["late"]
        assert "No coupon has all of these words." in page_of(desk, "/desk/binder?search=zebra")
        assert len(ids(page_of(desk, "/desk/binder?form=insert&search=many&page=3"))) == 19


def test_after_a_button_she_is_on_the_page_where_she_was(full: Path) -> None:
    with paired(full, today=lambda: TODAY) as desk:
        shown = page_of(desk, "/desk/binder?form=insert&page=2&search=many")
        back = re.search(r'name="back" value="([^"]+)"', shown)
        assert back
        sent = {"do": "more", "back": html.unescape(back[1])}
        address = "/desk/binder/coupons/many-60"
        answer = desk.post(address, data=sent, follow_redirects=False)
        assert answer.headers["location"] == "/desk/binder?form=insert&page=2&search=many#coupon-many-60"
        elsewhere = desk.post(
            address, data={"do": "more", "back": "//elsewhere.example/?form=x&next=y"}, follow_redirects=False
        )
        assert elsewhere.headers["location"] == "/desk/binder#coupon-many-60"


# --- papers ---------------------------------------------------------------------------


def test_papers_stand_with_store_value_and_last_day(desk: Client) -> None:
    page = words(desk, "/desk/binder")
    assert "Reward slips Alder Row Grocers until 2 December Typed in at home $3.00" in page
    assert "Gift cards Birchwell Market Typed in at home $25.00" in page
    assert "Rain checks Wickel rolled oats Alder Row Grocers; until 8 December 2 at $2.49" in page


def test_a_slip_that_a_register_printed_comes_by_itself(desk: Client) -> None:
    phone = bring_trip(desk, slip=True)
    phone.sync(phone.event(soaps_bought(0, slip=True)))
    page = words(desk, "/desk/binder")
    assert (
        "Alder Row Grocers until 6 December Printed by transaction 1 at Alder Row Grocers, 26 November $1.00"
        in page
    )


@pytest.mark.parametrize(
    ("slug", "fields", "shown"),
    [
        ("slips", {"cents": "2.00", "until": "2026-12-24"}, "Birchwell Market until 24 December"),
        ("gift-cards", {"cents": "10"}, "Birchwell Market Typed in at home $10.00"),
        (
            "rain-checks",
            {"product": "lathrin", "cents": "1.99", "units": "3", "until": ""},
            "Lathrin soap, 4 bars Birchwell Market; no last day 3 at $1.99",
        ),
    ],
)
def test_papers_are_typed_in_changed_and_taken_out(
    desk: Client, slug: str, fields: dict[str, str], shown: str
) -> None:
    sent = {"store": "birch", **fields}
    desk.post(f"/desk/binder/{slug}/new", data=sent)
    assert shown in words(desk, "/desk/binder")
    one = {"slips": "slip", "gift-cards": "gift-card", "rain-checks": "rain-check"}[slug]
    address = f"/desk/binder/{slug}/{one}-birch"
    form = desk.get(address).text
    revision = re.search(r'name="revision" value="(\d+)"', form)
    assert revision
    changed = desk.post(address, data={**sent, "cents": "0.77", "revision": revision[1]})
    assert "$0.77" in changed.text
    raced = desk.post(address, data={**sent, "cents": "0.99", "revision": revision[1]})
    assert raced.status_code == 400
    assert "changed meanwhile" in raced.text
    assert 'value="0.99"' in raced.text
    desk.post(address, data={"do": "remove"})
    assert "$0.77" not in words(desk, "/desk/binder")
    assert desk.get(address).status_code == 404


def test_a_form_that_is_turned_down_keeps_what_was_typed_and_names_every_field(desk: Client) -> None:
    answer = desk.post(
        "/desk/binder/rain-checks/new",
        data={
            "store": "nowhere",
            "product": "dabwick",
            "cents": "a lot",
            "units": "0",
            "until": "2026-02-30",
        },
    )
    assert answer.status_code == 400
    page = html.unescape(answer.text)
    for told in (
        "there is no such store",
        "which of the 2 is meant?",
        "write digits with a point",
        "a whole number from 1 to 10000",
        "no such day in the calendar",
    ):
        assert told in page
    assert 'value="dabwick"' in page
    assert 'value="a lot"' in page
    assert 'name="chosen" value="towels-2"' in page
    chosen = {"store": "birch", "product": "dabwick", "chosen": "towels-2", "cents": "1", "units": "1"}
    desk.post("/desk/binder/rain-checks/new", data=chosen)
    assert "Dabwick paper towels, 2 rolls Birchwell Market; no last day 1 at $1.00" in words(
        desk, "/desk/binder"
    )


def test_names_of_offers_are_data(desk: Client) -> None:
    desk.post("/desk/settings", data={"currency": "USD", "region": "<script>alert(1)</script>"})
    assert "<script>alert" not in desk.get("/desk/settings").text


# --- the calendar ---------------------------------------------------------------------


def events(text: str) -> list[Any]:
    """The events of a calendar file, as the library reads them."""
    return list(icalendar.Calendar.from_ical(text).walk("VEVENT"))  # pyright: ignore[reportUnknownMemberType]  # its looseness


def test_the_page_tells_the_next_weeks_day_by_day(desk: Client) -> None:
    page = words(desk, "/desk/calendar")
    assert (
        "Saturday, 28 November in 2 days coupon Last day of the coupon 50 cents off one Lathrin soap" in page
    )
    assert (
        "Tuesday, 1 December in 5 days percent offer Last day of the percent offer 10 % off the whole aisle."
        in page
    )
    assert "slip Last day of the slip of $3.00: Alder Row Grocers." in page
    assert "Rain check ends: 2 × Wickel rolled oats at $2.49, Alder Row Grocers." in page
    assert "25 cents off Wickel oats" not in page


def test_a_coupon_that_is_used_up_is_not_due_any_more(desk: Client) -> None:
    act(desk, "soap-50", "thrown")
    assert "(soap-50)" not in words(desk, "/desk/calendar")


def test_the_file_reminds_as_many_days_before_as_the_settings_say(desk: Client) -> None:
    desk.post("/desk/settings", data={"currency": "USD", "remind_days": "5"})
    answer = desk.get("/desk/calendar.ics")
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    assert "counterfoil.ics" in answer.headers["content-disposition"]
    found = {event["summary"]: event for event in events(answer.text)}
    slip = found["Last day of the slip of $3.00: Alder Row Grocers."]
    assert slip.decoded("dtstart") == date.fromisoformat(TODAY) + timedelta(days=6)
    [alarm] = slip.walk("VALARM")
    assert alarm.decoded("trigger") == timedelta(days=-5)


def address_of_feed(desk: Client) -> str:
    """The path of a feed that was just made, as the page tells it this once."""
    page = desk.post("/desk/calendar/feed").text
    told = re.search(r"<code>http://desk\.localhost(/calendar/[\w-]{43}\.ics)</code>", page)
    assert told, page
    return told[1]


def test_who_knows_the_feeds_address_needs_no_key_and_gets_nothing_else(
    desk: Client, stranger: Client
) -> None:
    feed = address_of_feed(desk)
    assert len(events(stranger.get(feed).text)) == len(events(desk.get("/desk/calendar.ics").text)) > 3
    assert stranger.get("/desk/calendar").status_code == 401
    assert stranger.get("/desk/calendar.ics").status_code == 401
    assert feed not in desk.get("/desk/calendar").text


def test_another_feed_or_none_ends_the_one_before(desk: Client, stranger: Client) -> None:
    first = address_of_feed(desk)
    second = address_of_feed(desk)
    assert stranger.get(first).status_code == 404
    assert stranger.get(second).status_code == 200
    desk.post("/desk/calendar/feed/revoke")
    assert stranger.get(second).status_code == 404
    assert "There is no such address yet." in words(desk, "/desk/calendar")


@pytest.mark.parametrize("name", ["x.ics", ".ics", "x", "%00.ics", "ü.ics"])
def test_without_the_key_there_is_no_calendar(desk: Client, stranger: Client, name: str) -> None:
    assert stranger.get(f"/calendar/{name}").status_code == 404
    address_of_feed(desk)
    assert stranger.get(f"/calendar/{name}").status_code == 404


def test_the_feeds_key_is_kept_as_a_hash_and_not_logged(
    desk: Client,
    stranger: Client,
    data: Path,
    caplog: pytest.LogCaptureFixture,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    feed = address_of_feed(desk)
    key = feed.removeprefix("/calendar/").removesuffix(".ics")
    assert all(key.encode() not in path.read_bytes() for path in data.iterdir())

    def fail(*_: object, **__: object) -> None:
        raise ZeroDivisionError("a fault")

    monkeypatch.setattr("counterfoil.routes.calendar.as_calendar", fail)
    assert stranger.get(feed).status_code == 500
    ours = "\n".join(record.getMessage() for record in caplog.records if record.name != "httpx")
    assert "/calendar/... failed" in ours
    assert key not in ours


def test_only_an_owner_makes_or_ends_a_feed(data: Path) -> None:
    with paired(data, "phone", today=lambda: TODAY) as phone:
        assert phone.post("/desk/calendar/feed").status_code == 403
        assert phone.post("/desk/calendar/feed/revoke").status_code == 403
        assert "An owner's device can make or revoke one." in words(phone, "/desk/calendar")


@pytest.fixture
def stranger(desk: Client) -> Client:
    """Somebody in the same network, without a key."""
    other = type(desk)(desk.app, base_url="http://desk.localhost", raise_server_exceptions=False)  # pyright: ignore[reportUnknownMemberType,reportUnknownArgumentType]  # the client's own looseness
    return other
