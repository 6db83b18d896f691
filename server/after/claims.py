"""Rebates and set bonuses after the trip: what has become of each that can be claimed (``claimable.py``).

Each time of a claim is in one state. A ``ClaimNoted`` moves ``times`` of them:

    to claim -> claimed -> paid | refused       (paid or refused may also come at once)

and back by "to claim". What cannot move (claimed twice) changes nothing and is a finding. Times still to
be claimed after ``until`` have lapsed; a set bonus whose rebates are all claimed comes by itself and does
not lapse.

Worked: two soaps at 0.50 back each, claimed once, paid 0.50: 1 paid, 1 to claim, 0.50 pending.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

import msgspec

from ..engine.findings import Problem
from ..engine.money import round_half_up
from ..engine.offers import Rebate, SetBonus
from ..engine.papers import RebateClaim
from .books import Books
from .claimable import Claimable, ClaimKey, Proof, claimable
from .notes import ClaimNoted, ClaimState, Note
from .once import once
from .open_bonuses import OpenBonus, open_bonuses

Summary = Literal["to claim", "claimed", "paid", "refused", "lapsed"]

# From where the times of a state are taken, first choice first.
_FROM: dict[ClaimState, tuple[ClaimState, ...]] = {
    "claimed": ("to claim",),
    "paid": ("claimed", "to claim"),
    "refused": ("claimed", "to claim"),
    "to claim": ("claimed", "refused", "paid"),
}


class Claim(msgspec.Struct, frozen=True, kw_only=True):
    """One rebate (or set bonus) of one trip.

    ``times`` can be claimed, by the receipts; the five counts say where they stand (``lapsed`` are those
    still to claim after ``until``). ``promised_cents``: all times at face; ``paid_cents``: what came.
    ``words``: what to send in. ``state``: the most pressing one.
    """

    trip: str
    claim: str
    bonus: bool
    description: str
    day: str
    until: str
    times: int
    each_cents: int
    to_claim: int
    claimed: int
    paid: int
    refused: int
    lapsed: int
    paid_cents: int
    currency: str
    exponent: int
    needs_receipt: bool
    proofs: tuple[Proof, ...]
    words: str
    state: Summary

    @property
    def promised_cents(self) -> int:
        """All times at face."""
        return self.times * self.each_cents

    @property
    def pending_cents(self) -> int:
        """What may still come: to claim in time, or claimed and not yet answered."""
        return (self.to_claim + self.claimed) * self.each_cents

    @property
    def lapsed_cents(self) -> int:
        """What was not claimed in time."""
        return self.lapsed * self.each_cents

    def worth_cents(self, rebate_bp: int) -> int:
        """What it comes to: paid cents as paid, pending times at the shopper's worth of a rebate."""
        each = round_half_up(self.each_cents * rebate_bp, 10_000)
        return self.paid_cents + (self.to_claim + self.claimed) * each


