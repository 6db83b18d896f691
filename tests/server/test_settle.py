"""Promise kept here: after the trip every claim, refund, slip, photo and purchase is written down once, can
be taken back, and stands in the reports; without any script.

The small trip's oats at $2.00, twice, less 50 cents: $3.50. The register showed $3.60.
"""

from __future__ import annotations

import asyncio
import csv
import io
import re
from collections.abc import Iterator, Sequence
from html.parser import HTMLParser
from http import HTTPStatus
from pathlib import Path
from typing import Any, cast

import msgspec
import pytest
from litestar import Litestar
from litestar.testing import TestClient
from PIL import Image

from counterfoil.engine.offers import Rebate, RewardOffer, ShelfPrice, Tier, Trip
from counterfoil.engine.papers import TransactionDone
from counterfoil.routes.settle.overview import TRIPS_ON_A_PAGE
from counterfoil.store.facts import StockRow
from counterfoil.store.sqlite import SqliteStore
from counterfoil.store.sqlite_facts import SqliteFacts

from .conftest import HERE, OATS, STORE, Client, Phone, paired, small_trip, transaction

TODAY = "2026-12-06"
REBATE = Rebate(id="oats-back", description="Oats, 30 cents back", cents=30, products=("oats",), limit=2)
REWARD = RewardOffer(
    id="oats-reward",
    store="alder",
    description="Two oats, a dollar back",
    kind="slip",
    tiers=(Tier(threshold=2, cents=100),),
)
TRIP = msgspec.structs.replace(small_trip(), rebates=(REBATE,), rewards=(REWARD,))
DONE = TransactionDone(
    transaction=msgspec.structs.replace(transaction(), rewards=(REWARD,)), shown_total_cents=360
)


