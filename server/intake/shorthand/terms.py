"""The terms beside an offer: its dates, limits, form, and what else is said of how it may be used."""

from __future__ import annotations

from datetime import date
from typing import Literal

import msgspec

from .dates import Resolved, Written, date_at, resolve, resolve_before
from .tokens import SIZES, Stream

Field = Literal[
    "until",
    "from_date",
    "dates",
    "limit",
    "may_multiply",
    "form",
    "issuer",
    "where",
    "coupon",
    "must_buy",
    "regular_cents",
    "sale",
    "clearance",
    "mixes",
    "rolls",
    "copies",
    "",
]


class Term(msgspec.Struct, frozen=True, kw_only=True):
    """One term, up to token ``end``. ``number`` and ``text`` hold its value; ``since`` the start of a range.

    ``field`` "" means: recognised but not usable; its words stay and ``why`` says what is wrong with them.
    """

    end: int
    field: Field
    number: int = 0
    text: str = ""
    since: str = ""
    why: str = ""


_UNTIL = (
    *("exp", "expires", "expiring", "expiry", "expiration", "expire", "expired", "ex", "thru", "through"),
    *("until", "til", "till", "ends", "ending", "end", "by", "exp date", "expires on", "ends on"),
    *("expiration date", "valid thru", "valid through", "valid until", "valid till", "good thru"),
    *("good through", "good until", "good till", "sale ends", "offer ends", "offer expires", "use by"),
)
_FROM = (
    *("starts", "starting", "from", "begins", "beginning", "valid", "good", "effective", "valid from"),
    *("good from", "sale starts", "starts on", "starting on", "start"),
)
_TO = ("thru", "through", "to", "until", "til", "till")
# Forms that the binder has no word of its own for are kept as the place where it was found.
_PLACES = ("tear pad", "tearpad", "blinkie", "mailer", "home mailer", "in ad", "magazine", "booklet")
_MAKER = ("manufacturer", "manufacturers", "manufacturer's", "mfr", "mfg", "manuf", "mfgr")

# Terms that are fixed words: field, number, text, and every way to write it.
_FIXED: tuple[tuple[Field, int, str, tuple[str, ...]], ...] = (
    (
        "may_multiply",
        0,
        "",
        (
            *("dnd", "do not double", "does not double", "don't double", "doesn't double", "no doubling"),
            *(
                "no doubles",
                "no double",
                "non doubling",
                "not doubled",
                "not to be doubled",
                "do not multiply",
            ),
            *("do not double or triple", "may not be doubled", "cannot be doubled"),
        ),
    ),
    ("may_multiply", 1, "", ("doubles", "may be doubled", "can be doubled", "will double", "may double")),
    ("form", 0, "digital", ("digital", "digitals", "load to card", "loadable")),
    ("form", 0, "printable", ("printable", "printables", "print", "printed")),
    ("form", 0, "insert", ("insert", "newspaper", "sunday paper", "newspaper insert")),
    (
        "form",
        0,
        "on_package",
        (
            *("peelie", "peelies", "on package", "on pack", "on the package", "in package", "sticker"),
            *("hang tag", "hangtag", "neck tag", "neck hanger"),
        ),
    ),
    ("form", 0, "register", ("printed at the register", "printed at register", "at the register")),
    ("issuer", 0, "store", ("store coupon", "store coupons", "store cpn", "store q")),
    ("issuer", 0, "manufacturer", _MAKER),
    (
        "issuer",
        0,
        "manufacturer",
        tuple(f"{maker} {coupon}" for maker in _MAKER for coupon in ("coupon", "coupons", "cpn", "q")),
    ),
    ("coupon", 1, "", ("coupon", "coupons", "cpn", "cpns", "q")),
    ("clearance", 1, "", ("clearance", "clearanced")),
    ("sale", 1, "", ("sale", "on sale")),
    ("mixes", 1, "", ("mix and match", "mix & match", "mix or match", "mix n match")),
    ("rolls", 0, "", ("does not roll", "doesn't roll", "no rolling", "non rolling", "won't roll")),
    ("rolls", 1, "", ("rolls", "will roll", "rolling")),
)
_BY_FIRST_WORD: dict[str, list[tuple[Field, int, str, str]]] = {}
for _field, _number, _text, _ways in _FIXED:
    for _words in _ways:
        _BY_FIRST_WORD.setdefault(_words.split()[0], []).append((_field, _number, _text, _words))
_WITH = ("with", "w", "/", "after", "use", "using", "a")  # "with a digital coupon"
_MUST_BUY = ("must buy", "mb", "when you buy all", "in multiples of", "must purchase", "must buy all")
_REGULAR = ("reg", "regular", "regularly", "regular price", "reg price", "was", "orig", "originally")
_PER: dict[str, str] = {
    **dict.fromkeys(
        ("transaction", "transactions", "trans", "tx", "order", "purchase", "checkout"), "transaction"
    ),
    **dict.fromkeys(("visit", "trip", "shopping"), "visit"),
    **dict.fromkeys(("day",), "day"),
    **dict.fromkeys(
        ("household", "hh", "customer", "person", "shopper", "account", "card", "family", "guest", "member"),
        "household",
    ),
}
_LIKE = (
    "like coupons",
    "identical coupons",
    "like",
    "identical",
    "coupons",
    "coupon",
    "items",
    "units",
    "total",
    "free",
)


