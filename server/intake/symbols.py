"""The barcodes in a photo: found by zxing-cpp, read here as a coupon's or a product's.

    read_photo(bytes of a PNG or JPEG)  ->  (Symbol(kind="coupon", digits="8110106141...", ...),)

zxing-cpp knows pixels, not files, so Pillow opens the photo. Nothing is kept of either.
"""

from __future__ import annotations

from typing import Literal

import msgspec
import zxingcpp
from PIL import Image

from .code_fields import CodeError
from .coupon_code import read_coupon_code, read_paperless_code
from .pictures import bad_picture, open_picture
from .product_code import ProductCode, read_product_code

MOST_SYMBOLS = 40
LOOKS = 3  # at one photo, where stacked symbols lie close to each other
WHITE = 255
_COUPON = ("8110", "8112")

SymbolKind = Literal["coupon", "paperless_coupon", "product", "other"]


class Symbol(msgspec.Struct, frozen=True, kw_only=True):
    """One barcode: what it is of, its ``digits`` (of a GS1 symbol the element string), how it is drawn
    (``symbology``), and the ``product`` where it is one's number.

    ``sound``: its digits are a code by the code's own syntax. Where stacked symbols lie close to each
    other, rows of two may be joined to a third that is none: it has ``sound`` False and stands last.
    """

    kind: SymbolKind
    digits: str
    symbology: str
    product: ProductCode | None = None
    sound: bool = True


def read_photo(photo: bytes) -> tuple[Symbol, ...]:
    """Every barcode in ``photo``, each once: coupons, products, others. ``BadInput`` when there is none."""
    symbols = _look(_open(photo))
    if not symbols:
        raise bad_picture(
            "no barcode",
            "take the photo from closer and straight above, sharp and in even light, or type the digits",
        )
    order: tuple[SymbolKind, ...] = ("coupon", "paperless_coupon", "product", "other")
    return tuple(sorted(symbols.values(), key=lambda symbol: (not symbol.sound, order.index(symbol.kind))))


def _look(picture: Image.Image) -> dict[tuple[SymbolKind, str], Symbol]:
    """The symbols in ``picture``. As long as one is not sound, the sound ones are painted over (in
    ``picture`` itself) and it is looked at again: rows that were joined wrongly may then be one symbol."""
    sound: dict[tuple[SymbolKind, str], Symbol] = {}
    unsound: dict[tuple[SymbolKind, str], Symbol] = {}
    for _look_again in range(LOOKS):
        unsound = {}
        found = zxingcpp.read_barcodes(picture, text_mode=zxingcpp.TextMode.Plain)
        for barcode in found[:MOST_SYMBOLS]:
            symbol = _symbol_of(barcode)
            (sound if symbol.sound else unsound)[(symbol.kind, symbol.digits)] = symbol
            if symbol.sound:
                corners = barcode.position
                places = (corners.top_left, corners.top_right, corners.bottom_right, corners.bottom_left)
                left, right = min(place.x for place in places), max(place.x for place in places)
                top, bottom = min(place.y for place in places), max(place.y for place in places)
                picture.paste(WHITE, (left, top, right + 1, bottom + 1))
        if not unsound:
            break
    return sound | unsound


def _open(photo: bytes) -> Image.Image:
    """The picture in grey."""
    return open_picture(
        photo,
        lambda picture: picture.convert("L"),
        of="the barcode",
        smaller="cut it down to the barcode",
    )


def _symbol_of(barcode: zxingcpp.Barcode) -> Symbol:
    text, symbology = barcode.text, str(barcode.format)
    digits = text.replace("\x1d", "") if barcode.content_type == zxingcpp.ContentType.GS1 else text
    if barcode.content_type == zxingcpp.ContentType.GS1 and digits.startswith(_COUPON):
        if digits.startswith("8110"):
            kind: SymbolKind = "coupon"
            code = read_coupon_code(digits)
        else:
            kind = "paperless_coupon"
            code = read_paperless_code(digits)
        sound = not isinstance(code, CodeError)
        return Symbol(kind=kind, digits=digits, symbology=symbology, sound=sound)
    if barcode.content_type == zxingcpp.ContentType.GS1 and digits[:2] == "01" and len(digits) >= 16:
        digits = digits[2:16]  # AI (01): the number of a trade item
    product = read_product_code(digits)  # a UPC-E comes as the UPC-A that it stands for
    if isinstance(product, ProductCode):
        return Symbol(kind="product", digits=digits, symbology=symbology, product=product)
    return Symbol(kind="other", digits=text, symbology=symbology)
