"""The number of a product: UPC-A, UPC-E, EAN-8, EAN-13, GTIN-14, checked and brought to one form.

    read_product_code("012345000065")  ->  ProductCode(gtin="00012345000065", kind="UPC-A", ...)
    read_product_code("01234565")      ->  ProductCode(gtin="00012345000065", kind="UPC-E", ...)

Stored form: padded on the left with zeros to 14 digits, which does not change the check digit.
Sources: GS1 General Specifications (check digit, restricted circulation numbers); the zero expansion of
UPC-E as printed in barcode readers' manuals.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from ..engine.gtin import check_digit_holds
from .bad_input import Finding, shorten

Kind = Literal["UPC-A", "UPC-E", "EAN-8", "EAN-13", "GTIN-14"]

IN_STORE = "a number that this store made up (weighed goods, own labels): it means nothing in another store"
OLD_COUPON = "a coupon's number of the old kind, not a product's"
_KIND_OF_LENGTH: dict[int, Kind] = {8: "EAN-8", 12: "UPC-A", 13: "EAN-13", 14: "GTIN-14"}


class ProductCode(msgspec.Struct, frozen=True, kw_only=True):
    """A product's number: ``gtin`` in 14 digits, the ``kind`` it was read as, a ``note`` or ""."""

    gtin: str
    kind: Kind
    note: str = ""


def read_product_code(digits: str) -> ProductCode | Finding:
    """The product's number in ``digits`` (spaces and hyphens do not matter); a finding if it is none.

    Eight digits may be an EAN-8 or a UPC-E. Whose check digit holds is meant; where both hold, an EAN-8
    unless the first digit is 0 or 1: those EAN-8 prefixes are for use within a store, so a UPC-E is likelier.
    """
    bare = digits.replace(" ", "").replace("-", "").strip()
    if not bare or not bare.isascii() or not bare.isdigit():
        return _finding(digits, "the 8, 12, 13 or 14 digits under the barcode, digits only")
    kind = _KIND_OF_LENGTH.get(len(bare))
    if kind is None:
        return _finding(
            digits, f"the digits under a barcode are 8, 12, 13 or 14, here are {len(bare)}: count them again"
        )
    if kind == "EAN-8" and bare[0] in "01":
        upc_e = read_upc_e(bare)
        if isinstance(upc_e, ProductCode):
            return upc_e
    if not check_digit_holds(bare):
        return _finding(digits, "the last digit does not fit the others: read the number again")
    if not bare.strip("0"):
        return _finding(digits, "zeros only are no product: read the number again")
    if kind == "EAN-13" and bare[0] == "0":
        kind = "UPC-A"  # the same number, as a scanner may hand it over
    gtin = bare.rjust(14, "0")
    return ProductCode(gtin=gtin, kind=kind, note=_note(bare, kind))


def read_upc_e(digits: str) -> ProductCode | Finding:
    """The UPC-E ``digits`` (number system 0 or 1, six digits, check digit) as the UPC-A it stands for."""
    if len(digits) != 8 or not digits.isascii() or not digits.isdigit() or digits[0] not in "01":
        return _finding(digits, "a UPC-E has 8 digits and begins with 0 or 1")
    upc_a = expand_upc_e(digits[0], digits[1:7]) + digits[7]
    if not check_digit_holds(upc_a):
        return _finding(digits, "the last digit does not fit the others: read the number again")
    return ProductCode(gtin=upc_a.rjust(14, "0"), kind="UPC-E", note=_note(upc_a, "UPC-A"))


def expand_upc_e(system: str, six: str) -> str:
    """The eleven digits (no check digit) that number system ``system`` and the ``six`` of a UPC-E stand for.

    The last of the six tells where the zeros were: 124560 -> 12000 00456, 123456 -> 12345 00006.
    """
    a, b, c, d, e, last = six
    if last in "012":
        return f"{system}{a}{b}{last}0000{c}{d}{e}"
    if last == "3":
        return f"{system}{a}{b}{c}00000{d}{e}"
    if last == "4":
        return f"{system}{a}{b}{c}{d}00000{e}"
    return f"{system}{a}{b}{c}{d}{e}0000{last}"


def _note(bare: str, kind: Kind) -> str:
    """What the prefix says. In-store: UPC-A 2 and 4, EAN-13 02, 04 and 20 to 29, EAN-8 0 and 2."""
    if kind == "EAN-8":
        return IN_STORE if bare[0] in "02" else ""
    thirteen = bare.rjust(14, "0")[1:]
    if thirteen[:2] == "05" or thirteen[:2] == "99" or thirteen[:3] in ("981", "982", "983"):
        return OLD_COUPON
    return IN_STORE if thirteen[:2] in ("02", "04") or thirteen[0] == "2" else ""


def _finding(digits: str, mend: str) -> Finding:
    return Finding(field="gtin", value=shorten(digits), mend=mend)
