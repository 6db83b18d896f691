"""A table comes in through the Desk: looked at first, then taken in whole, or not at all, and back again."""

from __future__ import annotations

import asyncio
import re
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

from counterfoil.home.tables import TABLE_KINDS
from counterfoil.importing import Weighed, weigh_file
from counterfoil.passing import KEPT_SECONDS, Passing, PassingFiles
from counterfoil.store import imported
from counterfoil.tables_out import EXAMPLES

from .conftest import Client, paired

HERE = "/desk/offers/import"
STORES = "id,name\nalder,Alder Row Grocers\nbittern,Bittern Lane Drugs\n"
PRODUCTS = "id,description,size,unit\noats,Wickel rolled oats,500,g\n"
COUPONS = (
    "id,description,issuer,form,gives,amount,products,until\n"
    "oats-50,50 off,manufacturer,insert,cents off,0.50,oats,2026-12-31\n"
)
HISTORY = "product,store,day,price\noats,alder,2026-01-05,3.49\noats,alder,2026-01-12,2.99\n"


def send(client: Client, table: str | bytes, kind: str = "", name: str = "table.csv") -> Any:
    """The page after a file was sent."""
    return client.post(HERE, data={"kind": kind}, files={"table": (name, table, "text/csv")})


def take_in(client: Client, preview: Any, **ticked: str) -> Any:
    """The page after the preview was confirmed."""
    seen = re.search(r'name="seen" value="([0-9a-f]+)"', preview.text)
    assert seen, preview.text
    return client.post(str(preview.url.copy_with(query=None)), data={"seen": seen[1]} | ticked)


def bring_in(client: Client, *tables: str) -> Any:
    """The last page after tables were sent and confirmed, one after the other."""
    page = None
    for table in tables:
        page = take_in(client, send(client, table))
        assert "taken in" in page.text, page.text
    return page


def ids(client: Client, kind: str) -> Sequence[str]:
    """The first cells of a kind's table."""
    lines = client.get(f"{HERE}/export/{kind}.csv").text.splitlines()[1:]
    return [line.split(",")[0] for line in lines]


def test_nothing_is_written_until_it_is_confirmed_and_then_all_as_one_change(client: Client) -> None:
    preview = send(client, STORES)
    assert preview.status_code == 200
    assert "Nothing was changed yet." in preview.text
    assert ids(client, "store") == []
    done = take_in(client, preview)
    assert "2 rows were taken in" in done.text
    assert ids(client, "store") == ["alder", "bittern"]
    assert "Brought in from table.csv: 2 stores" in client.get("/desk/offers").text


def test_an_import_is_taken_back_as_a_whole(client: Client) -> None:
    done = bring_in(client, STORES)
    [address] = re.findall(r'action="(/desk/offers/changes/\d+/take-back)"', done.text)
    client.post(address)
    assert ids(client, "store") == []
    assert "taken back since" in client.get(str(done.url)).text


def test_what_others_name_by_now_is_not_taken_back_from_under_them(client: Client) -> None:
    done = bring_in(client, PRODUCTS)
    bring_in(client, COUPONS)
    [address] = re.findall(r'action="(/desk/offers/changes/\d+/take-back)"', done.text)
    answer = client.post(address)
    assert answer.status_code == 400
    assert "50 off" in answer.text
    assert ids(client, "product") == ["oats"]


def test_while_a_row_is_refused_nothing_is_taken_in_unless_it_is_left_out(client: Client) -> None:
    preview = send(client, STORES + "bad id,Cormorant Market\n")
    assert preview.text.index("bad id") < preview.text.index("Alder Row Grocers")  # refused ones first
    assert "row 4" in preview.text
    refused = take_in(client, preview)
    assert refused.status_code == 409
    assert ids(client, "store") == []
    assert "2 rows were taken in" in take_in(client, refused, without="yes").text
    assert ids(client, "store") == ["alder", "bittern"]


def test_a_changed_row_tells_from_what_to_what(client: Client) -> None:
    bring_in(client, STORES)
    preview = send(client, "id,name\nalder,Alder Row Market\nbittern,Bittern Lane Drugs\n")
    assert re.search(r"<del>Alder Row Grocers</del>.*<ins>Alder Row Market</ins>", preview.text)
    assert "Take in 1 row" in preview.text


