"""Promise kept here: an answer stays with the facts that it follows from, and with no others."""

from __future__ import annotations

from counterfoil.after.claims import claims_of
from counterfoil.after.costs import category_costs
from counterfoil.after.refunds import refunds
from counterfoil.after.spending import spent

from .month import books, claim_note


def test_the_same_facts_are_reckoned_once() -> None:
    month = books()

    assert claims_of(month, "2026-11-08") is claims_of(month, "2026-11-08")
    assert spent(month) is spent(month)


def test_another_day_is_another_answer() -> None:
    month = books()
    soap, later = claims_of(month, "2026-11-01").claims[0], claims_of(month, "2026-12-01").claims[0]

    assert (soap.state, later.state) == ("to claim", "lapsed")
    assert claims_of(month, "2026-11-01").claims[0] == soap


def test_a_note_more_makes_other_facts() -> None:
    month = books()
    before = claims_of(month, "2026-11-01")
    after = claims_of(month.with_note(claim_note("n-1", "2026-11-01", "claimed")), "2026-11-01")

    assert (before.claims[0].claimed, after.claims[0].claimed) == (0, 1)
    assert claims_of(month, "2026-11-01") is before


def test_books_in_which_everything_was_asked_equal_books_in_which_nothing_was() -> None:
    asked = books()
    for answer in (spent(asked), refunds(asked), category_costs(asked, "2026-11-08")):
        assert answer

    assert asked == books()
