"""The barcode of a coupon: GS1 AI (8110), the North American Coupon Code, decoded whole.

    read_coupon_code("(8110)106141416543213500110000310123196000")
        -> CouponCode(company="0614141", offer="654321", save_value=500, save_code=6, ...)
    read_coupon_code("8110106141416543213500110000310130")
        -> CodeError(field="expiration date", position=26, value="10130",
                     mend="the code ends 1 digit early; ...")

Fields and legal digits: ``code_fields.py`` names the source. What the digits *mean*: tables of the guideline
as published decoders of open source give them, borne out by the guideline's own examples (Appendix C).
Family codes are the maker's own groups of goods: they are shown and never guessed into products.
Its kin AI (8112), the paperless coupon, carries identifiers only; the offer itself is in an online file.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import msgspec

from .code_fields import READ_AGAIN, CodeDigits, CodeError, WrongField, data_of
from .day_words import day_in_words

LEAST_DIGITS, MOST_DIGITS = 21, 70  # of AI 8110, after the identifier
SAME_COMPANY = "9"

Counts = Literal["units", "cents", "transaction_cents", "hundredths_lb", "grams", "cashier"]
# Purchase requirement code -> what the threshold counts. Implied decimals: 0, 2, 2, 2 (lb), 3 (kg).
COUNTS: dict[str, Counts] = {
    "0": "units",
    "1": "cents",
    "2": "transaction_cents",
    "3": "hundredths_lb",
    "4": "grams",
    "9": "cashier",
}


class Purchase(msgspec.Struct, frozen=True, kw_only=True):
    """What must be bought: ``threshold`` of what it ``counts``, from ``family`` of ``company``.

    Whole numbers, never a fraction: cents, hundredths of a pound, grams. With ``counts`` "cashier" the
    threshold means nothing to a register: a person checks.
    """

    threshold: int
    counts: Counts
    family: str
    company: str


class CouponCode(msgspec.Struct, frozen=True, kw_only=True):
    """A coupon's code. ``digits``: the data after 8110, whole.

    ``save_code``: 0 ``save_value`` cents off; 1 one item free, up to that many cents (0: no cap);
    2 that many items free; 5 that many percent off; 6 that many cents off the whole transaction.
    ``applies_to``: which purchase is reduced (0 first, 1 second, 2 third).
    ``rule``: how the purchases join: 0 any one; 1 all; 2 the first and one of the others; 3 unclear.
    ``store_flag``: 0 means no store coupon; the other digits are told apart by one source only.
    """

    digits: str
    company: str
    offer: str
    save_value: int
    first: Purchase
    rule: int | None = None
    second: Purchase | None = None
    third: Purchase | None = None
    until: str | None = None
    from_date: str | None = None
    serial: str = ""
    retailer: str = ""
    save_code: Literal[0, 1, 2, 5, 6] = 0
    applies_to: Literal[0, 1, 2] = 0
    store_flag: int = 0
    may_multiply: bool = True

    @property
    def legible(self) -> str:
        """What is printed over the symbol: company prefix, dash, offer code."""
        return f"{self.company}-{self.offer}"

    @property
    def purchases(self) -> tuple[Purchase, ...]:
        """First, second and third, as far as there are any."""
        return tuple(purchase for purchase in (self.first, self.second, self.third) if purchase)


class PaperlessCode(msgspec.Struct, frozen=True, kw_only=True):
    """A paperless coupon, AI (8112): who pays, which offer, which copy. Value and terms are not in it."""

    funder: str
    offer: str
    serial: str


class Standing(msgspec.Struct, frozen=True, kw_only=True):
    """How a code stands today: within its dates, and whether the binder has it already."""

    dates: Literal["good", "expired", "not_yet"]
    known: Literal["new", "same_code", "same_serial"]
    sentences: tuple[str, ...]


def read_coupon_code(digits: str) -> CouponCode | CodeError:
    """The coupon code in ``digits`` (with or without ``8110`` and what a scanner puts before it)."""
    try:
        return _read(data_of(digits, "8110", LEAST_DIGITS, MOST_DIGITS))
    except WrongField as wrong:
        return wrong.error


def read_paperless_code(digits: str) -> PaperlessCode | CodeError:
    """The identifiers of a paperless coupon, AI (8112).

    Source: GS1 *AI (8112) Coupon Data Specifications*, R1.0 (2020), as an open barcode library cites it."""
    try:
        data = data_of(digits, "8112", LEAST_DIGITS, 36)
        data.take_one_of("format", "01")
        code = PaperlessCode(
            funder=data.take_variable("funder", "0123456", 6),
            offer=data.take("offer code", 6),
            serial=data.take_variable("serial number", "0123456789", 6),
        )
        _refuse_what_is_left(data)
        return code
    except WrongField as wrong:
        return wrong.error


def standing_of(code: CouponCode, today: str, known: Iterable[str]) -> Standing:
    """How ``code`` stands on ``today`` (ISO date) beside the ``known`` codes' digits, as written anywhere."""
    dates: Literal["good", "expired", "not_yet"] = "good"
    sentences: list[str] = []
    if code.until and code.until < today:
        dates = "expired"
        sentences.append(
            f"It expired on {day_in_words(code.until, today)}."
            " A store that is paid for an expired coupon is defrauded."
        )
    elif code.from_date and code.from_date > today:
        dates = "not_yet"
        sentences.append(f"It is good from {day_in_words(code.from_date, today)}, not yet today.")
    seen = _seen(code, known)
    if seen == "same_serial":
        sentences.append(f"Serial number {code.serial} is in the binder already. A copied coupon is fraud.")
    elif seen == "same_code":
        sentences.append(
            "A coupon with this code is in the binder already: raise its copies if you hold one more."
        )
    return Standing(dates=dates, known=seen, sentences=tuple(sentences))


