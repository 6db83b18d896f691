"""A product's number is checked by its last digit and kept in one form: fourteen digits."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.engine.gtin import check_digit_holds
from counterfoil.intake.bad_input import Finding
from counterfoil.intake.product_code import ProductCode, expand_upc_e, read_product_code, read_upc_e


def read(digits: str) -> ProductCode:
    product = read_product_code(digits)
    assert isinstance(product, ProductCode), product
    return product


@pytest.mark.parametrize(
    ("digits", "kind"),
    [
        ("6291041500213", "EAN-13"),  # GS1, check digit page
        ("7300011000017", "EAN-13"),  # GS1 Sweden
        ("8904000210037", "EAN-13"),  # GS1 India
        ("012345000065", "UPC-A"),  # a barcode reader's manual
        ("514141100906", "UPC-A"),  # a barcode library's documentation; an old coupon's number
    ],
)
def test_published_number_holds_and_is_padded(digits: str, kind: str) -> None:
    product = read(digits)
    assert (product.gtin, product.kind) == (digits.rjust(14, "0"), kind)


@pytest.mark.parametrize("digits", ["6291041500214", "7300011000071", "012345000066"])
def test_number_with_a_wrong_digit_is_told(digits: str) -> None:
    finding = read_product_code(digits)
    assert isinstance(finding, Finding)
    assert finding.mend == "the last digit does not fit the others: read the number again"


@pytest.mark.parametrize(
    ("six", "upc_a"),
    [
        # Six-digit zero expansion: a line-printer vendor's manual; the check digit is computed.
        ("124560", "012000004568"),
        ("275831", "027100005834"),
        ("412022", "041200002029"),
        ("876543", "087600000548"),
        ("753774", "075370000073"),
        ("213756", "021375000068"),
        ("517019", "051701000097"),
        # A barcode reader's manual, with its check digit: UPC-E 01234565.
        ("123456", "012345000065"),
        # Arithmetic only, no source.
        ("425261", "042100005264"),
        ("654321", "065100004327"),
    ],
)
def test_upc_e_stands_for_its_upc_a(six: str, upc_a: str) -> None:
    assert expand_upc_e("0", six) == upc_a[:-1]
    written = f"0{six}{upc_a[-1]}"
    assert read_upc_e(written) == ProductCode(gtin=upc_a.rjust(14, "0"), kind="UPC-E")
    assert read(written).gtin == upc_a.rjust(14, "0")


def test_eight_digits_that_are_no_upc_e_are_an_ean_8() -> None:
    assert read("50000005").kind == "EAN-8"
    assert isinstance(read_upc_e("50000005"), Finding)


def test_spaces_and_hyphens_do_not_matter() -> None:
    assert read("0 12345-00006 5") == read("012345000065")


@pytest.mark.parametrize(
    "digits", ["", "12", "1234567", "12345678901", "123456789012345", "12345000065x", "٣" * 13]
)
def test_what_is_no_number_of_a_product_is_told(digits: str) -> None:
    assert isinstance(read_product_code(digits), Finding)


@pytest.mark.parametrize(
    ("digits", "note"),
    [
        ("200000000004", "this store made up"),
        ("2000000000008", "this store made up"),
        ("0200000000004", "this store made up"),
        ("514141100906", "old kind"),
        ("012345000065", ""),
    ],
)
def test_prefix_is_noted(digits: str, note: str) -> None:
    body = digits[:-1]
    digits = next(f"{body}{digit}" for digit in range(10) if check_digit_holds(f"{body}{digit}"))
    said = read(digits).note
    assert note in said if note else not said


@settings(max_examples=200, deadline=None)
@given(st.one_of(st.text(max_size=20), st.text(alphabet="0123456789", max_size=15)))
def test_no_text_is_a_crash_and_what_is_read_holds(text: str) -> None:
    product = read_product_code(text)
    if isinstance(product, ProductCode):
        assert len(product.gtin) == 14
        assert check_digit_holds(product.gtin)
    else:
        assert product.mend


@settings(max_examples=100, deadline=None)
@given(st.text(alphabet="0123456789", min_size=12, max_size=12), st.integers(0, 11), st.integers(1, 9))
def test_one_digit_read_wrong_never_passes(body: str, place: int, change: int) -> None:
    last = next(digit for digit in "0123456789" if check_digit_holds(body + digit))
    digits = body + last
    changed = digits[:place] + str((int(digits[place]) + change) % 10) + digits[place + 1 :]
    assert isinstance(read_product_code(changed), Finding)
