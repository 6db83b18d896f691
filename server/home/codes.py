"""The digits of a barcode, typed or from a photo: a coupon's, a product's, or why they are neither's."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec

from ..engine.offers import Coupon, Product
from ..intake.bad_input import Finding, shorten
from ..intake.code_fields import CodeError
from ..intake.coupon_code import (
    CouponCode,
    PaperlessCode,
    Standing,
    read_coupon_code,
    read_paperless_code,
    standing_of,
)
from ..intake.product_code import ProductCode, read_product_code
from .finding import by_name, has_number

_COUPONS = ("8110", "8112")  # application identifiers
_SHORTEST_COUPON = 21  # digits; a product's number has at most 14
_ID = "8110-"  # what the id of a coupon that came from its code begins with; the code's digits follow
_SIGNS = str.maketrans("", "", "()[]- ")


class Code(msgspec.Struct, frozen=True, kw_only=True):
    """What a barcode is: one of a coupon, a paperless coupon, a product; else ``mend`` says what to do.

    ``digits``: as they came."""

    digits: str
    coupon: CouponCode | None = None
    paperless: PaperlessCode | None = None
    product: ProductCode | None = None
    mend: str = ""


def read_code(text: str) -> Code:
    """The code in ``text``, with or without brackets, spaces and what a scanner puts before it."""
    bare = "".join(text.split())
    digits = bare.translate(_SIGNS)
    if not bare.startswith("]") and len(digits) < _SHORTEST_COUPON and not digits.startswith(_COUPONS):
        product = read_product_code(digits)
        if isinstance(product, Finding):
            return Code(digits=text, mend=product.mend)
        return Code(digits=text, product=product)
    if digits.startswith("8112"):
        paperless = read_paperless_code(bare)
        if isinstance(paperless, CodeError):
            return Code(digits=text, mend=_said(paperless))
        return Code(digits=text, paperless=paperless)
    coupon = read_coupon_code(bare)
    if isinstance(coupon, CodeError):
        return Code(digits=text, mend=_said(coupon))
    return Code(digits=text, coupon=coupon)


def id_of_code(code: CouponCode) -> str:
    """The id that a coupon has which came from its code: so the binder knows the code again."""
    return f"{_ID}{code.digits}"


def standing_in(code: CouponCode, today: str, coupons: Mapping[str, Coupon]) -> Standing:
    """How a code stands today, and beside the coupons of the binder: by its digits where they came from a
    code, else by what is printed on them."""
    known = [id.removeprefix(_ID) for id in coupons if id.startswith(_ID)]
    standing = standing_of(code, today, known)
    same = [
        coupon.description
        for id, coupon in coupons.items()
        if not id.startswith(_ID) and coupon.legible and coupon.legible == code.legible
    ]
    if not same or standing.known != "new":
        return standing
    told = f"“{same[0]}” in the binder has the same code {code.legible} on it: look whether it is this one."
    return msgspec.structs.replace(standing, sentences=(*standing.sentences, told))


def made_by(companies: Iterable[str], products: Mapping[str, Product]) -> list[Product]:
    """Products whose number begins with one of the company prefixes of a coupon code."""
    prefixes = tuple(companies)
    return by_name(
        product
        for product in products.values()
        if product.gtin is not None and product.gtin.rjust(14, "0")[1:].startswith(prefixes)
    )


def numbered(code: ProductCode, products: Mapping[str, Product]) -> list[Product]:
    """The products that have that number."""
    return [product for product in products.values() if has_number(product, code.gtin)]


def _said(error: CodeError) -> str:
    found = f"found {shorten(error.value)}" if error.value else "found nothing"
    return f"{error.field}, digit {error.position} after the identifier: {found}; {error.mend}"