def _seen(code: CouponCode, known: Iterable[str]) -> Literal["new", "same_code", "same_serial"]:
    seen: Literal["new", "same_code", "same_serial"] = "new"
    for digits in known:
        other = read_coupon_code(digits)
        if isinstance(other, CodeError):
            continue
        if code.serial and (other.legible, other.serial) == (code.legible, code.serial):
            return "same_serial"
        if other.digits == code.digits:
            seen = "same_code"
    return seen


# --- field by field ---------------------------------------------------------------------


def _read(data: CodeDigits) -> CouponCode:
    company = data.take_variable("company prefix", "0123456", 6)
    offer = data.take("offer code", 6)
    value_at = data.at
    save_value = int(data.take_variable("save value", "12345", 0))
    threshold, counts, family = _threshold(data, "first purchase")
    first = Purchase(threshold=threshold, counts=counts, family=family, company=company)
    rule: int | None = None
    second: Purchase | None = None
    third: Purchase | None = None
    until: str | None = None
    from_date: str | None = None
    serial = retailer = ""
    misc = "0000"
    if data.next_digit == "1":
        data.at += 1
        rule = int(data.take_one_of("additional purchase rules", "0123"))
        second = _further(data, "second purchase", company)
    if data.next_digit == "2":
        if second is None:
            raise data.wrong(
                "third purchase", "2", f"a third purchase without a second has no rule; {READ_AGAIN}"
            )
        data.at += 1
        third = _further(data, "third purchase", company)
    if data.next_digit == "3":
        data.at += 1
        until = data.take_date("expiration date")
    if data.next_digit == "4":
        data.at += 1
        from_date = data.take_date("start date")
        if until and from_date > until:
            data.at -= 6
            raise data.wrong("start date", from_date, f"it starts after it expires ({until}); {READ_AGAIN}")
    if data.next_digit == "5":
        data.at += 1
        serial = data.take_variable("serial number", "0123456789", 6)
    if data.next_digit == "6":
        data.at += 1
        retailer = data.take_variable("retailer", "1234567", 6)
    if data.next_digit == "9":
        data.at += 1
        misc = (
            data.take_one_of("save value code", "01256")
            + data.take_one_of("item it applies to", "012")
            + data.take("store coupon flag", 1)
            + data.take_one_of("don't-multiply flag", "01")
        )
    _refuse_what_is_left(data)
    if misc[0] == "5" and save_value > 100:
        data.at = value_at + 1
        raise data.wrong(
            "save value", str(save_value), f"no coupon takes more than 100 percent off; {READ_AGAIN}"
        )
    codes: dict[str, Literal[0, 1, 2, 5, 6]] = {"0": 0, "1": 1, "2": 2, "5": 5, "6": 6}
    places: dict[str, Literal[0, 1, 2]] = {"0": 0, "1": 1, "2": 2}
    return CouponCode(
        digits=data.digits,
        company=company,
        offer=offer,
        save_value=save_value,
        first=first,
        rule=rule,
        second=second,
        third=third,
        until=until,
        from_date=from_date,
        serial=serial,
        retailer=retailer,
        save_code=codes[misc[0]],
        applies_to=places[misc[1]],
        store_flag=int(misc[2]),
        may_multiply=misc[3] == "0",
    )


def _further(data: CodeDigits, field: str, company: str) -> Purchase:
    """A second or third purchase: as the first, then its company, or 9 for the same one."""
    threshold, counts, family = _threshold(data, field)
    if data.next_digit == SAME_COMPANY:
        data.at += 1
        return Purchase(threshold=threshold, counts=counts, family=family, company=company)
    prefix = data.take_variable(f"company prefix of the {field}", "0123456", 6)
    return Purchase(threshold=threshold, counts=counts, family=family, company=prefix)


def _threshold(data: CodeDigits, field: str) -> tuple[int, Counts, str]:
    """Threshold, what it counts, and the family, of any of the three purchases."""
    threshold = int(data.take_variable(f"requirement of the {field}", "12345", 0))
    counts = COUNTS[data.take_one_of(f"requirement code of the {field}", "".join(COUNTS))]
    return threshold, counts, data.take(f"family code of the {field}", 3)


def _refuse_what_is_left(data: CodeDigits) -> None:
    """Fields come in rising order, each once: whatever is left belongs to none."""
    if data.next_digit:
        mend = f"nothing of a coupon code may follow here; {READ_AGAIN}"
        raise data.wrong("after the last field", data.digits[data.at :], mend)
