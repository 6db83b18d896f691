"""Buy so many and get so many, and what is simply free."""

from __future__ import annotations

from ...engine.offers import BuyOneGetOne, FreeItem
from ..drafts import AskDraft, CouponDraft, DealDraft
from .hits import WHEN_YOU_BUY, Gap, Hit, ask, gap, seek
from .tokens import Stream

_FREE_OF = (
    *("gluten", "sugar", "fat", "dairy", "lactose", "fragrance", "scent", "dye", "cage", "caffeine"),
    *("alcohol", "nut", "salt", "hands", "toll", "cruelty"),
)
_UP_TO = ("up to", "max", "max value", "maximum", "value up to", "up to a value of", "worth up to", "upto")


def buy_get_free(stream: Stream, at: int) -> Hit | None:
    """``B1G1``, ``BOGO 50%``, ``B2G1``, ``buy one get one free``, ``buy 1 get the second half off``."""
    counted = _letters(stream, at) or _spelled(stream, at)
    if counted is None:
        return None
    buy, get, end, gaps = counted
    off_bp, end, why = _discount(stream, end)
    cap = 0
    capped_at = stream.phrase(end, *_UP_TO)
    if capped_at > end:
        cap, after = stream.amount(capped_at)
        end = after if cap else end
    questions = ask("deal", why) if why else ()
    if why and not off_bp:
        return Hit(end=end, offer=DealDraft(), questions=questions, gaps=gaps)
    if buy == get == 1 and not cap:
        return Hit(end=end, offer=DealDraft(deal=BuyOneGetOne(off_bp=off_bp)), questions=questions, gaps=gaps)
    if buy + get > 100:
        return None
    if get > 1:
        offer = CouponDraft(asks=(AskDraft(units=buy + get),))
        questions = ask(
            "gives", f"The plan makes one unit cheaper, not {get}: enter it as the offer's words say."
        )
    else:
        gives = FreeItem(off_bp=off_bp, up_to_cents=cap or None)
        offer = CouponDraft(gives=gives, asks=(AskDraft(units=buy + get),))
        if buy > 1:
            why = (
                f"Buy {buy} get {get} is kept as a coupon: it asks for {buy + get}, the cheapest is reduced."
            )
            questions += ask("kind", why)
    return Hit(end=end, offer=offer, questions=questions, gaps=gaps)


def _letters(stream: Stream, at: int) -> tuple[int, int, int, tuple[Gap, ...]] | None:
    """``bogo``, ``b2g1``, ``b1g1f``: how many to buy, how many to get, the place after."""
    word = stream.word(at)
    if word in ("bogo", "bogof", "b1g1"):
        return 1, 1, at + 1, ()
    bare = word.removesuffix("f")
    parts = bare[1:].split("g") if bare.startswith("b") else []
    if len(parts) == 2 and all(part.isascii() and part.isdigit() and len(part) <= 2 for part in parts):
        buy, get = int(parts[0]), int(parts[1])
        return (buy, get, at + 1, ()) if buy and get else None
    return None


def _spelled(stream: Stream, at: int) -> tuple[int, int, int, tuple[Gap, ...]] | None:
    """``buy 2 oat bars get 1``: as ``_letters``, with the words in between."""
    if stream.word(at) != "buy" or not (buy := stream.number(at + 1)):
        return None
    get_at = seek(stream, at + 2, "get")
    if get_at is None:
        return None
    end = stream.skip(get_at + 1, "the", "a", "an")
    ordinal = stream.phrase(end, "2nd", "second", "3rd", "third", "another", "other")
    get = 1 if ordinal > end else stream.number(end)
    end = max(ordinal, end + 1) if get else end
    if not get or stream.amount(get_at + 1)[0]:
        return None
    named = (
        stream.word(end) not in ("free", "half", "at", "@") and not stream.percent(end)[0] and ordinal == end
    )
    if named and get > 1 and seek(stream, end, "free") is None:
        return None  # "buy 2 get 500 points" and the like belong to another pattern
    gaps = gap(at + 2, get_at)
    return buy, get, end, gaps


def _discount(stream: Stream, at: int) -> tuple[int, int, str]:
    """Basis points off after "B1G1" (free unless something else is written), the place after, and a doubt."""
    start = stream.skip(at, "@", "at", "for", "one")
    free = stream.phrase(start, "free", "f")
    if free > start:
        return 10_000, free, ""
    bp, after = stream.percent(start)
    if bp:
        return bp, stream.phrase(after, "off", "discount"), ""
    half = stream.phrase(start, "half off", "half price", "half", "1/2 off", "1/2 price")
    if half > start:
        return 5_000, half, ""
    if stream.kind(start) == "number" and stream.tokens[start].value in (25, 30, 40, 50, 60, 75):
        value = stream.tokens[start].value
        end = stream.phrase(start + 1, "off")
        return value * 100, end, f"{value} is read as {value}% off the second one."
    if start > at and stream.amount(start)[0]:
        return (
            0,
            stream.amount(start)[1],
            "The second one has a price of its own: the tag's deals have none such.",
        )
    return 10_000, at, ""


def free_item(stream: Stream, at: int) -> Hit | None:
    """``free (up to $3.99)``, ``free oat bars max $2``, ``free wyb 2``."""
    start = stream.phrase(at, "one free", "1 free", "get one free", "free")
    if stream.kind(at) == "number" and stream.number(at) == 1 and stream.word(at + 1) == "free":
        start = at + 2
    if start == at or stream.word(at - 1) in _FREE_OF or stream.word(start) in ("of", "shipping", "delivery"):
        return None
    bought = stream.phrase(start, *WHEN_YOU_BUY)
    if bought > start and (count := stream.number(stream.skip(bought, "any"))):
        end = stream.skip(bought, "any") + 1
        why = f"Read as: buy {count}, one more is free. The plan takes the cheapest of {count + 1}."
        offer = CouponDraft(gives=FreeItem(), asks=(AskDraft(units=count + 1),))
        return Hit(end=end, offer=offer, questions=ask("asks", why)) if count < 100 else None
    for gap_end in range(start, min(start + 7, len(stream))):
        capped_at = stream.phrase(gap_end, *_UP_TO)
        cents, end = stream.amount(capped_at)
        if capped_at > gap_end and cents:
            gaps = gap(start, gap_end)
            return Hit(end=end, offer=CouponDraft(gives=FreeItem(up_to_cents=cents)), gaps=gaps)
        bought = stream.phrase(gap_end, *WHEN_YOU_BUY)
        if bought > gap_end and (count := stream.units(stream.skip(bought, "any"))):
            # "free jam when you buy 2 bread": the free unit is of another kind than the bought ones.
            end = stream.after_units(stream.skip(bought, "any"))
            asks = (AskDraft(units=1), AskDraft(units=count))
            offer = CouponDraft(gives=FreeItem(leg=0), asks=asks)
            return Hit(end=end, offer=offer, gaps=gap(start, gap_end))
        if stream.kind(gap_end) not in ("word", "number", "mark"):
            break
    why = "Free, without a word on what to buy: read as a coupon for one free unit."
    return Hit(end=start, offer=CouponDraft(gives=FreeItem()), questions=ask("gives", why))