class Claims(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """All claims, the earliest deadline first; bonuses still open; notes that could not be followed."""

    claims: tuple[Claim, ...]
    open_bonuses: tuple[OpenBonus, ...]
    findings: tuple[Problem, ...]

    def of_trip(self, trip: str) -> tuple[Claim, ...]:
        """The claims of one trip."""
        return _by_trip(self).get(trip, ())


@once
def _by_trip(claims: Claims) -> Mapping[str, tuple[Claim, ...]]:
    found: dict[str, tuple[Claim, ...]] = {}
    for claim in claims.claims:
        found[claim.trip] = (*found.get(claim.trip, ()), claim)
    return found


class _Followed(msgspec.Struct):
    """A claim while its notes are followed: how many times are in each state, and what came."""

    found: Claimable
    counts: dict[ClaimState, int]
    paid_cents: int = 0


@once
def claims_of(books: Books, today: str) -> Claims:
    """Every claim of every trip as it stands on ``today``."""
    found = claimable(books.trips)
    followed = {key: _Followed(each, _all_to_claim(each.claim)) for key, each in found.items()}
    findings = _follow(followed, books.notes)
    bonuses_come = _claimed_somewhere(followed)
    claims = [_written(each, today, bonuses_come) for each in followed.values()]
    claims.sort(key=lambda claim: (claim.until, claim.trip, claim.bonus, claim.claim))
    return Claims(
        claims=tuple(claims),
        open_bonuses=open_bonuses(books.trips, found.keys(), today),
        findings=tuple(findings),
    )


def second_thoughts(books: Books, note: Note, today: str) -> tuple[Problem, ...]:
    """What is wrong with writing this note down now: the findings that it would add."""
    before = set(claims_of(books, today).findings)
    after = claims_of(books.with_note(note), today).findings
    return tuple(finding for finding in after if finding not in before)


def _all_to_claim(claim: RebateClaim) -> dict[ClaimState, int]:
    return {"to claim": claim.times, "claimed": 0, "paid": 0, "refused": 0}


def _claimed_somewhere(followed: dict[ClaimKey, _Followed]) -> set[str]:
    """Rebates that were claimed at least once on some trip: a bonus over them comes by itself."""
    return {
        name
        for (_, name, bonus), each in followed.items()
        if not bonus and each.counts["claimed"] + each.counts["paid"]
    }


def _follow(followed: dict[ClaimKey, _Followed], notes: Sequence[Note]) -> list[Problem]:
    findings: list[Problem] = []
    for note in notes:
        what = note.what
        if not isinstance(what, ClaimNoted):
            continue
        at = followed.get((what.trip, what.claim, what.bonus))
        problem = _nothing_bought(note.id, what) if at is None else _move(at, note.id, what)
        if problem is not None:
            findings.append(problem)
    return findings


def _nothing_bought(note: str, what: ClaimNoted) -> Problem:
    mend = (
        "nothing that was bought on this trip counts for it: name another claim, or mend the reports"
        " of what went through the register"
    )
    return Problem(f"notes[{note}].claim", what.claim, mend)


def _move(at: _Followed, note: str, what: ClaimNoted) -> Problem | None:
    sources = _FROM[what.state]
    movable = sum(at.counts[source] for source in sources)
    if movable < what.times:
        already = ", ".join(f"{count} {state}" for state, count in at.counts.items() if count)
        mend = (
            f"only {movable} of {at.found.claim.times} can become “{what.state}” ({already}):"
            " correct the earlier note, or write fewer times"
            if movable
            else f"that is noted already ({already}): take the earlier note back first if it was wrong"
        )
        return Problem(f"notes[{note}].times", str(what.times), mend)
    left = what.times
    each = at.found.claim.cents // at.found.claim.times
    for source in sources:
        taken = min(left, at.counts[source])
        if source == "paid":
            # Taken back in the same proportion as it came.
            at.paid_cents -= round_half_up(at.paid_cents * taken, max(at.counts["paid"], 1))
        at.counts[source] -= taken
        left -= taken
    at.counts[what.state] += what.times
    if what.state == "paid":
        at.paid_cents += what.times * each if what.cents is None else what.cents
    return None


def _written(at: _Followed, today: str, comes: set[str]) -> Claim:
    trip, claim, offer = at.found.trip, at.found.claim, at.found.offer
    until = claim.until or "9999-12-31"
    to_claim = at.counts["to claim"]
    by_itself = isinstance(offer, SetBonus) and all(rebate in comes for rebate in offer.rebates)
    lapsed = to_claim if until < today and not by_itself else 0
    return Claim(
        trip=trip.id,
        claim=claim.rebate,
        bonus=claim.bonus,
        description=offer.description or offer.id,
        day=trip.day,
        until=until,
        times=claim.times,
        each_cents=claim.cents // claim.times,
        to_claim=to_claim - lapsed,
        claimed=at.counts["claimed"],
        paid=at.counts["paid"],
        refused=at.counts["refused"],
        lapsed=lapsed,
        paid_cents=at.paid_cents,
        currency=trip.currency,
        exponent=trip.exponent,
        needs_receipt=isinstance(offer, Rebate) and offer.needs_receipt,
        proofs=at.found.proofs,
        words=at.found.words,
        state=_state(at.counts, lapsed),
    )


def _state(counts: dict[ClaimState, int], lapsed: int) -> Summary:
    if lapsed:
        return "lapsed"
    order: tuple[ClaimState, ...] = ("to claim", "claimed", "paid", "refused")
    return next(state for state in order if counts[state])
