"""The barcode of a coupon is decoded whole, or told wrong by field and place; nothing in it is guessed."""

from __future__ import annotations

import pytest
from biip.gs1_messages import GS1Message
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.engine.offers import BasketOff, CentsOff, FreeItem, PercentOff
from counterfoil.intake.code_fields import CodeError
from counterfoil.intake.coupon_code import (
    CouponCode,
    PaperlessCode,
    Purchase,
    read_coupon_code,
    read_paperless_code,
    standing_of,
)
from counterfoil.intake.coupon_words import describe, draft_coupon
from counterfoil.intake.drafts import AskDraft, CouponDraft

from .published_codes import (
    BAD_SUFFIXES,
    BASE,
    C1,
    C2,
    C3,
    C4,
    C6,
    GOOD_SUFFIXES,
    MONEY_ASKED,
    ONE_OF_TWO_FREE,
    OWN,
    PERCENT,
    PUBLISHED,
    STORE_COUPON,
    T2,
)


def read(digits: str) -> CouponCode:
    code = read_coupon_code(digits)
    assert isinstance(code, CouponCode), code
    return code


def error(digits: str) -> CodeError:
    wrong = read_coupon_code(digits)
    assert isinstance(wrong, CodeError), wrong
    return wrong


def coupon(digits: str) -> CouponDraft:
    offer = draft_coupon(read(digits)).offer
    assert isinstance(offer, CouponDraft)
    return offer


# --- published strings ------------------------------------------------------------------


def test_example_six_field_by_field() -> None:
    """C6, digit by digit: 5.00 off the transaction, 1 unit of family 000, until the end of 2010."""
    assert read(C6) == CouponCode(
        digits=C6,
        company="0614141",
        offer="654321",
        save_value=500,
        save_code=6,
        first=Purchase(threshold=1, counts="units", family="000", company="0614141"),
        until="2010-12-31",
    )
    assert read(C6).legible == "0614141-654321"


SENTENCES = {
    "C1": "$1.50 off when you buy 1 of family 120 and (1 of family 140 or 1 of family 256 of company 0012666)"
    "; until 31 December 2010",
    "C2": "$0.50 off when you buy 1 of family 650 or 3 of family 850; until 31 December 2010",
    "C3": "one of family 760 free when you buy 1 of family 760 and 1 of family 850 and 1 of family 860;"
    " until 31 December 2010",
    "C4": "one of family 120 free, up to $0.89, when you buy 1 of family 120 and (2 of family 850 of company"
    " 0048000 or 4 of family 256 of company 0048000); until 31 December 2010",
    "C5": "$1.50 off when you buy 1 of family 120 and (1 of family 140 or 1 of family 256 of company 0012666)"
    "; until 31 December 2010",
    "C6": "$5.00 off the whole transaction when you buy 1 of family 000; until 31 December 2010",
    "T1": "$0.75 off when you buy 1 of family 111",
    "T2": "one of family 456 of company 0456789 free, up to $1.00, when you buy 1 of family 222 and 1 of"
    " family 123 of company 0234567 and 1 of family 456 of company 0456789; not to be multiplied",
    "S1": "$2.50 off when you buy 1 of family 120; until 31 January 2014",
    "S2": "$0.75 off when you buy 1 of family 650 or 3 of family 850; until 31 January 2014",
}


@pytest.mark.parametrize("name", SENTENCES)
def test_published_code_says_what_its_source_says(name: str) -> None:
    assert describe(read(PUBLISHED[name])) == SENTENCES[name]


def test_codes_of_our_own_cover_what_no_source_printed() -> None:
    sentences = {name: describe(read(digits)) for name, digits in OWN.items()}
    assert sentences == {
        "percent": "20% off family 120 when you buy 1 of family 120",
        "one of two free": "one of family 120 free when you buy 2 of family 120",
        "money asked": "$3.00 off when you buy $15.00 worth of family 120",
        "store": "$0.75 off when you buy 1 of family 120; a store coupon",
    }


