"""``counterfoil read``: what the shorthand, a barcode's digits or a photo of one were understood as."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import msgspec

from ..engine.money import show
from ..engine.offers import (
    BasketOff,
    BuyOneGetOne,
    CentsOff,
    FixedPrice,
    FreeItem,
    NForM,
    PercentOff,
)
from ..intake.bad_input import BadInput, Finding, plain, shorten
from ..intake.code_fields import CodeError
from ..intake.coupon_code import PaperlessCode, read_coupon_code, read_paperless_code, standing_of
from ..intake.coupon_words import describe, draft_coupon
from ..intake.drafts import CouponDraft, DealDraft, Draft, OfferDraft, PercentDraft, RewardDraft
from ..intake.product_code import ProductCode, read_product_code
from ..intake.shorthand import read_shorthand
from .keeping import Commands

ANSWERED = 0
_COUPONS = ("8110", "8112")  # application identifiers
_SHORTEST_CODE = 21  # digits; a product's number has at most 14


def add_read_command(commands: Commands) -> None:
    """``counterfoil read`` and its options."""
    reading = commands.add_parser(
        "read",
        help="read shorthand, a barcode's digits or a photo",
        description="Prints what was understood of offers in shorthand, a barcode's digits or a photo.",
    )
    source = reading.add_mutually_exclusive_group(required=True)
    source.add_argument("text", nargs="?", metavar="TEXT|DIGITS", help='such as "$1/2 oat bars exp 12/31"')
    source.add_argument("--photo", type=Path, metavar="FILE", help="a photo of a barcode (PNG, JPEG)")
    reading.add_argument("--day", default="", metavar="DATE", help="the trip's day (today)")
    reading.set_defaults(run=read)


def read(chosen: argparse.Namespace) -> int:
    """``counterfoil read``: 0 with what was understood; ``BadInput`` where nothing was."""
    day = _day(chosen.day)
    lines = list(_photo(chosen.photo, day) if chosen.photo else _text(chosen.text, day))
    print(*map(plain, lines), sep="\n")
    return ANSWERED


def _day(written: str) -> str:
    try:
        return date.fromisoformat(written).isoformat() if written else date.today().isoformat()
    except ValueError:
        finding = Finding(field="--day", value=shorten(written), mend="write a date, such as 2026-12-05")
        raise BadInput(finding) from None


def _text(text: str, day: str) -> Iterator[str]:
    bare = "".join(text.split())
    digits = bare.translate(str.maketrans("", "", "()[]-"))
    if bare.startswith("]") or (
        digits.isascii() and digits.isdigit() and (len(digits) > 7 or digits[:4] in _COUPONS)
    ):
        yield from _digits(bare, digits, day)
        return
    paste = read_shorthand(text, day)
    if paste.problem:
        raise BadInput(paste.problem)
    if not paste.drafts:
        mend = 'write an offer, such as "$1/2 oat bars exp 12/31" or "2/$5 jam", or the digits of a barcode'
        raise BadInput(Finding(field="text", value=shorten(text), mend=mend))
    for draft in paste.drafts:
        yield from _draft(draft)
    for line in paste.unread:
        yield f"no offer found in: {line}"


def _digits(text: str, digits: str, day: str) -> Iterator[str]:
    if not text.startswith("]") and len(digits) < _SHORTEST_CODE and not digits.startswith(_COUPONS):
        product = read_product_code(digits)
        if isinstance(product, Finding):
            raise BadInput(product)
        yield from _product(product)
    elif digits.startswith("8112"):
        yield from _paperless(read_paperless_code(text))
    else:
        yield from _coupon(text, day)


def _photo(photo: Path, day: str) -> Iterator[str]:
    from ..intake.pictures import LARGEST_PICTURE
    from ..intake.symbols import read_photo  # brings the barcode reader

    try:
        with photo.open("rb") as file:
            data = file.read(LARGEST_PICTURE + 1)  # one too many, so that a larger one is refused
    except OSError as error:
        found = (error.strerror or type(error).__name__).lower()
        finding = Finding(field="photo", value=found, mend="name a file that is there and may be read")
        raise BadInput(finding, file=str(photo)) from None
    symbols = read_photo(data)
    for symbol in symbols:
        match symbol.kind:
            case _ if not symbol.sound and len(symbols) > 1:
                yield f"a barcode that was not made out ({symbol.symbology}): {symbol.digits}"
            case "coupon":
                yield from _coupon(symbol.digits, day)
            case "paperless_coupon":
                yield from _paperless(read_paperless_code(symbol.digits))
            case "product" if symbol.product:
                yield from _product(symbol.product)
            case _:
                yield f"another barcode ({symbol.symbology}): {symbol.digits}"


def _coupon(digits: str, day: str) -> Iterator[str]:
    code = read_coupon_code(digits)
    if isinstance(code, CodeError):
        raise _wrong_code(code)
    yield f"coupon {code.legible}: {describe(code)}"
    yield from (f"  mind: {sentence}" for sentence in standing_of(code, day, ()).sentences)
    yield from _questions(draft_coupon(code))
    yield "  choose the products yourself: family codes are the maker's own"


def _paperless(code: PaperlessCode | CodeError) -> Iterator[str]:
    if isinstance(code, CodeError):
        raise _wrong_code(code)
    yield f"paperless coupon: company {code.funder}, offer {code.offer}, serial number {code.serial}"
    yield "  its value and terms are not in the barcode"


def _product(product: ProductCode) -> Iterator[str]:
    yield f"product {product.gtin} ({product.kind})"
    if product.note:
        yield f"  mind: {product.note}"


def _wrong_code(error: CodeError) -> BadInput:
    field = f"{error.field} (digit {error.position} after the identifier)"
    return BadInput(Finding(field=field, value=shorten(error.value) or "nothing", mend=error.mend))


# --- drafts -------------------------------------------------------------------------------


def _draft(draft: Draft) -> Iterator[str]:
    yield _offer(draft.offer)
    shown = msgspec.to_builtins(draft.offer)
    for field in _SHOWN:
        if shown.get(field) not in (None, "", False):
            yield f"  {field.replace('_', ' ')}: {shown[field]}"
    if isinstance(draft.offer, CouponDraft) and draft.offer.may_multiply is not None:
        yield f"  may multiply: {'yes' if draft.offer.may_multiply else 'no'}"
    if draft.words:
        yield f"  words left: {'; '.join(draft.words)}"
    yield from _questions(draft)


_SHOWN = (
    *("from_date", "until", "issuer", "form", "where", "copies", "per_transaction", "per_day"),
    *("per_household", "per_visit", "units_per_transaction", "clearance", "mixes"),
)


def _questions(draft: Draft) -> Iterator[str]:
    yield from (f"  question ({question.field}): {question.why}" for question in draft.questions)


def _offer(offer: OfferDraft) -> str:
    match offer:
        case CouponDraft():
            asks = " and ".join(str(asked.units) for asked in offer.asks)
            return f"coupon: {_gives(offer)}, asks for {asks}"
        case DealDraft():
            return f"sale: {_deal(offer)}"
        case PercentDraft():
            return f"percent offer: {_percent(offer.bp)} off"
        case RewardDraft():
            buy = show(offer.threshold) if offer.by == "spend" else f"{offer.threshold}"
            verb = "spend" if offer.by == "spend" else "buy"
            back = show(offer.cents) if offer.cents is not None else f"{offer.points} points"
            return f"reward: {verb} {buy}, get {back} ({offer.reward.replace('_', ' ')})"


def _gives(offer: CouponDraft) -> str:
    match offer.gives:
        case CentsOff(cents=cents):
            return f"{show(cents)} off"
        case PercentOff(bp=bp):
            return f"{_percent(bp)} off"
        case FreeItem(off_bp=off_bp, up_to_cents=cap):
            cheapest = "one free" if off_bp == 10_000 else f"{_percent(off_bp)} off the cheapest"
            return cheapest + (f" up to {show(cap)}" if cap else "")
        case FixedPrice(cents=cents):
            return f"for {show(cents)} in all"
        case BasketOff(cents=cents, from_cents=spend):
            return f"{show(cents)} off a transaction from {show(spend)}"
        case None:
            return "a value to enter"


def _deal(offer: DealDraft) -> str:
    parts: list[str] = []
    match offer.deal:
        case NForM(n=n, cents=cents, must_buy=must_buy):
            parts.append(f"{n} for {show(cents)}" + (", must buy all" if must_buy else ""))
        case BuyOneGetOne(off_bp=off_bp):
            parts.append(f"buy one get one {'free' if off_bp == 10_000 else _percent(off_bp) + ' off'}")
        case None:
            pass
    if offer.cents is not None:
        parts.append(f"{show(offer.cents)} each")
    if offer.regular_cents is not None:
        parts.append(f"regularly {show(offer.regular_cents)}")
    return ", ".join(parts) or "a price to enter"


def _percent(bp: int) -> str:
    whole, rest = divmod(bp, 100)
    return f"{whole}.{rest:02}%" if rest else f"{whole}%"
