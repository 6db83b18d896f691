"""Barcodes by photo or by their digits: a coupon decoded whole into a card, a product found or begun."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.engine.offers import Asks, CentsOff, Coupon, FreeItem, Product
from tests.intake.published_codes import C4, OWN, PUBLISHED
from tests.intake.test_symbols import drawn, photo, stacked

from .at_the_desk import BASICS, PAGE, Desk, at_the_desk, typed, words
from .test_offers_pasted import ADDRESS, keys

MADE_BY = Product(id="of-the-company", description="Pinder jam, plum", gtin="614141000012")


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    with at_the_desk(tmp_path / "data", [*BASICS, MADE_BY]) as desk:
        yield desk


@pytest.fixture(scope="module")
def one_desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    with at_the_desk(tmp_path_factory.mktemp("fuzz") / "data") as desk:
        yield desk


def upload(desk: Desk, picture: bytes, status: int = 200) -> str:
    answer = desk.client.post(
        "/desk/offers/photo", files={"photo": ("photo.png", picture, "image/png")}, headers=PAGE
    )
    assert answer.status_code == status, words(answer.text)
    return answer.text


def by_digits(desk: Desk, digits: str, status: int = 200) -> str:
    return desk.send("/desk/offers/digits", {"digits": digits}, status=status)


def coupon_code(until: str = "261231", serial: str = "") -> str:
    """$1.00 off 1 of family 000 of company 0614141, offer 654321. GS1 AI (8110), as OWN has it."""
    # company VLI 1 + 7 digits; offer code; save value VLI 3 "100"; requirement VLI 1 "1", code 0, family 000
    body = "1" + "0614141" + "654321" + "3" + "100" + "1" + "1" + "0" + "000" + "3" + until
    return "8110" + body + (f"5{len(serial) - 6}{serial}" if serial else "")


def test_a_photo_of_a_coupon_becomes_a_card_in_words(one_desk: Desk) -> None:
    page = words(upload(one_desk, photo(stacked(C4))))
    assert "one of family 120 free, up to $0.89, when you buy 1 of family 120 and" in page
    assert "It expired on 31 December 2010." in page
    assert "Either requirement will do: choose the one that you will buy." in page
    assert one_desk.kept().coupons == {}


@pytest.mark.parametrize("digits", [*PUBLISHED.values(), *OWN.values()])
def test_every_published_code_is_shown_without_a_fault(one_desk: Desk, digits: str) -> None:
    page = by_digits(one_desk, f"8110{digits}")
    assert len(keys(page)) == 1
    form = one_desk.send(ADDRESS, {**typed(page), "do": f"form:{keys(page)[0]}"})
    assert 'action="/desk/offers/coupon/new"' in form


def test_a_coupon_is_kept_with_its_code_and_its_products_chosen_by_hand(desk: Desk) -> None:
    page = by_digits(desk, coupon_code())
    fields, [key] = typed(page), keys(page)
    assert "Pinder jam, plum" in words(page), "its number begins with the company's prefix"
    assert f"{key}-products-0" not in fields, "but family codes are the maker's own: nothing is ticked"
    page = desk.send(ADDRESS, {**fields, "form": "insert", "do": f"take:{key}"}, status=400)
    assert "choose the products that its words name" in words(page)
    chosen = {f"{key}-products-0": "of-the-company", "form": "insert", "do": f"take:{key}"}
    desk.send(ADDRESS, {**fields, **chosen})
    [coupon] = desk.kept().coupons.values()
    assert (coupon.legible, coupon.gives, coupon.until) == (
        "0614141-654321",
        CentsOff(cents=100),
        "2026-12-31",
    )
    assert coupon.id == coupon_code().replace("8110", "8110-", 1)


def test_a_coupon_that_is_in_the_binder_is_known_again(desk: Desk) -> None:
    keep(desk, coupon_code())
    page = by_digits(desk, coupon_code())
    assert "A coupon with this code is in the binder already: raise its copies" in words(page)
    assert "The one in the binder" in words(page)
    assert "take:c" not in page, "there is nothing to keep"


def test_a_copied_serial_number_is_told_as_fraud(desk: Desk) -> None:
    keep(desk, coupon_code(serial="123456"))
    page = words(by_digits(desk, coupon_code(until="271231", serial="123456")))
    assert "Serial number 123456 is in the binder already. A copied coupon is fraud." in page


def test_the_same_code_on_a_coupon_that_was_typed_in_is_told(tmp_path: Path) -> None:
    typed_in = Coupon(
        id="by-hand",
        description="Jam, by hand",
        issuer="manufacturer",
        form="insert",
        gives=FreeItem(),
        asks=(Asks(products=("oats",)),),
        legible="0614141-654321",
    )
    with at_the_desk(tmp_path / "data", [*BASICS, typed_in]) as desk:
        assert "“Jam, by hand” in the binder has the same code" in words(by_digits(desk, coupon_code()))


def test_whether_it_expired_goes_by_the_servers_own_day(one_desk: Desk) -> None:
    assert "It expired on 4 December" in words(by_digits(one_desk, coupon_code(until="261204")))
    assert "It expired" not in words(by_digits(one_desk, coupon_code(until="261205")))


def test_a_known_product_is_named_and_leads_to_a_tag_and_a_coupon_for_it(one_desk: Desk) -> None:
    page = upload(one_desk, photo(drawn("012345000065", zxingcpp.BarcodeFormat.UPCA)))
    assert "Nimbelle bar soap" in words(page)
    assert 'href="/desk/offers/price/new?products=soap"' in page
    assert 'href="/desk/offers/coupon/new?products-0=soap"' in page


def test_a_new_product_begins_with_its_number(desk: Desk) -> None:
    page = by_digits(desk, "7300011000017")
    assert "A product that is new here." in words(page)
    assert 'href="/desk/offers/product/new?gtin=07300011000017"' in page
    desk.send("/desk/offers/product/new", {"description": "Suddry soap", "gtin": "07300011000017"})
    assert "Suddry soap" in words(by_digits(desk, "7300011000017"))


def test_a_upc_e_is_kept_as_the_number_that_it_stands_for(desk: Desk) -> None:
    page = words(by_digits(desk, "01234565"))
    assert "Nimbelle bar soap" in page
    desk.send("/desk/offers/product/new", {"description": "The same", "gtin": "01234565"})
    assert desk.kept().products["the-same"].gtin == "012345000065"


def test_several_barcodes_on_one_photo_are_each_told(one_desk: Desk) -> None:
    soap = drawn("012345000065", zxingcpp.BarcodeFormat.UPCA)
    other = drawn("https://example.org", zxingcpp.BarcodeFormat.QRCode)
    page = words(upload(one_desk, photo(stacked(C4), soap, other)))
    assert "Nimbelle bar soap" in page
    assert "To confirm: 1" in page
    assert "https://example.org No coupon and no product" in page


def test_a_paperless_coupon_has_its_identifiers_only(one_desk: Desk) -> None:
    page = words(by_digits(one_desk, "8112" + "0" + "1" + "0614141" + "654321" + "0" + "123456"))
    assert "A paperless coupon: company 0614141, offer 654321, serial number 123456." in page
    assert "Its value and terms are not in the barcode." in page


@pytest.mark.parametrize(
    ("digits", "mend"),
    [
        ("", "the 8, 12, 13 or 14 digits"),
        ("012345000066", "the last digit does not fit the others"),
        ("12345", "count them again"),
        ("81101061414", "read the symbol again"),
        ("8110" + "9" * 30, "company prefix"),
        ("8112", "type the digits of the coupon"),
        ("x" * 300, "a coupon code has digits only"),
    ],
)
def test_digits_that_are_no_code_are_told_beside_them(one_desk: Desk, digits: str, mend: str) -> None:
    page = by_digits(one_desk, digits, status=400)
    assert mend in words(page)
    assert 'aria-invalid="true"' in page


def test_a_phone_may_take_a_new_photo_or_choose_one_that_it_has(one_desk: Desk) -> None:
    page = one_desk.open("/desk/offers/photo")
    assert 'accept="image/*"' in page
    assert "capture" not in page  # with it, a phone opens its camera and offers nothing else


def test_a_photo_without_a_barcode_and_none_at_all_are_told(one_desk: Desk) -> None:
    blank = io.BytesIO()
    drawn("012345000065", zxingcpp.BarcodeFormat.UPCA).crop((0, 0, 5, 5)).save(blank, "PNG")
    assert "no barcode" in words(upload(one_desk, blank.getvalue(), status=400))
    assert "choose a photo" in words(upload(one_desk, b"", status=400))
    answer = one_desk.client.post("/desk/offers/photo", data={"photo": "a text"}, headers=PAGE)
    assert answer.status_code == 400
    assert "choose a photo" in words(answer.text)


def keep(desk: Desk, digits: str) -> None:
    page = by_digits(desk, digits)
    [key] = keys(page)
    chosen = {f"{key}-products-0": "of-the-company", "form": "insert", "do": f"take:{key}"}
    desk.send(ADDRESS, {**typed(page), **chosen})


WHOLE = photo(drawn("012345000065", zxingcpp.BarcodeFormat.UPCA))


@settings(max_examples=60, deadline=None)
@given(
    st.one_of(
        st.binary(max_size=300),
        st.binary(max_size=60).map(lambda rest: WHOLE[:33] + rest),
        st.integers(0, len(WHOLE)).map(lambda end: WHOLE[:end]),
        st.tuples(st.integers(0, len(WHOLE) - 1), st.integers(0, 255)).map(
            lambda at: WHOLE[: at[0]] + bytes([at[1]]) + WHOLE[at[0] + 1 :]
        ),
        st.sampled_from((b"GIF89a", b"RIFF\x00\x00\x00\x00WEBP", b"BM", b"\xff\xd8\xff\xe0")).flatmap(
            lambda head: st.binary(max_size=100).map(lambda rest: head + rest)
        ),
    )
)
def test_no_picture_is_a_fault_of_ours(one_desk: Desk, picture: bytes) -> None:
    answer = one_desk.client.post("/desk/offers/photo", files={"photo": ("p.png", picture)}, headers=PAGE)
    assert answer.status_code in (200, 400), answer.text
    if answer.status_code == 400:
        assert "No barcode was read." in words(answer.text)


@settings(max_examples=60, deadline=None)
@given(st.one_of(st.text(max_size=90), st.from_regex(r"811[02][0-9]{10,70}", fullmatch=True)))
def test_no_digits_are_a_fault_of_ours(one_desk: Desk, digits: str) -> None:
    sent = digits.encode("utf-8", "replace").decode()
    answer = one_desk.client.post("/desk/offers/digits", data={"digits": sent}, headers=PAGE)
    assert answer.status_code in (200, 400), answer.text


@settings(max_examples=40, deadline=None)
@given(
    st.binary(max_size=400), st.sampled_from(("multipart/form-data; boundary=x", "multipart/form-data", ""))
)
def test_no_broken_upload_is_a_fault_of_ours(one_desk: Desk, body: bytes, kind: str) -> None:
    answer = one_desk.client.post("/desk/offers/photo", content=body, headers={**PAGE, "Content-Type": kind})
    assert answer.status_code == 400, answer.text