def test_weights_keep_their_implied_decimals() -> None:
    """Code 3 counts hundredths of a pound, code 4 thousandths of a kilogram: whole numbers, no fraction."""
    pounds = read("1061414165432127531503120")
    grams = read("10614141654321275412504120")
    assert (pounds.first.threshold, pounds.first.counts) == (150, "hundredths_lb")
    assert (grams.first.threshold, grams.first.counts) == (1250, "grams")
    assert describe(pounds) == "$0.75 off when you buy 1.50 lb of family 120"
    assert describe(grams) == "$0.75 off when you buy 1.250 kg of family 120"


# --- syntax ------------------------------------------------------------------------------


@pytest.mark.parametrize("suffix", GOOD_SUFFIXES)
def test_linter_accepts(suffix: str) -> None:
    assert read(BASE + suffix).digits == BASE + suffix


@pytest.mark.parametrize("suffix", BAD_SUFFIXES)
def test_linter_refuses_and_the_field_is_named(suffix: str) -> None:
    wrong = error(BASE + suffix)
    assert wrong.field == BAD_SUFFIXES[suffix]
    assert wrong.position > len(BASE)
    assert wrong.mend


@pytest.mark.parametrize("name", PUBLISHED)
def test_code_cut_off_is_no_other_field(name: str) -> None:
    """Every truncation either still is a code (an optional field is gone) or names a field."""
    whole = PUBLISHED[name]
    for end in range(len(whole)):
        cut = read_coupon_code(whole[:end])
        if end < 21:
            assert isinstance(cut, CodeError)
        if isinstance(cut, CodeError):
            assert cut.position <= end + 1


@pytest.mark.parametrize(
    ("digits", "field", "position"),
    [
        ("", "digits", 1),
        ("10614141654321350011000O", "digits", 24),
        ("7" + BASE[1:], "length of company prefix", 1),
        ("9" + BASE[1:], "length of company prefix", 1),
        (BASE[:13] + "0" + BASE[14:], "length of save value", 14),
        (BASE[:13] + "6" + BASE[14:], "length of save value", 14),
        (BASE[:15] + "0" + BASE[16:], "length of requirement of the first purchase", 16),
        (BASE[:17] + "5" + BASE[18:], "requirement code of the first purchase", 18),
        ("1" * 71, "digits", 71),
    ],
)
def test_wrong_digit_is_told_by_field_and_place(digits: str, field: str, position: int) -> None:
    wrong = error(digits)
    assert (wrong.field, wrong.position) == (field, position)


def test_more_than_a_hundred_percent_is_refused() -> None:
    wrong = error("10614141654321310111012095000")
    assert (wrong.field, wrong.value) == ("save value", "101")


@pytest.mark.parametrize(
    "written",
    ["{}", "8110{}", "(8110){}", "[8110]{}", "]e08110{}", "]C18110{}", "\x1d8110{}", "]e0\x1d8110{}\x1d"],
)
def test_code_is_the_same_however_it_was_scanned(written: str) -> None:
    assert read(written.format(C6)) == read(C6)


def test_spaces_between_the_digits_do_not_matter() -> None:
    assert read("8110 1061 4141 6543 2135 0011 0000 3101 2319 6000") == read(C6)


@pytest.mark.parametrize("digits", [*PUBLISHED.values(), *OWN.values()])
def test_element_string_agrees_with_biip(digits: str) -> None:
    element = GS1Message.parse(f"8110{digits}").element_strings[0]
    assert (element.ai.ai, element.value) == ("8110", read(f"8110{digits}").digits)


@settings(max_examples=300, deadline=None)
@given(st.one_of(st.text(max_size=90), st.text(alphabet="0123456789", max_size=80)))
def test_no_text_is_a_crash(text: str) -> None:
    code = read_coupon_code(text)
    if isinstance(code, CodeError):
        assert code.field
        assert code.mend
        assert code.position >= 1
    else:
        assert describe(code)
        assert draft_coupon(code)
    assert read_paperless_code(text) is not None


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(list(PUBLISHED.values())), st.data())
def test_one_digit_read_wrong_is_another_code_or_a_clear_error(digits: str, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(digits) - 1))
    digit = data.draw(st.sampled_from("0123456789"))
    changed = digits[:place] + digit + digits[place + 1 :]
    code = read_coupon_code(changed)
    if isinstance(code, CouponCode):
        assert code.digits == changed
        assert draft_coupon(code).offer
    else:
        assert code.mend


