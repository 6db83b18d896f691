"""A photo gives the digits that its barcode was drawn from, or says why not: there and back by zxing-cpp."""

from __future__ import annotations

import io
from typing import Any

import pytest
import zxingcpp
from PIL import Image

from counterfoil.intake.bad_input import BadInput
from counterfoil.intake.pictures import LARGEST_PICTURE, MOST_PIXELS
from counterfoil.intake.symbols import Symbol, read_photo

from .published_codes import C4, C6, OWN, PUBLISHED, T2

DRAWING: Any = zxingcpp  # its types leave open what an image is


def drawn(content: str, form: zxingcpp.BarcodeFormat, scale: int = 3) -> Image.Image:
    image = DRAWING.create_barcode(content, form).to_image(scale=scale)
    height, width = image.shape
    return Image.frombytes("L", (width, height), bytes(memoryview(image)))


def photo(*pictures: Image.Image, kind: str = "PNG", turned: int = 0) -> bytes:
    """The pictures one above the other on a white sheet, as a file."""
    width = max(picture.width for picture in pictures) + 80
    sheet = Image.new("L", (width, sum(picture.height + 60 for picture in pictures) + 60), 255)
    top = 60
    for picture in pictures:
        sheet.paste(picture, (40, top))
        top += picture.height + 60
    if turned:
        sheet = sheet.rotate(turned, expand=True, fillcolor=255)
    file = io.BytesIO()
    sheet.save(file, kind)
    return file.getvalue()


def stacked(digits: str) -> Image.Image:
    return drawn(f"[8110]{digits}", zxingcpp.BarcodeFormat.DataBarExpStk)


@pytest.mark.parametrize("digits", [*PUBLISHED.values(), *OWN.values()])
def test_coupon_drawn_as_databar_expanded_stacked_is_read_again(digits: str) -> None:
    (symbol,) = read_photo(photo(stacked(digits)))
    assert (symbol.kind, symbol.digits) == ("coupon", f"8110{digits}")
    assert symbol.symbology == "DataBar Expanded Stacked"


def test_jpeg_taken_sideways_is_read() -> None:
    (symbol,) = read_photo(photo(stacked(C4), kind="JPEG", turned=90))
    assert symbol.digits == f"8110{C4}"


@pytest.mark.parametrize(
    ("content", "form", "gtin"),
    [
        ("012345000065", zxingcpp.BarcodeFormat.UPCA, "00012345000065"),
        ("01234565", zxingcpp.BarcodeFormat.UPCE, "00012345000065"),
        ("7300011000017", zxingcpp.BarcodeFormat.EAN13, "07300011000017"),
        ("50000005", zxingcpp.BarcodeFormat.EAN8, "00000050000005"),
        ("[01]07300011000017", zxingcpp.BarcodeFormat.DataBarOmni, "07300011000017"),
    ],
)
def test_product_is_read_into_fourteen_digits(content: str, form: zxingcpp.BarcodeFormat, gtin: str) -> None:
    (symbol,) = read_photo(photo(drawn(content, form)))
    assert symbol.kind == "product"
    assert symbol.product is not None
    assert symbol.product.gtin == gtin


def test_coupon_comes_before_the_product_beside_it() -> None:
    product = drawn("7300011000017", zxingcpp.BarcodeFormat.EAN13)
    kinds = [symbol.kind for symbol in read_photo(photo(product, stacked(C6)))]
    assert kinds == ["coupon", "product"]


def test_two_coupons_one_above_the_other_are_both_sound_and_what_is_made_of_their_rows_is_not() -> None:
    symbols = read_photo(photo(stacked(C6), stacked(T2)))
    assert {symbol.digits for symbol in symbols if symbol.sound} == {f"8110{C6}", f"8110{T2}"}


def test_paperless_coupon_is_told_apart() -> None:
    symbols = read_photo(photo(drawn("[8112]0106141416543210123456", zxingcpp.BarcodeFormat.DataBarExpStk)))
    assert symbols == (
        Symbol(
            kind="paperless_coupon",
            digits="81120106141416543210123456",
            symbology="DataBar Expanded Stacked",
        ),
    )


def test_other_barcode_is_shown_as_it_is() -> None:
    (symbol,) = read_photo(photo(drawn("just a note", zxingcpp.BarcodeFormat.QRCode)))
    assert (symbol.kind, symbol.digits) == ("other", "just a note")


def broken_png() -> bytes:
    whole = photo(stacked(C6))
    return whole[: len(whole) // 2]


@pytest.mark.parametrize(
    ("data", "value"),
    [
        (b"", "an empty file"),
        (b"not a picture at all", "no picture that can be opened"),
        (b"\x89PNG\r\n\x1a\n", "no picture that can be opened"),
        (b"\xff\xd8\xff\xe0" + bytes(200), "no picture that can be opened"),
        (broken_png(), "no picture that can be opened"),
        (bytes(LARGEST_PICTURE + 1), f"{LARGEST_PICTURE + 1} bytes"),
        (photo(Image.new("L", (300, 200), 255)), "no barcode"),
    ],
    ids=["empty", "text", "header only", "broken jpeg", "cut off", "too many bytes", "blank"],
)
def test_photo_that_cannot_be_read_says_why(data: bytes, value: str) -> None:
    with pytest.raises(BadInput) as raised:
        read_photo(data)
    (finding,) = raised.value.findings
    assert (finding.field, finding.value) == ("photo", value)
    assert finding.mend


def test_small_file_that_unfolds_into_a_huge_picture_is_refused_by_its_header() -> None:
    file = io.BytesIO()
    side = 8_000
    assert side * side > MOST_PIXELS
    Image.new("1", (side, side), 1).save(file, "PNG")
    with pytest.raises(BadInput, match="at most 60 million"):
        read_photo(file.getvalue())