def term_at(stream: Stream, at: int, today: date) -> Term | None:
    """The term that stands at a place, None if there is none."""
    return (
        _dates(stream, at, today)
        or _limit(stream, at)
        or _place_found(stream, at)
        or _fixed(stream, at)
        or _with_number(stream, at)
    )


def _fixed(stream: Stream, at: int) -> Term | None:
    """The longest term of fixed words, with "with a" and the like before it."""
    start = stream.skip(at, *_WITH)
    best: Term | None = None
    for field, number, text, words in _BY_FIRST_WORD.get(stream.word(start), ()):
        end = stream.phrase(start, words)
        if end > (best.end if best else start):
            best = Term(end=end, field=field, number=number, text=text)
    return best


def _with_number(stream: Stream, at: int) -> Term | None:
    """``must buy 10``, ``reg $3.99``, ``4 copies``."""
    must = stream.phrase(at, *_MUST_BUY)
    if must > at:
        count = stream.number(must)
        return Term(end=must + 1 if count else must, field="must_buy", number=count)
    regular = stream.phrase(at, *_REGULAR)
    if regular > at:
        cents, end = stream.amount(regular)
        if cents:
            end = stream.phrase(end, "each", "ea")
            return Term(end=end, field="regular_cents", number=cents)
    held = stream.phrase(at, "have", "i have")
    count = stream.number(held)
    copies = stream.phrase(held + 1, "copies", "copy", "of them") if count else held + 1
    if count and copies > held + 1:
        return Term(end=copies, field="copies", number=count)
    return None


def _place_found(stream: Stream, at: int) -> Term | None:
    """``insert 11/22``: the insert's date tells where it is, not when it ends. ``tear pad`` too."""
    insert = stream.phrase(at, "insert", "newspaper", "sunday paper", "newspaper insert")
    if insert > at and (written := date_at(stream, insert)) and written.month:
        return Term(end=written.end, field="where", text=stream.slice(at, written.end))
    place = stream.phrase(at, *_PLACES)
    return Term(end=place, field="where", text=stream.slice(at, place)) if place > at else None


# --- limits ---------------------------------------------------------------------------------


def _limit(stream: Stream, at: int) -> Term | None:
    """``limit 4``, ``lim 1 per transaction``, ``max 2``, ``one per household``, ``no limit``."""
    if stream.phrase(at, "no limit", "unlimited") > at:
        return Term(end=stream.phrase(at, "no limit", "unlimited"), field="limit", number=0)
    named = stream.phrase(
        at, "limit", "lim", "limit of", "limited to", "limit to", "max", "maximum", "no more than"
    )
    count = stream.number(named)
    if not count:
        return None
    end = stream.phrase(named + 1, *_LIKE)
    like = end > named + 1 and stream.word(end - 1) != "free"
    per = stream.skip(end, "per", "/", "in", "a", "each", "the", "same", "one")
    scope = _PER.get(stream.word(per), "") if per > end else ""
    if scope:
        after = per + 1
        after = stream.phrase(after, "trip") if stream.word(per) == "shopping" else after
        second = stream.skip(after, "per", "/", "a")
        if scope == "household" and second > after and stream.word(second) == "day":
            return Term(end=second + 1, field="limit", number=count, text="day")
        return Term(end=after, field="limit", number=count, text=scope)
    if per > end and stream.word(per) in ("coupon", "coupons"):
        return Term(end=per + 1, field="limit", number=count, text="coupon")
    if named == at:
        return None
    return Term(end=end, field="limit", number=count, text="like" if like else "")


# --- dates ----------------------------------------------------------------------------------


def _dates(stream: Stream, at: int, today: date) -> Term | None:
    until = stream.phrase(at, *_UNTIL)
    if until > at:
        until = stream.skip(until, "on", "date")
        written = date_at(stream, until)
        return _until(stream, written, today) if written else None
    since = stream.phrase(at, *_FROM)
    written = date_at(stream, since)
    if written is None or not written.month:
        return None
    to = stream.phrase(written.end, *_TO)
    last = date_at(stream, to)
    dashed = stream.between(written.end - 1).strip() in ("-", "–", "—")
    if last and (to > written.end or dashed):
        return _range(written, last, today)
    if since > at:
        resolved = resolve(written, today)
        return Term(
            end=written.end, field="from_date" if resolved.iso else "", text=resolved.iso, why=resolved.why
        )
    if (
        stream.word(written.end) in (*SIZES, "price", "off")
        or stream.word(at - 1) in ("of", "week", "wk")
        or not _plausible(written)
    ):
        return None
    resolved = resolve(written, today)
    why = resolved.why or f"{resolved.iso} stands without a word before it: read as the last day."
    return Term(end=written.end, field="until" if resolved.iso else "", text=resolved.iso, why=why)


def _until(stream: Stream, written: Written, today: date) -> Term:
    resolved: Resolved = resolve(written, today)
    return Term(end=written.end, field="until" if resolved.iso else "", text=resolved.iso, why=resolved.why)


def _range(first: Written, last: Written, today: date) -> Term:
    until = resolve(last, today)
    if not until.iso:
        return Term(end=last.end, field="", why=until.why)
    since = resolve_before(first, until.iso)
    if not since.iso:
        return Term(end=last.end, field="", why=since.why)
    return Term(end=last.end, field="dates", text=until.iso, since=since.iso, why=until.why or since.why)


def _plausible(written: Written) -> bool:
    """Whether two bare numbers look like a date at all: a month, a day, and not "1/2"."""
    return 1 <= written.month <= 12 and 1 <= written.day <= 31 and (written.year > 0 or written.day > 4)