def test_what_changed_since_the_preview_is_told_and_nothing_is_written(client: Client) -> None:
    preview = send(client, STORES.replace("Grocers", "Market"))
    bring_in(client, STORES)
    late = take_in(client, preview)
    assert late.status_code == 409
    assert "Row 2, Alder Row Market: was <em>new</em>, is <em>changed</em>" in late.text
    assert "Alder Row Grocers" in client.get(f"{HERE}/export/store.csv").text
    assert "1 row was taken in" in take_in(client, late).text


def test_prices_of_the_past_come_in_go_and_come_again(client: Client) -> None:
    done = bring_in(client, STORES, PRODUCTS, HISTORY)
    assert len(ids(client, "price_history")) == 2
    assert "Every row is here already" in send(client, HISTORY).text
    number = int(re.findall(r"/changes/(\d+)/take-back", done.text)[0])
    client.post(f"/desk/offers/changes/{number}/take-back")
    assert ids(client, "price_history") == []
    client.post(f"/desk/offers/changes/{number + 1}/take-back")
    assert len(ids(client, "price_history")) == 2


def test_stock_counts_come_in(client: Client) -> None:
    bring_in(client, PRODUCTS, "product,day,units\noats,2026-11-30,4\n")
    assert client.get(f"{HERE}/export/stock.csv").text.splitlines() == [
        "product,day,units",
        "oats,2026-11-30,4",
    ]


def test_a_fault_in_the_middle_leaves_everything_as_it_was(client: Client) -> None:
    bring_in(client, STORES, PRODUCTS)
    preview = send(client, HISTORY)
    before = client.get("/desk/offers").text

    def breaks(*_: object) -> None:
        raise RuntimeError("in the middle of writing")

    with patch.object(imported, "insert", breaks):
        assert take_in(client, preview).status_code == 500
    assert client.get("/desk/offers").text == before
    assert "2 rows were taken in" in take_in(client, client.get(str(preview.url))).text


def test_a_file_is_its_senders_alone_and_forgotten_when_asked(client: Client, tmp_path: Path) -> None:
    preview = send(client, STORES)
    with paired(tmp_path / "data", role="phone") as other:
        assert other.get(str(preview.url.path)).status_code == 404
    client.post(f"{preview.url.path}/drop")
    assert client.get(str(preview.url)).status_code == 404
    assert list((tmp_path / "data" / "passing").iterdir()) == []


def test_a_file_that_nobody_confirmed_is_cleared_away_after_a_day(tmp_path: Path) -> None:
    now = [0.0]
    files = PassingFiles(tmp_path, now=lambda: now[0])
    now[0] = time.time()
    token = files.keep(Passing(device="d", name="x.csv", kind="", data=b"id\n"))
    assert files.get(token, "d") is not None
    assert files.get(token, "another") is None
    now[0] += KEPT_SECONDS + 60
    assert files.get(token, "d") is None
    files.keep(Passing(device="d", name="y.csv", kind="", data=b"id\n"))
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize(
    ("table", "words"),
    [
        (b"", "there is nothing in this file"),
        (b"id,name\nx,Caf\xe9\n", "byte 14, line 2"),
        (b"id\n" + b"x" * 5_000_001, "split the file"),
        (b"id,until\na,2026-12-31\n", "do not tell what the rows are"),
    ],
)
def test_a_file_that_cannot_be_read_is_told_on_the_form(client: Client, table: bytes, words: str) -> None:
    answer = send(client, table)
    assert answer.status_code == 400
    assert words in answer.text
    assert 'type="file"' in answer.text


def look_again(client: Client, page: Any, kind: str) -> Any:
    """The page after its form "These are" was sent."""
    [address] = re.findall(r'action="([^"]+/kind)"', page.text)
    return client.post(address, data={"kind": kind})


def test_a_table_that_fits_two_kinds_is_kept_until_she_says_which(client: Client) -> None:
    bring_in(client, STORES)
    told = send(client, "id,store,amount\ncard,alder,7.35\n")
    assert told.status_code == 400
    assert "choose one of slips, gift cards" in told.text
    assert "table.csv is still here" in told.text
    unsaid = look_again(client, told, "")
    assert unsaid.status_code == 400
    assert "choose one of the list" in unsaid.text
    preview = look_again(client, unsaid, "gift_card")
    assert "table.csv</strong>, gift cards" in preview.text
    assert "1 row was taken in" in take_in(client, preview).text
    assert ids(client, "gift_card") == ["card"]