class Page(HTMLParser):
    """The forms of a page with their hidden fields, and its text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.forms: list[dict[str, str]] = []
        self.ids: list[str] = []
        self.text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        if found.get("id"):
            self.ids.append(str(found["id"]))
        if tag == "form":
            self.forms.append({"action": found.get("action") or ""})
        elif tag == "input" and self.forms and found.get("name"):
            self.forms[-1].setdefault(str(found["name"]), found.get("value") or "")

    def form(self, key: str) -> dict[str, str]:
        """The first form of that name."""
        return next(form for form in self.forms if form.get("form") == key)


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Client]:
    """A household on the day after its trip, which went through the register at home in the evening."""
    with paired(tmp_path / "data", today=lambda: TODAY) as client:
        assert client.post("/api/trips", content=msgspec.json.encode(TRIP)).status_code == 201
        phone = Phone(client, "phone-1")
        phone.sync(phone.event(msgspec.to_builtins(DONE)))
        yield client


def page(client: Client, address: str = "/desk/settle", status: int = 200) -> Page:
    answer = client.get(address)
    assert answer.status_code == status, answer.text
    return Page(answer.text)


def send(client: Client, form: dict[str, str], **fields: str) -> Any:
    """A form of a page, sent as a browser sends it."""
    values = {name: value for name, value in form.items() if name != "action"} | fields
    return client.post(form["action"], data=values, headers={"Accept": "text/html"})


CLAIM = "claim-oats-week-oats-back"
REFUND_OF_TRIP = "/desk/trips/oats-week/settle"


def refund_key(client: Client) -> str:
    return next(key for key in page(client).ids if key.startswith("refund-") and key.count("-") > 4)


# --- what the pages show ------------------------------------------------------------


def test_the_overview_shows_all_that_is_still_to_do(desk: Client) -> None:
    text = page(desk).text

    assert "Oats, 30 cents back: $0.60" in text
    assert "by 12 December" in text
    assert "Alder Row Grocers asked for $0.10 more than the papers explain" in text
    assert "Slip of $1.00 , Alder Row Grocers, lapses after 19 December" in text
    assert "1 to claim, 1 to ask back" in text


def test_what_is_due_stands_by_day_and_sales_that_end_together_in_one_line(desk: Client) -> None:
    for number, until in enumerate(("2026-12-08", "2026-12-08", "2026-12-09")):
        goods = msgspec.structs.replace(OATS, id=f"goods-{number}", description=f"Goods {number}")
        tag = ShelfPrice(store=STORE.id, product=goods.id, cents=200, kind="sale", until=until)
        trip = Trip(
            id=f"sale-{number}",
            title="A sale",
            day="2026-12-07",
            stores=(STORE,),
            products=(goods,),
            prices=(tag,),
            wants=(),
        )
        assert desk.post("/api/trips", content=msgspec.json.encode(trip)).status_code == 201

    text = page(desk).text

    assert (
        "8 December in 2 days Last day of 2 sales at Alder Row Grocers Last day of the sale on Goods 0 at"
        " Alder Row Grocers. Last day of the sale on Goods 1 at Alder Row Grocers. 9 December in 3 days Last"
        " day of the sale on Goods 2 at Alder Row Grocers."
    ) in text


def test_older_trips_are_on_the_pages_that_follow(desk: Client) -> None:
    for number in range(TRIPS_ON_A_PAGE):
        trip = msgspec.structs.replace(
            TRIP, id=f"week-{number}", title=f"Week {number:02}", day=f"2026-11-{number + 1:02}"
        )
        assert desk.post("/api/trips", content=msgspec.json.encode(trip)).status_code == 201
        phone = Phone(desk, f"phone-{number + 2}", trip.id)
        phone.sync(phone.event(msgspec.to_builtins(DONE)))

    def listed(address: str) -> list[str]:
        return re.findall(r'<th scope="row"><a href="/desk/trips/([^"/]+)/settle">', desk.get(address).text)

    newest = [f"week-{number}" for number in reversed(range(TRIPS_ON_A_PAGE))]
    assert listed("/desk/settle") == ["oats-week", *newest[:-1]]
    assert "Page 1 of 2" in page(desk).text
    assert listed("/desk/settle?page=2") == listed("/desk/settle?page=99") == ["week-0"]


def test_a_trip_shows_its_receipt_against_the_plan(desk: Client) -> None:
    text = page(desk, REFUND_OF_TRIP).text

    assert "Alder Row Grocers, transaction 1: $3.60" in text
    assert "Planned $3.50 As its papers come to $3.50 The register showed $3.60" in text
    assert "The register showed $0.10 more than its papers come to. +$0.10" in text


def test_every_id_on_a_page_is_there_once(desk: Client) -> None:
    for address in ("/desk/settle", REFUND_OF_TRIP, "/desk/settle/purchase", "/desk/reports"):
        ids = page(desk, address).ids
        assert sorted(ids) == sorted(set(ids)), address


def test_before_any_trip_the_pages_say_so(client: Client) -> None:
    assert "Nothing waits to be claimed." in page(client).text
    assert "Nothing yet." in page(client, "/desk/reports").text


def test_a_trip_that_is_not_there_is_told(desk: Client) -> None:
    assert desk.get("/desk/trips/no-such/settle").status_code == HTTPStatus.NOT_FOUND


# --- notes --------------------------------------------------------------------------


def test_a_claim_goes_from_to_claim_to_paid(desk: Client) -> None:
    claimed = send(desk, page(desk).form(CLAIM), state="claimed", times="2")
    assert claimed.status_code == 200
    assert str(claimed.url).endswith(f"/desk/settle#{CLAIM}")
    paid = send(desk, page(desk).form(CLAIM), state="paid", times="1", cents="0.25")

    assert "claimed: 1" in Page(paid.text).text
    assert "paid: 1, $0.25" in Page(paid.text).text


def test_claiming_twice_is_turned_down_by_field_with_what_was_typed(desk: Client) -> None:
    send(desk, page(desk).form(CLAIM), state="claimed", times="2")
    answer = send(desk, page(desk).form(CLAIM), state="claimed", times="1")

    assert answer.status_code == HTTPStatus.BAD_REQUEST
    assert "That was not written down." in answer.text
    assert "How many times (1): that is noted already (2 claimed)" in Page(answer.text).text
    assert f'href="#{CLAIM}-times"' in answer.text


def test_a_form_sent_twice_is_one_note(desk: Client) -> None:
    form = page(desk).form(CLAIM)
    for _ in range(2):
        assert send(desk, form, state="claimed", times="1").status_code == 200

    assert "to claim: 1 ◐ claimed: 1" in page(desk).text


def test_a_note_taken_back_is_as_if_it_was_never_written(desk: Client) -> None:
    before = page(desk, "/desk/settle").text.split("Written down")[0]
    send(desk, page(desk).form(CLAIM), state="claimed", times="2")
    assert page(desk).text.split("Written down")[0] != before
    send(desk, page(desk).form("notes"))

    assert page(desk).text.split("Written down")[0] == before


def test_money_back_is_asked_for_and_comes(desk: Client) -> None:
    key = refund_key(desk)
    asked = send(desk, page(desk, REFUND_OF_TRIP).form(key), state="asked")
    assert "Asked Alder Row Grocers for $0.10." in Page(asked.text).text
    came = send(desk, page(desk, REFUND_OF_TRIP).form(key), state="paid", cents="0.10")

    assert "Given back since $0.10" in Page(came.text).text


def test_an_amount_that_is_none_is_told_and_kept_on_the_page(desk: Client) -> None:
    key = refund_key(desk)
    answer = send(desk, page(desk).form(key), state="asked", cents="ten cents")

    assert answer.status_code == HTTPStatus.BAD_REQUEST
    assert 'value="ten cents"' in answer.text
    assert f'id="{key}-cents-wrong"' in answer.text


def test_no_more_than_the_whole_receipt_can_come_back(desk: Client) -> None:
    key = refund_key(desk)
    for state in ("asked", "paid"):
        answer = send(desk, page(desk).form(key), state=state, cents="3.61")
        assert answer.status_code == HTTPStatus.BAD_REQUEST
        assert "the whole receipt was $3.60: no more than that can come back" in answer.text
        assert 'value="3.61"' in answer.text
        assert f'id="{key}-cents-wrong"' in answer.text
    assert send(desk, page(desk).form(key), state="asked", cents="3.60").status_code == HTTPStatus.OK


def test_a_slip_spent_elsewhere_leaves_the_wallet(desk: Client) -> None:
    slip = "slip-oats-week.oats-reward.alder.1.1"
    send(desk, page(desk).form(slip), state="spent elsewhere")

    assert "No slip, gift card or rain check." in page(desk).text


def test_time_and_remarks_belong_to_their_trip(desk: Client) -> None:
    send(desk, page(desk, REFUND_OF_TRIP).form("time"), minutes="25", words="with the bus")
    answer = send(desk, page(desk, REFUND_OF_TRIP).form("remark"), words="<b>Ask for Ada</b>")

    assert "25 minutes so far." in answer.text
    assert "&lt;b&gt;Ask for Ada&lt;/b&gt;" in answer.text
    assert "<b>Ask" not in answer.text


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"kind": "no-such-kind"}, "kind"),
        ({"note": "not an id!"}, "note"),
        ({"trip": "no-such-trip"}, "trip"),
        ({"times": "0"}, "times"),
        ({"day": "2026-12-07"}, "day"),
        ({"claim": "oats"}, "claim"),
    ],
)
def test_a_form_that_was_tampered_with_is_turned_down(
    desk: Client, fields: dict[str, str], field: str
) -> None:
    answer = send(desk, page(desk).form(CLAIM), **({"state": "claimed", "times": "1"} | fields))

    assert answer.status_code == HTTPStatus.BAD_REQUEST
    assert f'href="#{CLAIM}-{field}"' in answer.text
    assert "claimed:" not in page(desk).text


def test_nothing_is_kept_of_a_form_without_its_token(desk: Client) -> None:
    form = page(desk).form(CLAIM) | {"_csrf_token": "", "state": "claimed"}
    answer = desk.post(
        form.pop("action"),
        data=form | {"state": "claimed"},
        headers={"X-CSRFToken": "", "Accept": "text/html"},
    )

    assert answer.status_code == HTTPStatus.FORBIDDEN


# --- bought without a plan ----------------------------------------------------------

PURCHASE = {"day": "2026-12-06", "store": "alder", "product-0": "oats", "units-0": "2", "cents-0": "3.10"}


def purchase(client: Client, **fields: str) -> Any:
    form = next(f for f in page(client, "/desk/settle/purchase").forms if f["action"].endswith("/purchase"))
    return send(client, form, do="keep", **fields)


def test_an_unplanned_purchase_is_in_the_reports(desk: Client) -> None:
    answer = purchase(desk, **PURCHASE, tax="0.20", **{"product-1": "Rock sugar", "cents-1": "1.05"})

    assert "Bought without a plan at Alder Row Grocers: 3 for $4.35." in Page(answer.text).text
    trips = rows(desk, "trips")
    assert [(row["Trip"], row["Paid USD"]) for row in trips] == [
        ("Oats for the week", "3.60"),
        ("Without a plan, at Alder Row Grocers", "4.35"),
    ]


def test_an_unplanned_purchase_is_corrected_by_another_note(desk: Client) -> None:
    answer = purchase(desk, **PURCHASE)
    link = re.search(r'href="(/desk/settle/purchase/[^"]+)"', answer.text)
    assert link is not None
    form = next(f for f in page(desk, link[1]).forms if f["action"].endswith("/purchase"))
    assert (form["product-0"], form["units-0"], form["cents-0"]) == ("oats", "2", "3.10")
    send(desk, form, do="keep", store="alder", **{"cents-0": "2.90"})

    assert [row["Paid USD"] for row in rows(desk, "trips")] == ["3.60", "2.90"]
    send(desk, page(desk).form("notes"))
    assert [row["Paid USD"] for row in rows(desk, "trips")] == ["3.60"]


def test_its_packs_and_prices_are_kept_for_larder_and_price_book_until_it_is_taken_back(
    desk: Client, tmp_path: Path
) -> None:
    def moves() -> list[tuple[str, int]]:
        async def ask() -> Sequence[StockRow]:
            store = SqliteStore(tmp_path / "data")
            await store.open()
            try:
                return await SqliteFacts(store).stock_of("oats")
            finally:
                await store.close()

        return [(each.day, each.units) for each in asyncio.run(ask())]

    page(desk)
    assert moves() == [("2026-12-05", 2)]
    purchase(desk, **PURCHASE)
    assert moves() == [("2026-12-05", 2), ("2026-12-06", 2)]
    send(desk, page(desk).form("notes"))
    assert moves() == [("2026-12-05", 2)]


def test_a_purchase_that_does_not_fit_loses_nothing(desk: Client) -> None:
    answer = purchase(desk, **(PURCHASE | {"store": "", "cents-0": "a lot", "product-2": "Tea"}))

    assert answer.status_code == HTTPStatus.BAD_REQUEST
    for found in ("choose where it was bought", "write digits with a point", "write what was paid"):
        assert found in answer.text
    form = next(f for f in Page(answer.text).forms if f["action"].endswith("/purchase"))
    assert (form["cents-0"], form["product-2"]) == ("a lot", "Tea")
    assert purchase(desk, store="alder").status_code == HTTPStatus.BAD_REQUEST


def test_a_receipt_total_that_cannot_be_is_told_with_what_its_lines_come_to(desk: Client) -> None:
    answer = purchase(desk, **PURCHASE, tax="0.20", total="33.00")

    assert answer.status_code == HTTPStatus.BAD_REQUEST
    assert "the lines and the tax come to $3.30" in answer.text
    form = next(f for f in Page(answer.text).forms if f["action"].endswith("/purchase"))
    assert (form["total"], form["cents-0"], form["tax"]) == ("33.00", "3.10", "0.20")
    assert [row["Paid USD"] for row in rows(desk, "trips")] == ["3.60"]
    below = purchase(desk, **PURCHASE, total="-3.10")
    assert below.status_code == HTTPStatus.BAD_REQUEST
    assert 'value="-3.10"' in below.text
    assert purchase(desk, **PURCHASE, tax="0.20", total="3.30").status_code == HTTPStatus.OK
    assert [row["Paid USD"] for row in rows(desk, "trips")] == ["3.60", "3.30"]


def test_more_lines_keep_what_was_typed(desk: Client) -> None:
    form = next(f for f in page(desk, "/desk/settle/purchase").forms if f["action"].endswith("/purchase"))
    more = Page(send(desk, form, do="more", **PURCHASE).text)

    assert "product-7" in more.ids
    assert next(f for f in more.forms if "product-0" in f)["product-0"] == "oats"


# --- photos -------------------------------------------------------------------------


def photo() -> bytes:
    out = io.BytesIO()
    exif = Image.Exif()
    exif[0x010F] = "A phone of some make"
    Image.new("RGB", (60, 90), "white").save(out, "JPEG", exif=exif)
    return out.getvalue()


def upload(client: Client, body: bytes, **fields: str) -> Any:
    form = next(f for f in page(client, REFUND_OF_TRIP).forms if f["action"].endswith("/photos"))
    del form["photo"]  # what is chosen goes as a file
    return client.post(
        form.pop("action"),
        data=form | fields,
        files={"photo": ("receipt.jpg", body, "image/jpeg")},
        headers={"Accept": "text/html"},
    )


def test_a_photo_is_kept_without_what_the_phone_wrote_into_it(desk: Client) -> None:
    answer = upload(desk, photo(), words="crumpled")
    address = re.search(r'src="(/desk/settle/photos/[0-9a-f]{64}\.jpg)"', answer.text)
    assert address is not None, answer.text
    kept = desk.get(address[1])

    assert kept.headers["content-type"] == "image/jpeg"
    assert kept.headers["cache-control"] == "no-store"
    assert b"phone" not in kept.content
    assert Image.open(io.BytesIO(kept.content)).size == (60, 90)
    assert 'alt="Receipt, 6 December: crumpled"' in answer.text


def test_what_is_no_photo_is_told_by_its_field(desk: Client) -> None:
    answer = upload(desk, b"not a picture")

    assert answer.status_code == HTTPStatus.BAD_REQUEST
    assert "Photo (no picture that can be opened): choose a photo" in Page(answer.text).text
    assert "choose a photo of the receipt first" in upload(desk, b"").text


def test_a_photo_that_is_not_there_is_not_found(desk: Client) -> None:
    assert desk.get(f"/desk/settle/photos/{'0' * 64}.jpg").status_code == HTTPStatus.NOT_FOUND


# --- reports -----------------------------------------------------------


def rows(client: Client, name: str) -> list[dict[str, str]]:
    answer = client.get(f"/desk/reports/{name}.csv")
    assert answer.status_code == 200, answer.text
    return list(csv.DictReader(io.StringIO(answer.text, newline="")))


def test_every_report_is_a_table_and_a_file_of_the_same_rows(desk: Client) -> None:
    html = desk.get("/desk/reports").text
    names = re.findall(r'href="/desk/reports/(\w+)\.csv', html)

    assert {"weeks", "trips", "categories", "outstanding", "rebates"} <= set(names)
    for name in names:
        section = html.split(f'<section id="{name}"')[1].split("</section>")[0]
        assert section.count("<tr>") - 1 == len(rows(desk, name))
    answer = desk.get("/desk/reports/weeks.csv")
    assert answer.headers["content-disposition"] == 'attachment; filename="counterfoil-weeks.csv"'
    assert answer.headers["content-type"].startswith("text/csv")


def test_what_a_unit_costs_is_a_unit_price_on_the_page_and_a_number_for_the_chart_and_the_file(
    desk: Client,
) -> None:
    section = desk.get("/desk/reports").text.split('<section id="categories"')[1].split("</section>")[0]
    first = rows(desk, "categories")[0]
    net, measure = re.escape(first["Net per measure, USD"]), re.escape(first["Measure"])
    assert re.search(rf'data-value="{net}">[$0-9.]+¢?/{measure}</td>', section)


def test_a_report_that_is_not_there_names_those_that_are(desk: Client) -> None:
    answer = desk.get("/desk/reports/no-such.csv")

    assert answer.status_code == HTTPStatus.NOT_FOUND
    assert "weeks.csv" in answer.text


def nobody(desk: Client) -> Client:
    """Somebody without a key, at the same server."""
    app = cast("Litestar", desk.app)  # pyright: ignore[reportUnknownMemberType]  # the client's own looseness
    return TestClient(app, base_url=HERE, raise_server_exceptions=False)


def test_strangers_see_nothing_of_it(desk: Client) -> None:
    stranger = nobody(desk)
    for address in (
        "/desk/settle",
        "/desk/settle/purchase",
        "/desk/reports",
        "/desk/reports/weeks.csv",
        REFUND_OF_TRIP,
        f"/desk/settle/photos/{'0' * 64}.jpg",
    ):
        assert stranger.get(address).status_code == HTTPStatus.UNAUTHORIZED, address
    assert OATS.description not in stranger.get("/desk/settle").text
    assert STORE.name not in stranger.get(REFUND_OF_TRIP).text
