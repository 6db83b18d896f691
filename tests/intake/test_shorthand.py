"""The trade's shorthand is read as the table says: no word is lost, no text a crash, no guess silent."""

from __future__ import annotations

from collections import Counter
from datetime import date
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.engine.offers import (
    BasketOff,
    BuyOneGetOne,
    CentsOff,
    FixedPrice,
    FreeItem,
    NForM,
    PercentOff,
)
from counterfoil.intake.drafts import CouponDraft, DealDraft, Draft, Paste
from counterfoil.intake.shorthand import LONGEST_PASTE, read_shorthand

from .shorthand_cases import CASES, PASTES, TODAY, Case


def short(value: object) -> str:
    """What is given, in a word: ``100 off``, ``500 off from 2500``, ``2000bp``, ``free``, ``2 for 500``."""
    match value:
        case CentsOff(cents=cents):
            return f"{cents} off"
        case BasketOff(cents=cents, from_cents=spend):
            return f"{cents} off from {spend}"
        case PercentOff(bp=bp):
            return f"{bp}bp"
        case FreeItem(leg=0):
            return "free 1 of 1 and 2"
        case FreeItem(off_bp=10_000, up_to_cents=cap):
            return f"free up to {cap}" if cap else "free"
        case FixedPrice(cents=cents):
            return f"for {cents}"
        case NForM(n=n, cents=cents, must_buy=must_buy):
            return f"{n} for {cents}" + (" whole groups" if must_buy else "")
        case BuyOneGetOne(off_bp=bp):
            return f"second {bp}bp off"
        case None:
            return "nothing"
        case _:
            return repr(value)


def fields_of(draft: Draft) -> tuple[str, dict[str, Any]]:
    """The kind of a draft and its fields that are not at their defaults, as the table writes them."""
    offer = draft.offer
    whole = msgspec.to_builtins(offer)
    kind = whole.pop("kind")
    fields: dict[str, Any] = {
        name: value for name, value in whole.items() if value not in (None, "", False, [], ())
    }
    if isinstance(offer, CouponDraft):
        fields |= {"gives": short(offer.gives), "units": offer.asks[0].units}
        del fields["asks"]
        if offer.may_multiply is not None:
            fields["may_multiply"] = offer.may_multiply
    if isinstance(offer, DealDraft) and offer.deal:
        fields["deal"] = short(offer.deal)
    if kind == "reward":
        fields = {**({"rolls": False} if whole["rolls"] is False else {}), **fields}
        if fields["by"] == "units":
            del fields["by"]
    return kind, fields


@pytest.mark.parametrize("case", CASES, ids=[case.text for case in CASES])
def test_shorthand(case: Case) -> None:
    paste = read_shorthand(case.text, TODAY)
    assert paste.unread == ()
    (draft,) = paste.drafts
    kind, fields = fields_of(draft)
    wanted = dict(case.fields)
    if kind == "reward":
        wanted.setdefault("threshold", 1)
    assert (kind, fields) == (case.kind, wanted)
    assert draft.words == case.words
    assert tuple(dict.fromkeys(question.field for question in draft.questions)) == case.asked
    assert draft.sure == (not case.asked)


@pytest.mark.parametrize(("text", "drafts", "unread"), PASTES)
def test_several_offers_in_a_paste(
    text: str, drafts: list[tuple[str, tuple[str, ...]]], unread: tuple[str, ...]
) -> None:
    paste = read_shorthand(text, TODAY)
    assert [(fields_of(draft)[0], draft.words) for draft in paste.drafts] == drafts
    assert paste.unread == unread


def test_the_table_is_long_enough_to_learn_from() -> None:
    assert len(CASES) >= 80
    assert len({case.text for case in CASES}) == len(CASES)


def test_line_of_terms_belongs_to_the_offer_before_it() -> None:
    (draft,) = read_shorthand("$1/2 soap\nexp 12/31, limit 4 per transaction", TODAY).drafts
    assert isinstance(draft.offer, CouponDraft)
    assert (draft.offer.until, draft.offer.per_transaction) == ("2026-12-31", 4)
    assert draft.text == "$1/2 soap\nexp 12/31, limit 4 per transaction"


def test_date_without_a_year_is_the_next_one_from_the_day_of_the_trip() -> None:
    def until(day: str) -> str | None:
        return read_shorthand("$1/1 exp 1/15", day).drafts[0].offer.until

    assert until("2026-12-05") == "2027-01-15"
    assert until("2027-01-15") == "2027-01-15"
    assert until("2027-01-16") == "2028-01-15"


def test_paste_that_is_too_long_is_not_read_at_all() -> None:
    paste = read_shorthand("$1/2 soap\n" * LONGEST_PASTE, TODAY)
    assert paste.problem is not None
    assert paste.drafts == ()
    assert "at most 20000 characters" in paste.problem.mend


# --- what always holds --------------------------------------------------------------------

PIECES = (
    *("$1/2", "2/$5", "B1G1", "BOGO", "50%", "off", "buy", "get", "spend", "save", "free", "up to", "$3.99"),
    *(
        "exp",
        "12/31",
        "limit",
        "4",
        "per",
        "transaction",
        "digital",
        "coupon",
        "wyb",
        "2",
        "/",
        "$",
        ",",
        ";",
    ),
    *(
        "gift card",
        "back",
        "must buy",
        "10",
        "for",
        "$10",
        "soap",
        "oat bars",
        "Sat",
        "thru",
        "-",
        "(",
        "each",
    ),
    *(
        "reg",
        "half",
        "price",
        "the 2nd",
        "points",
        "500",
        "your order",
        "1/2",
        "lb",
        "2026-12-31",
        "Feb 29",
        "\n",
    ),
    *(
        "9999999",
        "100 dollars",
        "¢",
        "75c",
        "0",
        "$0",
        "0%",
        "1000%",
        "99999999999",
        "1,000",
        "1.5",
        "2/29/27",
    ),
)
TEXTS = st.one_of(
    st.text(max_size=120),
    st.lists(st.sampled_from(PIECES), max_size=25).map(" ".join),
    st.lists(st.sampled_from(PIECES), max_size=25).map("".join),
)


def signs(texts: list[str]) -> Counter[str]:
    return Counter(sign for text in texts for sign in text if sign.isalnum())


def accounted(paste: Paste) -> list[str]:
    read = [reading.words for draft in paste.drafts for reading in draft.read]
    left = [words for draft in paste.drafts for words in draft.words]
    return [*read, *left, *paste.unread]


@settings(max_examples=500, deadline=None)
@given(TEXTS, st.dates())
def test_no_text_is_a_crash_and_every_word_is_accounted_for(text: str, day: date) -> None:
    paste = read_shorthand(text, day.isoformat())
    assert signs(accounted(paste)) == signs([text])
    for draft in paste.drafts:
        # What was read is within the engine's own limits.
        assert msgspec.json.decode(msgspec.json.encode(draft), type=Draft) == draft
        assert draft.read


@settings(max_examples=50, deadline=None)
@given(TEXTS)
def test_reading_again_gives_the_same(text: str) -> None:
    assert read_shorthand(text, TODAY) == read_shorthand(text, TODAY)