def test_on_the_preview_the_kind_is_changed_back_and_forth_without_sending_again(
    client: Client, tmp_path: Path
) -> None:
    bring_in(client, STORES)
    preview = send(client, "id,store,amount\nten,alder,7.35\n", kind="slip")
    assert '<option value="slip" selected>' in preview.text
    cards = look_again(client, preview, "gift_card")
    assert '<option value="gift_card" selected>' in cards.text
    assert client.get(str(preview.url)).status_code == 404  # one file, under one address
    assert len(list((tmp_path / "data" / "passing").iterdir())) == 1
    wrong = look_again(client, cards, "store")  # has no name: it cannot be one
    back = look_again(client, wrong, "slip")
    assert "1 row was taken in" in take_in(client, back).text
    assert (ids(client, "slip"), ids(client, "gift_card")) == (["ten"], [])


def test_another_device_changes_the_kind_of_no_file(client: Client, tmp_path: Path) -> None:
    preview = send(client, STORES)
    with paired(tmp_path / "data", role="phone") as other:
        assert other.post(f"{preview.url.path}/kind", data={"kind": "product"}).status_code == 404
    assert "Take in 2 rows" in client.get(str(preview.url)).text


def test_a_trip_that_tells_its_kinds_is_not_asked_for_one(client: Client) -> None:
    trip = (Path(__file__).parents[2] / "demo" / "small-trip.json").read_bytes()
    preview = send(client, trip, name="trip.json")
    assert "What becomes of each row" in preview.text
    assert "Look again" not in preview.text


def test_what_stands_in_a_cell_is_text_and_never_markup(client: Client) -> None:
    preview = send(client, "id,name\nalder,<script>alert(1)</script>\n<b>,x\n")
    assert "<script>alert" not in preview.text
    assert "&lt;script&gt;" in preview.text


def test_a_long_file_is_shown_page_by_page(client: Client) -> None:
    preview = send(client, "id,name\n" + "".join(f"s{n},Store {n}\n" for n in range(250)))
    assert "Page 1 of 3" in preview.text
    assert "Store 249" in client.get(f"{preview.url.path}?page=3&show=new").text


def test_what_takes_long_goes_on_by_itself_behind_a_page_that_says_so(client: Client) -> None:
    may_go_on = threading.Event()

    async def takes_long(*asked: Any) -> Weighed:
        while not may_go_on.is_set():
            await asyncio.sleep(0.01)
        return await weigh_file(*asked)

    def said_at_once(ask: Callable[[], Any]) -> Any:
        may_go_on.clear()
        with patch("counterfoil.importing.PATIENCE_SECONDS", 0):
            page = ask()
        may_go_on.set()
        return page

    with patch("counterfoil.importing.weigh_file", takes_long):
        working = said_at_once(lambda: send(client, STORES))
        assert "goes on by itself" in working.text
        assert '<meta http-equiv="refresh"' in working.text
        preview = client.get(str(working.url))
        assert "It is being taken in." in said_at_once(lambda: take_in(client, preview)).text
        assert "2 rows were taken in" in client.get(str(preview.url)).text


def test_every_kind_has_its_columns_explained_and_an_example_that_can_be_brought_in(client: Client) -> None:
    assert list(EXAMPLES) == list(TABLE_KINDS)
    bring_in(client, STORES, PRODUCTS.replace("oats,", "oats-500,"))
    for kind in TABLE_KINDS:
        assert client.get(f"{HERE}/columns/{kind}").status_code == 200
        table = client.get(f"{HERE}/template/{kind}.csv")
        assert table.headers["content-disposition"] == f'attachment; filename="{kind}-example.csv"'
        if kind != "set_bonus":  # names a rebate that is no example
            assert "✕ Refused</dt><dd>0<" in send(client, table.content, kind).text, kind


def test_what_is_taken_away_and_brought_in_again_is_the_same(client: Client) -> None:
    formula = 'danger,"=HYPERLINK(""http://x"")"\n'
    bring_in(client, STORES + formula, PRODUCTS, COUPONS, HISTORY)
    for kind in ("store", "product", "coupon", "price_history"):
        table = client.get(f"{HERE}/export/{kind}.csv")
        assert "Every row is here already" in send(client, table.content, kind).text
    assert ",'=HYP" in client.get(f"{HERE}/export/store.csv").text.replace('"', "")


def test_confirming_twice_writes_once(client: Client) -> None:
    preview = send(client, STORES)
    take_in(client, preview)
    again = take_in(client, preview)
    assert again.status_code == 404
    assert ids(client, "store") == ["alder", "bittern"]
