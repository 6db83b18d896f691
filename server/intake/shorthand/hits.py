"""What a pattern answers with, and what the patterns share: small words, and looking a few tokens ahead."""

from __future__ import annotations

import msgspec

from ..drafts import OfferDraft, Question
from .tokens import Stream

# Small words between the parts of an offer. They mean nothing more.
FILLERS = ("of", "on", "a", "an", "any", "your", "the", "/")
WHEN_YOU_BUY = (
    *("wyb", "when you buy", "when buying", "if you buy", "for buying"),
    *("with purchase of", "w/ purchase of", "w / purchase of"),
)
WHOLE_PURCHASE = ("transaction", "total", "basket", "order", "purchase", "everything", "bill", "storewide")
AHEAD = 8  # tokens that a pattern looks over: it keeps the time even

Gap = tuple[int, int]


class Hit(msgspec.Struct, frozen=True, kw_only=True):
    """An offer read up to token ``end``; the tokens of ``gaps`` (start, end) within are not part of it."""

    end: int
    offer: OfferDraft
    questions: tuple[Question, ...] = ()
    gaps: tuple[Gap, ...] = ()


def ask(field: str, why: str) -> tuple[Question, ...]:
    """One question, as the tuple that a hit holds."""
    return (Question(field=field, why=why),)


def gap(start: int, end: int) -> tuple[Gap, ...]:
    """The gap from ``start`` to ``end``, none if it is empty."""
    return ((start, end),) if end > start else ()


def seek(stream: Stream, at: int, *words: str) -> int | None:
    """Where one of ``words`` stands within a few tokens, with nothing but words and numbers before it."""
    for place in range(at, min(at + AHEAD + 1, len(stream))):
        if stream.word(place) in words:
            return place
        if stream.kind(place) not in ("word", "number"):
            return None
    return None
