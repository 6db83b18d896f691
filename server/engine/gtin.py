"""Item numbers: the check digit that GTIN-8, -12, -13 and -14 share.

Source: GS1 General Specifications, "Check digit calculation for GS1 keys". From the right,
the check digit left out, the weights are 3, 1, 3, 1, ...; the check digit is the distance of
the weighted sum to the next multiple of ten. 629104150021-3: the sum is 57, 60 - 57 = 3.
"""

from __future__ import annotations


def check_digit_holds(gtin: str) -> bool:
    """Whether the last digit of ``gtin`` (decimal digits only) is the check digit of the others.

    Zeros padded on the left change nothing, so any of the lengths may be given."""
    weighted = sum(
        int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(gtin[:-1]))
    )
    return (weighted + int(gtin[-1])) % 10 == 0
