"""The barcodes in a photo: found by zxing-cpp, read here as a coupon's or a product's.

    read_photo(bytes of a PNG or JPEG)  ->  (Symbol(kind="coupon", digits="8110106141...", ...),)

zxing-cpp knows pixels, not files, so Pillow opens the photo. Nothing is kept of either.
"""

from __future__ import annotations

import io
import warnings
from typing import Literal

import msgspec
import zxingcpp
from PIL import Image

from .bad_input import BadInput, Finding
from .product_code import ProductCode, read_product_code

LARGEST_PHOTO = 20_000_000  # bytes; a phone's full-size JPEG has 3 to 12 million
MOST_PIXELS = 60_000_000  # a small file can unfold into a huge picture: told by its header, before that
MOST_SYMBOLS = 40
_KINDS_OF_PICTURE = ("PNG", "JPEG", "WEBP", "GIF", "BMP")
_COUPON = ("8110", "8112")

SymbolKind = Literal["coupon", "paperless_coupon", "product", "other"]


class Symbol(msgspec.Struct, frozen=True, kw_only=True):
    """One barcode: what it is of, its ``digits`` (of a GS1 symbol the element string), how it is drawn
    (``symbology``), and the ``product`` where it is one's number."""

    kind: SymbolKind
    digits: str
    symbology: str
    product: ProductCode | None = None


def read_photo(photo: bytes) -> tuple[Symbol, ...]:
    """Every barcode in ``photo``, coupons first, each once. Raises ``BadInput`` when there is none."""
    picture = _open(photo)
    found = zxingcpp.read_barcodes(picture, text_mode=zxingcpp.TextMode.Plain)
    symbols = {
        (symbol.kind, symbol.digits): symbol
        for symbol in (_symbol_of(barcode) for barcode in found[:MOST_SYMBOLS])
    }
    if not symbols:
        raise _bad(
            "no barcode",
            "take the photo from closer and straight above, sharp and in even light, or type the digits",
        )
    order: tuple[SymbolKind, ...] = ("coupon", "paperless_coupon", "product", "other")
    return tuple(sorted(symbols.values(), key=lambda symbol: order.index(symbol.kind)))


def _open(photo: bytes) -> Image.Image:
    """The picture in grey. Raises ``BadInput`` for what is no picture, cut off, or too large to unfold."""
    if not photo:
        raise _bad("an empty file", "choose a photo of the barcode")
    if len(photo) > LARGEST_PHOTO:
        raise _bad(f"{len(photo)} bytes", f"a photo has at most {LARGEST_PHOTO}: cut it down to the barcode")
    try:
        with warnings.catch_warnings():
            # Pillow warns of large pictures; the limit here is ours and refuses.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(photo), formats=_KINDS_OF_PICTURE) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    raise _bad(
                        f"{picture.width} x {picture.height} pixels",
                        f"a photo has at most {MOST_PIXELS // 1_000_000} million: cut it down to the barcode",
                    )
                return picture.convert("L")
    except (OSError, ValueError, SyntaxError, EOFError, Image.DecompressionBombError, MemoryError):
        # What Pillow raises for a file that is no picture, or a broken one.
        raise _bad("no picture that can be opened", "choose a photo as PNG or JPEG, whole") from None


def _symbol_of(barcode: zxingcpp.Barcode) -> Symbol:
    text, symbology = barcode.text, str(barcode.format)
    digits = text.replace("\x1d", "") if barcode.content_type == zxingcpp.ContentType.GS1 else text
    if barcode.content_type == zxingcpp.ContentType.GS1 and digits.startswith(_COUPON):
        kind: SymbolKind = "coupon" if digits.startswith("8110") else "paperless_coupon"
        return Symbol(kind=kind, digits=digits, symbology=symbology)
    if barcode.content_type == zxingcpp.ContentType.GS1 and digits[:2] == "01" and len(digits) >= 16:
        digits = digits[2:16]  # AI (01): the number of a trade item
    product = read_product_code(digits)  # a UPC-E comes as the UPC-A that it stands for
    if isinstance(product, ProductCode):
        return Symbol(kind="product", digits=digits, symbology=symbology, product=product)
    return Symbol(kind="other", digits=text, symbology=symbology)


def _bad(value: str, mend: str) -> BadInput:
    return BadInput(Finding(field="photo", value=value, mend=mend))
