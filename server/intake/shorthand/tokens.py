"""Free text as tokens: words, numbers, amounts of money, percents, the few marks that mean something.

One pass over the letters, no regular expressions: time grows with the length of the text and no faster.
Every letter and digit belongs to one token, and a token knows its place in the text, so that what is not
understood can be handed back verbatim.
"""

from __future__ import annotations

from functools import cache
from typing import Literal

import msgspec

# number: value as written; decimal: hundredths ("3.99"); money: cents; percent: basis points.
TokenKind = Literal["word", "number", "decimal", "money", "percent", "mark"]

MOST_CENTS = 10_000_000  # as the engine's: a number above it is left as a word
_MARKS_THAT_MEAN = "/@+&#"  # other marks only part words from each other
# Words after which digits are a token of their own ("exp12/31"); in others they belong to it ("b1g1").
_ENDS_BEFORE_DIGITS = ("exp", "bogo", "limit", "lim", "buy", "get", "thru", "for", "off", "ends", "save")
_ORDINALS = ("st", "nd", "rd", "th")

# After a number these make it a size: neither money nor a date.
SIZES = (
    *(
        "lb",
        "lbs",
        "oz",
        "fl",
        "gal",
        "gallon",
        "pint",
        "pt",
        "qt",
        "quart",
        "cup",
        "ct",
        "count",
        "inch",
        "in",
    ),
    *("l", "ml", "liter", "liters", "g", "kg", "pk", "pack", "ounce", "ounces"),
)
_COUNTING = (
    *("one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
NUMBER_WORDS = {word: value for value, word in enumerate(_COUNTING, start=1)}


class Token(msgspec.Struct, frozen=True):
    """``word``: the letters in lower case (of a mark, the mark). ``start``/``end``: its place in the text.

    ``comma_before``: how many commas stand before it: names and offers in a list are told apart by them."""

    kind: TokenKind
    start: int
    end: int
    word: str = ""
    value: int = 0
    comma_before: int = 0


class Stream:
    """The tokens of one line, with questions that patterns ask of a place in it."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.tokens = _tokens(text)

    def __len__(self) -> int:
        return len(self.tokens)

    def kind(self, at: int) -> str:
        """The kind of the token at a place, "" beyond the end."""
        return self.tokens[at].kind if 0 <= at < len(self.tokens) else ""

    def word(self, at: int) -> str:
        """The word or mark at a place, "" if something else stands there."""
        return self.tokens[at].word if 0 <= at < len(self.tokens) else ""

    def slice(self, start: int, end: int) -> str:
        """The text from token ``start`` up to, not including, token ``end``, verbatim."""
        return self.text[self.tokens[start].start : self.tokens[end - 1].end]

    def between(self, at: int) -> str:
        """What stands in the text between token ``at`` and the one after it."""
        return self.text[self.tokens[at].end : self.tokens[at + 1].start] if at + 1 < len(self.tokens) else ""

    def phrase(self, at: int, *phrases: str) -> int:
        """The place after the longest of ``phrases`` that stands at ``at``; ``at`` itself if none does."""
        best, first = at, self.word(at)
        if not first:
            return at
        for phrase in phrases:
            parts = _parts(phrase)
            if parts[0] != first or at + len(parts) <= best:
                continue
            if all(self.word(at + place) == part for place, part in enumerate(parts)):
                best = at + len(parts)
        return best

    def skip(self, at: int, *words: str) -> int:
        """The place after any run of ``words`` (at most eight)."""
        for _ in range(8):
            if self.word(at) not in words or not self.word(at):
                break
            at += 1
        return at

    def number(self, at: int) -> int:
        """The whole number from 1 to 100 at a place, in digits or as a word; 0 if there is none."""
        if self.kind(at) == "number":
            value = self.tokens[at].value
            return value if 1 <= value <= 100 else 0
        return NUMBER_WORDS.get(self.word(at), 0)

    def units(self, at: int) -> int:
        """The number at a place as a count of packs; 0 if a unit of size follows it ("12 oz", "3-pack")."""
        return 0 if self.word(at + 1) in SIZES else self.number(at)

    def after_units(self, at: int) -> int:
        """The place after a count, which coupons like to print twice: "TWO (2)"."""
        twice = self.kind(at) == "word" and self.kind(at + 1) == "number" and "(" in self.between(at)
        return at + 2 if twice and self.number(at + 1) == self.number(at) else at + 1

    def amount(self, at: int) -> tuple[int, int]:
        """Cents at a place and the place after them: "$1.50", "75c", "75 cents", ".75", "5 dollars"; (0, at)
        if there is no amount. Only a decimal with two digits is one without its sign."""
        if self.kind(at) in ("money", "decimal"):
            return self.tokens[at].value, at + 1
        cents = {"cent": 1, "cents": 1, "dollar": 100, "dollars": 100}.get(self.word(at + 1), 0)
        if self.kind(at) == "number" and cents and self.tokens[at].value * cents <= MOST_CENTS:
            return self.tokens[at].value * cents, at + 2
        return 0, at

    def percent(self, at: int) -> tuple[int, int]:
        """Basis points (1 to 10,000) at a place and the place after; (0, at) if there are none."""
        if self.kind(at) == "percent":
            value = self.tokens[at].value
            return (value, at + 1) if 1 <= value <= 10_000 else (0, at)
        if self.kind(at) == "number" and self.word(at + 1) in ("percent", "pct"):
            value = self.tokens[at].value * 100
            return (value, at + 2) if 1 <= value <= 10_000 else (0, at)
        return 0, at


@cache
def _parts(phrase: str) -> list[str]:
    """The words of a phrase of the grammar; there are some hundred, each split once."""
    return phrase.split()


def _tokens(text: str) -> list[Token]:
    tokens: list[Token] = []
    at = commas = 0
    while at < len(text):
        letter = text[at]
        if letter == ",":
            commas += 1
        token = _token_at(text, at, commas)
        if token is None:
            at += 1
            continue
        tokens.append(token)
        at = token.end
    return tokens


def _token_at(text: str, at: int, commas: int) -> Token | None:
    letter = text[at]
    if letter == "$":
        digits_at = at + 2 if text[at + 1 : at + 2] == " " else at + 1
        whole, after, end = _digits(text, digits_at)
        if end > digits_at:
            cents = _hundredths(whole, after)
            if cents is not None and cents <= MOST_CENTS:
                return Token("money", at, end, value=cents, comma_before=commas)
            return Token("word", at, end, word=text[at:end], comma_before=commas)
        return None
    if _is_digit(letter) or (letter == "." and _is_digit(text[at + 1 : at + 2])):
        return _number_at(text, at, commas)
    if letter.isalnum():
        end = at
        while end < len(text) and (text[end].isalnum() or text[end] in "'’"):
            if _is_digit(text[end]) and text[at:end].casefold() in _ENDS_BEFORE_DIGITS:
                break
            end += 1
        while text[end - 1] in "'’":
            end -= 1
        return Token("word", at, end, word=text[at:end].casefold().replace("’", "'"), comma_before=commas)
    if letter in _MARKS_THAT_MEAN:
        return Token("mark", at, at + 1, word=letter, comma_before=commas)
    return None


def _number_at(text: str, at: int, commas: int) -> Token:
    whole, after, end = _digits(text, at)
    hundredths = _hundredths(whole, after)
    following = text[end : end + 1]
    letters = end
    while letters < len(text) and text[letters].isalpha():
        letters += 1
    suffix = text[end:letters].casefold()
    if hundredths is None or hundredths > MOST_CENTS:
        return Token("word", at, end, word=text[at:end], comma_before=commas)
    if following == "%":
        return Token("percent", at, end + 1, value=hundredths, comma_before=commas)
    if (following == "¢" or suffix == "c") and not after:
        return Token("money", at, end + 1, value=hundredths // 100, comma_before=commas)
    if suffix in _ORDINALS and not after:
        return Token("word", at, letters, word=text[at:letters].casefold(), comma_before=commas)
    if after:
        kind: TokenKind = "decimal" if len(after) == 2 and suffix in ("", "off", "ea", "each") else "word"
        return Token(
            kind,
            at,
            end,
            word="" if kind == "decimal" else text[at:end],
            value=hundredths,
            comma_before=commas,
        )
    return Token("number", at, end, value=hundredths // 100, comma_before=commas)


def _digits(text: str, at: int) -> tuple[str, str, int]:
    """The digits before and after the point at a place, and where they end. "1,000" is one number."""
    end = at
    while _is_digit(text[end : end + 1]) or (
        text[end : end + 1] == ","
        and end > at
        and end - at <= 3
        and all(_is_digit(text[end + place : end + place + 1]) for place in (1, 2, 3))
        and not _is_digit(text[end + 4 : end + 5])
    ):
        end += 1
    whole, after = text[at:end].replace(",", ""), ""
    if text[end : end + 1] == "." and _is_digit(text[end + 1 : end + 2]):
        start = end = end + 1
        while _is_digit(text[end : end + 1]):
            end += 1
        after = text[start:end]
    return whole, after, end


def _hundredths(whole: str, after: str) -> int | None:
    """``whole.after`` times a hundred, exactly; None where that is no whole number or too long."""
    if len(whole) > 7 or len(after) > 2:
        return None
    return int(whole or "0") * 100 + int(after.ljust(2, "0"))


def _is_digit(letter: str) -> bool:
    return len(letter) == 1 and letter in "0123456789"
