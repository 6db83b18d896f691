"""Money: integer minor units, one way in, one way out, one way to round.

A *cent* here is the currency's minor unit, whatever its name. The exponent (digits after
the point) comes from ISO 4217; a trip carries it beside the currency so that an old trip
stays what it was. No float is ever made.

    show(237)                 -> "$2.37"
    show(237, "CHF")          -> "CHF 2.37"
    show(237, "JPY", 0)       -> "¥237"
    parse("$2.37")            -> 237
    share(100, 3, 1)          -> 34        (then 33 and 33: the odd cents fall first)
"""

from __future__ import annotations

import re

# Digits after the point where they are not two. ISO 4217; printed or remembered entries
# alike are settings: the trip's own exponent decides.
EXPONENTS: dict[str, int] = {
    **dict.fromkeys(
        (
            *("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI"),
            *("VND", "VUV", "XAF", "XOF", "XPF"),
        ),
        0,
    ),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
    **dict.fromkeys(("CLF", "UYW"), 4),
}

# Only where one symbol is commonly read as one currency; every other currency shows its code.
SYMBOLS: dict[str, str] = {"USD": "$", "EUR": "€", "GBP": "£", "JPY": "¥", "INR": "₹"}

_WRITTEN = re.compile(r"([0-9]{0,9})(?:\.([0-9]*))?")
_TOO_LONG = re.compile(r"[0-9]{10,}(\.[0-9]*)?")


class NotMoney(ValueError):
    """A text that is no amount of money: ``value`` as it was given, ``mend`` says what to write."""

    def __init__(self, value: str, mend: str) -> None:
        super().__init__(f"{value!r} is not an amount of money: {mend}")
        self.value = value
        self.mend = mend


def exponent_of(currency: str) -> int:
    """Digits after the point of an ISO 4217 currency; 2 unless the table says otherwise."""
    return EXPONENTS.get(currency, 2)


def round_half_up(numerator: int, denominator: int) -> int:
    """The whole number nearest to ``numerator / denominator``; a half goes up.

    Exact: one rounding of the exact ratio. ``denominator`` is positive. Below zero a half
    goes up as well, toward zero: -0.5 becomes 0. Worked: 478 * 2500 / 10000 = 119.5 -> 120.
    """
    return (2 * numerator + denominator) // (2 * denominator)


def share(total: int, parts: int, k: int) -> int:
    """The ``k``-th (from 1) of ``parts`` even shares of ``total``; odd cents as early as fair.

    ``ceil(total*k/parts) - ceil(total*(k-1)/parts)``: 100 in 3 is 34, 33, 33; 2 in 4 is 1, 0,
    1, 0. Every run of ``parts`` shares adds up to ``total``, also when ``k`` is above ``parts``.
    """
    return -(-total * k // parts) + (-total * (k - 1) // parts)


def show(cents: int, currency: str = "USD", exponent: int = 2) -> str:
    """The exact amount for a reader: ``$2.37``, ``-$0.05``, ``USD``'s kin by code: ``CHF 2.37``."""
    digits = str(abs(cents)).rjust(exponent + 1, "0")
    number = digits if exponent == 0 else f"{digits[:-exponent]}.{digits[-exponent:]}"
    symbol = SYMBOLS.get(currency)
    sign = "-" if cents < 0 else ""
    return f"{sign}{symbol}{number}" if symbol else f"{sign}{currency} {number}"


def parse(text: str, currency: str = "USD", exponent: int = 2) -> int:
    """Cents from what a person writes: ``2.37``, ``$2.37``, ``.59``, ``2``, ``USD 2.37``.

    Refuses (``NotMoney``) signs, commas, other currencies and more digits after the point
    than the currency has: a price is never rounded on its way in.
    """
    bare = text.strip()
    for mark in (SYMBOLS.get(currency), currency):
        if mark and bare.startswith(mark):
            bare = bare[len(mark) :].strip()
            break
    written = _WRITTEN.fullmatch(bare)
    if _TOO_LONG.fullmatch(bare):
        raise NotMoney(text, "write a smaller amount, at most nine digits before the point")
    if written is None or not (written[1] or written[2]):
        raise NotMoney(text, f"write digits with a point, as in {show(237, currency, exponent)}")
    after = (written[2] or "").rstrip("0")
    if len(after) > exponent:
        raise NotMoney(text, f"{currency} has {exponent} digits after the point")
    return int((written[1] or "0") + after.ljust(exponent, "0"))