# --- the draft ---------------------------------------------------------------------------


def test_draft_keeps_what_is_printed_and_leaves_the_products() -> None:
    drafted = coupon(C1)
    assert drafted.gives == CentsOff(cents=150)
    assert drafted.asks == (
        AskDraft(units=1, of="family 120 of company 0614141"),
        AskDraft(units=1, of="family 140 of company 0614141 or family 256 of company 0012666"),
    )
    assert (drafted.legible, drafted.until, drafted.issuer) == (
        "0614141-654321",
        "2010-12-31",
        "manufacturer",
    )
    assert draft_coupon(read(C1)).sure


def test_requirements_that_differ_in_number_are_two_ways() -> None:
    drafted = coupon(C2)
    assert drafted.asks == (AskDraft(units=1, of="family 650 of company 0614141"),)
    assert drafted.other_ways == ((AskDraft(units=3, of="family 850 of company 0614141"),),)
    assert not draft_coupon(read(C2)).sure


def test_free_item_is_of_the_named_purchase() -> None:
    assert coupon(C3).gives == FreeItem(leg=0)
    assert coupon(C4).gives == FreeItem(up_to_cents=89, leg=0)
    assert coupon(T2).gives == FreeItem(up_to_cents=100, leg=2)
    assert coupon(T2).may_multiply is False
    assert coupon(ONE_OF_TWO_FREE).gives == FreeItem()
    assert coupon(ONE_OF_TWO_FREE).asks[0].units == 2


def test_percent_money_and_store_flag() -> None:
    assert coupon(PERCENT).gives == PercentOff(bp=2000)
    assert coupon(MONEY_ASKED).gives == BasketOff(cents=300, from_cents=1500)
    assert coupon(C6).gives == BasketOff(cents=500, from_cents=0)
    assert coupon(STORE_COUPON).issuer == "store"


@pytest.mark.parametrize(
    ("digits", "word"),
    [
        ("106141416543211211012092000", "2 items free"),
        ("1061414165432127531503120", "weight"),
        (BASE + "131101239", "rules code 3"),
        (BASE[:14] + "0" + BASE[15:], "a value of nothing"),
        (BASE + "90100", "does not name"),
    ],
)
def test_what_the_engine_does_not_know_is_asked_never_guessed(digits: str, word: str) -> None:
    draft = draft_coupon(read(digits))
    assert isinstance(draft.offer, CouponDraft)
    assert draft.offer.gives is None
    assert any(word in question.why for question in draft.questions)


# --- expired, copied, paperless ------------------------------------------------------------


def test_expired_code_is_told() -> None:
    standing = standing_of(read(C6), "2026-12-05", ())
    assert (standing.dates, standing.known) == ("expired", "new")
    assert "expired on 31 December 2010" in standing.sentences[0]
    assert standing_of(read(C6), "2010-12-31", ()).dates == "good"


def test_code_that_starts_later_is_told() -> None:
    assert standing_of(read(BASE + "4261206"), "2026-12-05", ()).dates == "not_yet"


def test_same_serial_is_a_copy_and_same_code_a_further_one() -> None:
    numbered = BASE + "50123456"
    copied = standing_of(read(numbered), "2026-12-05", [f"(8110){numbered}"])
    assert copied.known == "same_serial"
    assert "fraud" in copied.sentences[0]
    assert standing_of(read(BASE), "2026-12-05", [BASE, "no code"]).known == "same_code"
    assert standing_of(read(numbered), "2026-12-05", [BASE + "50123457"]).known == "new"


def test_paperless_coupon_gives_its_identifiers_only() -> None:
    assert read_paperless_code("(8112)0106141416543210123456") == PaperlessCode(
        funder="0614141", offer="654321", serial="123456"
    )
    wrong = read_paperless_code("81122106141416543210123456")
    assert isinstance(wrong, CodeError)
    assert wrong.field == "format"
    longer = read_paperless_code("811201061414165432101234567")
    assert isinstance(longer, CodeError)
    assert longer.field == "after the last field"
