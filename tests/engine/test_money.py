"""Promise kept here: money is shown, read and rounded exactly, in every ISO 4217 currency."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterfoil.engine.money import NotMoney, exponent_of, parse, round_half_up, share, show


@pytest.mark.parametrize(
    ("numerator", "denominator", "rounded"),
    [(1195, 10, 120), (1194, 10, 119), (1, 2, 1), (0, 7, 0), (-1, 2, 0), (-3, 2, -1), (-16, 10, -2)],
)
def test_half_goes_up(numerator: int, denominator: int, rounded: int) -> None:
    assert round_half_up(numerator, denominator) == rounded


def test_odd_cents_fall_as_early_as_an_even_share_allows() -> None:
    assert [share(100, 3, k) for k in (1, 2, 3)] == [34, 33, 33]
    assert [share(101, 3, k) for k in (1, 2, 3)] == [34, 34, 33]
    assert [share(2, 4, k) for k in (1, 2, 3, 4)] == [1, 0, 1, 0]
    assert share(100, 3, 4) == 34


@given(st.integers(0, 10_000_000), st.integers(1, 100))
def test_shares_add_up_and_differ_by_a_cent_at_most(total: int, parts: int) -> None:
    shares = [share(total, parts, k) for k in range(1, parts + 1)]

    assert sum(shares) == total
    assert max(shares) - min(shares) <= 1
    assert all(sum(shares[:k]) * parts >= total * k for k in range(1, parts + 1))


@pytest.mark.parametrize(
    ("cents", "currency", "exponent", "shown"),
    [
        (237, "USD", 2, "$2.37"),
        (5, "USD", 2, "$0.05"),
        (0, "USD", 2, "$0.00"),
        (-15, "USD", 2, "-$0.15"),
        (123456, "EUR", 2, "€1234.56"),
        (237, "CHF", 2, "CHF 2.37"),
        (-237, "CHF", 2, "-CHF 2.37"),
        (237, "JPY", 0, "¥237"),
        (2375, "KWD", 3, "KWD 2.375"),
        (7, "CLF", 4, "CLF 0.0007"),
    ],
)
def test_money_is_shown_exactly(cents: int, currency: str, exponent: int, shown: str) -> None:
    assert show(cents, currency, exponent) == shown
    if cents >= 0:
        assert parse(shown, currency, exponent) == cents


@pytest.mark.parametrize(
    ("currency", "digits"),
    [
        *(("USD", 2), ("EUR", 2), ("GBP", 2), ("AUD", 2), ("INR", 2), ("CAD", 2), ("MXN", 2), ("CHF", 2)),
        *(("JPY", 0), ("KRW", 0), ("CLP", 0), ("BIF", 0), ("DJF", 0)),
        *(("BHD", 3), ("KWD", 3), ("OMR", 3), ("TND", 3), ("CLF", 4)),
    ],
)
def test_currency_has_its_minor_digits(currency: str, digits: int) -> None:
    """ISO 4217."""
    assert exponent_of(currency) == digits


@pytest.mark.parametrize(
    ("text", "cents"),
    [
        *(("2.37", 237), ("$2.37", 237), (" $ 2.37 ", 237), ("USD 2.37", 237), ("2", 200), (".59", 59)),
        *(("2.5", 250), ("2.50", 250), ("2.500", 250), ("2.", 200), ("0", 0)),
    ],
)
def test_price_is_read_as_people_write_it(text: str, cents: int) -> None:
    assert parse(text) == cents


@pytest.mark.parametrize("text", ["", ".", "-1", "+1", "1,99", "1.999", "2.37 $", "€2.37", "1e3", "½", "٣"])
def test_what_is_no_price_is_refused_with_a_mend(text: str) -> None:
    with pytest.raises(NotMoney) as refused:
        parse(text)

    assert refused.value.value == text
    assert refused.value.mend


@pytest.mark.parametrize(
    ("text", "currency", "exponent"),
    [("9999999999", "USD", 2), ("$1000000000.00", "USD", 2), ("9999999999", "JPY", 0)],
)
def test_amount_that_is_too_long_is_told_to_be_smaller(text: str, currency: str, exponent: int) -> None:
    with pytest.raises(NotMoney) as refused:
        parse(text, currency, exponent)

    assert refused.value.mend == "write a smaller amount, at most nine digits before the point"
    assert parse("999999999") == 99_999_999_900


def test_price_in_yen_has_no_point() -> None:
    assert parse("298", "JPY", 0) == 298
    with pytest.raises(NotMoney):
        parse("2.98", "JPY", 0)
