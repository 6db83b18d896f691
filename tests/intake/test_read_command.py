"""``counterfoil read`` prints what was understood, or one line that says what to mend."""

from __future__ import annotations

from pathlib import Path

import pytest

from counterfoil.cli import main

from .published_codes import C1, C6
from .test_symbols import photo, stacked

DAY = ("--day", "2026-12-05")


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["read", *arguments, *DAY]) == 0
    return capsys.readouterr().out


def refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["read", *arguments]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    return printed.err


def test_shorthand_is_printed_field_by_field(capsys: pytest.CaptureFixture[str]) -> None:
    assert said(capsys, "$1/2 any flavour exp 12/31 limit 4") == (
        "coupon: $1.00 off, asks for 2\n"
        "  until: 2026-12-31\n"
        "  per transaction: 4\n"
        "  words left: any flavour\n"
        "  question (per_transaction): Limit 4 does not say of what: read as 4 of these coupons in one"
        " transaction.\n"
    )


def test_several_offers_and_a_line_without_one(capsys: pytest.CaptureFixture[str]) -> None:
    printed = said(capsys, "This week\n2/$5 jam; buy 3 get a $4 gift card\nBOGO 50% soap; 20% off tea")
    assert printed.splitlines() == [
        "sale: 2 for $5.00",
        "  words left: jam",
        "reward: buy 3, get $4.00 (gift card)",
        "sale: buy one get one 50% off",
        "  words left: soap",
        "percent offer: 20% off",
        "  words left: tea",
        "no offer found in: This week",
    ]


def test_digits_of_a_coupon_say_its_terms_and_that_it_is_over(capsys: pytest.CaptureFixture[str]) -> None:
    printed = said(capsys, f"(8110){C1}")
    assert printed.startswith(
        "coupon 0614141-654321: $1.50 off when you buy 1 of family 120 and (1 of family 140"
    )
    assert "mind: It expired on 31 December 2010." in printed


def test_digits_of_a_product_are_kept_in_fourteen(capsys: pytest.CaptureFixture[str]) -> None:
    assert said(capsys, "012345000065") == "product 00012345000065 (UPC-A)\n"


def test_photo_is_read(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    file = tmp_path / "coupon.png"
    file.write_bytes(photo(stacked(C6)))
    assert "coupon 0614141-654321: $5.00 off the whole transaction" in said(capsys, "--photo", str(file))


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["hello"], "text: found hello; mend: write an offer"),
        (["012345000066"], "gtin: found 012345000066; mend: the last digit does not fit"),
        (
            ["8110123"],
            "company prefix (digit 2 after the identifier): found 23; mend: the code ends 5 digits",
        ),
        (
            ["--photo", "nowhere.png"],
            "nowhere.png: photo: found no such file or directory; mend: name a file",
        ),
        (["$1/2", "--day", "5 December"], "--day: found 5 December; mend: write a date, such as 2026-12-05"),
    ],
)
def test_what_is_not_understood_says_what_to_mend(
    capsys: pytest.CaptureFixture[str], arguments: list[str], line: str
) -> None:
    assert refused(capsys, *arguments).startswith(line)
