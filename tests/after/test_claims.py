"""Promise kept here: what was bought can be claimed, once, in time; what cannot is told with its mend."""

from __future__ import annotations

from counterfoil.after.claims import Claim, claims_of, second_thoughts
from counterfoil.after.notes import ClaimNoted, ClaimState, Note, TakenBack
from counterfoil.engine.papers import Event, Undone

from .month import WEEK_44_EVENTS, books, claim_note, first_week, note


def soap_back(*rows: Note, today: str = "2026-11-03") -> Claim:
    (claim,) = (each for each in claims_of(books(*rows), today).claims if each.claim == "soap-back")
    return claim


def counts(claim: Claim) -> dict[str, int]:
    names = ("to_claim", "claimed", "paid", "refused", "lapsed")
    return {name: getattr(claim, name) for name in names if getattr(claim, name)}


def test_what_was_bought_can_be_claimed_until_so_many_days_after() -> None:
    """Bought on the offer's last day; the claim is due seven days later, though the offer has ended."""
    claim = soap_back()

    assert (claim.times, claim.each_cents, claim.promised_cents, claim.until) == (2, 75, 150, "2026-11-07")
    assert claim.words == "Needs the receipt: 2 × Lathrin soap, 4 bars from Ostrel Pharmacy, 31 October 2026."
    assert counts(claim) == {"to_claim": 2}


def test_a_rebate_planned_and_not_bought_cannot_be_claimed() -> None:
    claims = claims_of(first_week(), "2026-11-03").claims

    assert [claim.claim for claim in claims] == ["soap-back"]


def test_each_time_goes_its_own_way() -> None:
    claim = soap_back(
        claim_note("n1", "2026-11-02", "claimed", times=2),
        claim_note("n2", "2026-11-20", "paid", cents=75),
        claim_note("n3", "2026-11-21", "refused"),
        today="2026-11-30",
    )

    assert counts(claim) == {"paid": 1, "refused": 1}
    assert (claim.paid_cents, claim.pending_cents, claim.state) == (75, 0, "paid")


def test_after_its_deadline_a_time_has_lapsed() -> None:
    assert counts(soap_back(today="2026-11-07")) == {"to_claim": 2}
    late = soap_back(claim_note("n1", "2026-11-02", "claimed"), today="2026-11-08")
    assert counts(late) == {"claimed": 1, "lapsed": 1}
    assert (late.lapsed_cents, late.state) == (75, "lapsed")


def test_claiming_twice_changes_nothing_and_is_told() -> None:
    rows = (
        claim_note("n1", "2026-11-02", "claimed", times=2),
        claim_note("n2", "2026-11-03", "claimed"),
    )
    claims = claims_of(books(*rows), "2026-11-03")

    assert counts(soap_back(*rows)) == {"claimed": 2}
    assert [(each.field, each.value) for each in claims.findings] == [("notes[n2].times", "1")]
    assert "that is noted already (2 claimed)" in claims.findings[0].mend


def test_it_is_told_before_it_is_written_down() -> None:
    once = claim_note("n1", "2026-11-02", "claimed", times=2)
    again = claim_note("n2", "2026-11-03", "claimed")

    assert second_thoughts(books(), once, "2026-11-03") == ()
    assert len(second_thoughts(books(once), again, "2026-11-03")) == 1
    assert second_thoughts(books(once), note("n2", "2026-11-03", TakenBack(note="n1")), "2026-11-03") == ()


def test_a_claim_taken_up_again_gives_its_money_back() -> None:
    claim = soap_back(
        claim_note("n1", "2026-11-02", "paid", times=2, cents=150), claim_note("n2", "2026-11-03", "to claim")
    )

    assert (counts(claim), claim.paid_cents) == ({"to_claim": 1, "paid": 1}, 75)


def test_a_corrected_purchase_corrects_its_claims() -> None:
    """The soaps were taken back: what was claimed for them is told, and nothing is left to claim."""
    undo = Event(
        id="week-44-99", device="phone", counter=99, at="", trip="week-44", what=Undone(event="week-44-01")
    )
    claims = claims_of(
        first_week(claim_note("n1", "2026-11-02", "claimed"), week_44=(*WEEK_44_EVENTS, undo)), "2026-11-03"
    )

    assert claims.claims == ()
    assert "nothing that was bought on this trip counts for it" in claims.findings[0].mend


def test_an_open_set_bonus_says_what_is_missing() -> None:
    (bonus,) = claims_of(first_week(), "2026-11-03").open_bonuses

    assert (bonus.cents, bonus.done, bonus.until) == (100, ("soap-back",), "2026-11-30")
    assert bonus.missing == (
        "Two teas, 40 cents back: 1 more of Hobrin tea, 20 bags, bought by 30 November 2026.",
    )


def test_a_set_bonus_can_no_longer_be_completed_when_an_offer_has_ended() -> None:
    assert claims_of(first_week(), "2026-12-01").open_bonuses == ()


def test_a_set_bonus_can_be_completed_on_a_later_trip() -> None:
    claims = claims_of(books(), "2026-11-07")

    assert [(each.trip, each.claim, each.bonus, each.until) for each in claims.claims] == [
        ("week-44", "soap-back", False, "2026-11-07"),
        ("week-45", "both", True, "2026-11-07"),
        ("week-45", "tea-back", False, "2026-11-14"),
    ]
    assert claims.open_bonuses == ()


def bonus_after(*states: tuple[str, str, ClaimState]) -> Claim:
    rows = [
        note(f"n{number}", "2026-11-06", ClaimNoted(trip=trip, claim=claim, state=state))
        for number, (trip, claim, state) in enumerate(states)
    ]
    (bonus,) = (each for each in claims_of(books(*rows), "2026-11-30").claims if each.bonus)
    return bonus


def test_a_set_bonus_comes_by_itself_once_its_rebates_are_claimed() -> None:
    both = bonus_after(("week-44", "soap-back", "claimed"), ("week-45", "tea-back", "claimed"))

    assert (both.to_claim, both.lapsed) == (1, 0)
    assert bonus_after(("week-44", "soap-back", "claimed")).lapsed == 1


def test_an_offer_that_two_trips_carry_has_one_limit() -> None:
    """A tea was bought on the first trip and two on the second; 0.40 for two, once: the limit is 1."""
    twice = [claim for claim in claims_of(books(), "2026-11-07").claims if claim.claim == "tea-back"]

    assert [(claim.trip, claim.times) for claim in twice] == [("week-45", 1)]


def test_a_rebate_counts_at_her_worth_until_it_is_paid() -> None:
    assert soap_back().worth_cents(9_000) == 2 * 68
    paid = soap_back(claim_note("n1", "2026-11-02", "paid", cents=70))
    assert paid.worth_cents(9_000) == 70 + 68
