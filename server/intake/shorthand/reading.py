"""A paste, line by line, into drafts: which words belong to which offer, and which are nobody's.

On a line, what stands before the first offer belongs to it, what follows an offer belongs to that one.
Where names come first ("oat bars 2/$5, jam 3/$4"), the words after the last comma belong to the next offer.
A line of terms alone ("exp 12/31, limit 4") belongs to the offer before it.
"""

from __future__ import annotations

from datetime import date

import msgspec

from ..bad_input import Finding, shorten
from ..drafts import Draft, OfferDraft, Paste, Question, Reading
from .applying import apply
from .offers import offer_at
from .prices import ALONE
from .terms import Term, term_at
from .tokens import Stream

LONGEST_PASTE = 20_000  # characters: some hundred offers
# Terms that settle what an amount that stands alone is.
_TELL_A_PRICE = ("sale", "clearance", "regular_cents", "coupon", "issuer")
_LINE_ENDS = "\n\r;•|\u2028\u2029"

Span = tuple[int, int]


class _Open:
    """A draft in the making: its offer, what was read (token span, field), terms, questions, loose tokens."""

    def __init__(self) -> None:
        self.offer: OfferDraft | None = None
        self.read: list[tuple[Span, str]] = []
        self.terms: list[tuple[Span, Term]] = []
        self.questions: list[Question] = []
        self.loose: list[int] = []


class _Terms(msgspec.Struct, frozen=True, kw_only=True):
    """A line of terms alone: each with its words."""

    terms: tuple[tuple[str, Term], ...]


def read_shorthand(text: str, day: str) -> Paste:
    """All offers in ``text``, read on the trip's ``day`` (an ISO date), and the lines without one.

    Never raises for any text; ``day`` must be a date. A text above 20,000 characters is not read at all:
    ``problem`` says so.
    """
    today = date.fromisoformat(day)
    if len(text) > LONGEST_PASTE:
        mend = f"paste at most {LONGEST_PASTE} characters at a time: here are {len(text)}"
        return Paste(problem=Finding(field="paste", value=shorten(text[:40]), mend=mend))
    drafts: list[Draft] = []
    unread: list[str] = []
    for line in _lines(text):
        found = _read_line(line, today)
        if found is None:
            unread.append(line)
        elif isinstance(found, list):
            drafts += found
        elif drafts and (longer := _with_terms(drafts[-1], line, found)):
            drafts[-1] = longer
        else:
            unread.append(line)
    return Paste(drafts=tuple(drafts), unread=tuple(unread))


def _lines(text: str) -> list[str]:
    lines: list[str] = []
    start = 0
    for place, letter in enumerate(text + "\n"):
        if letter in _LINE_ENDS:
            line = text[start:place].strip()
            start = place + 1
            if any(sign.isalnum() for sign in line):
                lines.append(line)
    return lines


def _read_line(line: str, today: date) -> list[Draft] | _Terms | None:
    """The drafts of a line; a line that is nothing but terms as it stands; None where no offer was found."""
    stream = Stream(line)
    every = [_Open()]
    at = 0
    while at < len(stream):
        current = every[-1]
        if term := term_at(stream, at, today):
            current.terms.append(((at, term.end), term))
            at = term.end
        elif hit := offer_at(stream, at):
            if current.offer is not None:
                every.append(_next(stream, every[0], current, at))
                current = every[-1]
            current.offer = hit.offer
            current.questions += hit.questions
            start = at
            for gap_start, gap_end in hit.gaps:
                current.read.append(((start, gap_start), "offer"))
                current.loose += range(gap_start, gap_end)
                start = gap_end
            if hit.end > start:
                current.read.append(((start, hit.end), "offer"))
            at = hit.end
        else:
            current.loose.append(at)
            at += 1
    if every[0].offer is None:
        return _terms_alone(stream, every[0])
    return [_close(stream, line, draft) for draft in every]


def _next(stream: Stream, first: _Open, current: _Open, at: int) -> _Open:
    """The draft that begins at a place; in a list of names it takes the words after the last comma along."""
    begun = _Open()
    names_first = bool(first.loose) and first.loose[0] < first.read[0][0][0]
    last_read = max(spans[-1][0][1] for spans in (current.read, current.terms) if spans)
    commas = stream.tokens[at].comma_before
    if names_first and stream.tokens[last_read - 1].comma_before < commas:
        while current.loose and current.loose[-1] >= last_read:
            if stream.tokens[current.loose[-1]].comma_before != commas:
                break
            begun.loose.insert(0, current.loose.pop())
    return begun


def _close(stream: Stream, line: str, draft: _Open) -> Draft:
    offer = draft.offer
    assert offer is not None
    read, loose, questions = list(draft.read), list(draft.loose), list(draft.questions)
    # A coupon's own words first: they decide what kind of offer the other terms belong to.
    for span, term in sorted(
        draft.terms, key=lambda spanned: spanned[1].field not in ("coupon", "issuer", "form")
    ):
        applied = apply(offer, term)
        if applied is None:
            loose += range(*span)
            if term.why:
                questions.append(Question(field="until", why=term.why))
            continue
        offer, asked = applied
        questions += asked
        read.append((span, term.field))
    if any(reading in _TELL_A_PRICE for _span, reading in read):
        questions = [question for question in questions if question.why != ALONE]
    return Draft(
        text=line,
        offer=offer,
        read=tuple(Reading(field=field, words=stream.slice(*span)) for span, field in sorted(read)),
        words=_slices(stream, sorted(loose)),
        questions=tuple(questions),
    )


def _slices(stream: Stream, loose: list[int]) -> tuple[str, ...]:
    """The loose tokens verbatim, neighbours in one piece; marks that stand alone are dropped."""
    slices: list[str] = []
    start = 0
    for place in range(1, len(loose) + 1):
        if place < len(loose) and loose[place] == loose[place - 1] + 1:
            continue
        piece = stream.slice(loose[start], loose[place - 1] + 1)
        if any(sign.isalnum() for sign in piece):
            slices.append(piece)
        start = place
    return tuple(slices)


# --- a line of terms alone ------------------------------------------------------------------


def _terms_alone(stream: Stream, line: _Open) -> _Terms | None:
    if not line.terms or any(stream.kind(place) != "mark" for place in line.loose):
        return None
    return _Terms(terms=tuple((stream.slice(*span), term) for span, term in line.terms))


def _with_terms(draft: Draft, line: str, alone: _Terms) -> Draft | None:
    """The draft with the terms of the line after it; None where none of them is one of its kind."""
    offer, read, words, questions = draft.offer, list(draft.read), list(draft.words), list(draft.questions)
    for written, term in alone.terms:
        applied = apply(offer, term)
        if applied is None:
            words.append(written)
            if term.why:
                questions.append(Question(field="until", why=term.why))
            continue
        offer, asked = applied
        questions += asked
        read.append(Reading(field=term.field, words=written))
    if len(read) == len(draft.read):
        return None
    return Draft(
        text=f"{draft.text}\n{line}",
        offer=offer,
        read=tuple(read),
        words=tuple(words),
        questions=tuple(questions),
    )
