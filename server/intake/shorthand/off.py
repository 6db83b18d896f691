"""Money off and percents off: coupons, and a store's percent offers."""

from __future__ import annotations

from msgspec.structs import replace

from ...engine.money import show
from ...engine.offers import BasketOff, CentsOff, NForM, PercentOff
from ..drafts import AskDraft, CouponDraft, DealDraft, PercentDraft
from .hits import FILLERS, WHEN_YOU_BUY, WHOLE_PURCHASE, Hit, ask, gap, seek
from .tokens import MOST_CENTS, Stream

_LARGE_COUNT = 10  # "$5/25" is more likely $5.00 off $25 than off 25 units

_EACH = ("each", "ea", "apiece", "each one", "per item")
_UP_TO = "Up to so much: what it is for your product is not written."
_NOT_OFF = ("back", "more", "bonus")  # "get 20% back" is no price


def money_off(stream: Stream, at: int) -> Hit | None:
    """``$1/2``, ``75c off 2``, ``save $1 on ONE``, ``$5 off $25``, ``$5 off your order``."""
    start = stream.skip(at, "save", "extra", "take", "get", "receive", "enjoy")
    saved = any(stream.word(place) == "save" for place in range(at, start))
    up_to = stream.phrase(start, "up to")
    cents, after = stream.amount(up_to)
    if not cents:
        return None
    if up_to > start and (saved or stream.word(after) == "off"):
        end = stream.phrase(after, "off")
        return Hit(end=end, offer=_cents_off(cents, 1), questions=ask("gives", _UP_TO))
    if up_to > start:
        return None
    if stream.word(after) == "/" and stream.kind(after + 1) in ("number", "money", "word"):
        return _over_slash(stream, cents, after + 1)
    off = stream.phrase(after, "off", "off of", "on", "of", "instantly", "rebate at register")
    is_off = stream.word(after) == "off"
    if not is_off and not saved and not (stream.word(after) == "on" and stream.number(after + 1)):
        return None
    return _off(stream, cents, off if is_off or off > after else after)


def _over_slash(stream: Stream, cents: int, at: int) -> Hit | None:
    spend, end = stream.amount(at)
    if spend:
        return Hit(end=end, offer=_basket(cents, spend))
    count = stream.units(at)
    if not count:
        return None
    if count >= _LARGE_COUNT and cents >= 100:
        why = f"Read as {show(cents)} off a purchase of ${count}.00; it may be off {count} units."
        return Hit(end=at + 1, offer=_basket(cents, count * 100), questions=ask("gives", why))
    return Hit(end=at + 1, offer=_cents_off(cents, count))


def _off(stream: Stream, cents: int, at: int) -> Hit:
    """What follows "$1 off": so many, a spend, the whole purchase, or nothing (then one)."""
    buy = stream.phrase(stream.skip(at, *FILLERS[:7]), *WHEN_YOU_BUY)
    start = stream.skip(max(buy, at), *FILLERS, "purchase", "order", "orders", "purchases", "when", "spend")
    spend, end = stream.amount(start)
    if spend and cents < spend:
        end = stream.skip(end, "+", "or", "more", "purchase", "order", "total", "transaction")
        return Hit(end=end, offer=_basket(cents, spend))
    if count := stream.units(start):
        return _each(stream, cents, count, stream.after_units(start))
    whole = stream.skip(at, "your", "the", "any", "a", "an", "entire", "whole", "total")
    named = stream.word(whole) in WHOLE_PURCHASE and stream.word(whole - 1) != "next"
    if named or stream.word(whole - 1) == "total":
        end = whole + 1 if stream.word(whole) in WHOLE_PURCHASE else whole
        return Hit(end=end, offer=_basket(cents, 0))
    return Hit(end=stream.phrase(at, *_EACH), offer=_cents_off(cents, 1))


def _each(stream: Stream, cents: int, count: int, at: int) -> Hit:
    """So much off so many; "each" behind it makes it so much off every one."""
    end = stream.phrase(at, *_EACH)
    if end == at or count == 1 or cents * count > MOST_CENTS:
        return Hit(end=end, offer=_cents_off(cents, count))
    why = f"{show(cents)} off each of {count} is kept as {show(cents * count)} off all of them."
    return Hit(end=end, offer=_cents_off(cents * count, count), questions=ask("gives", why))


def buy_save(stream: Stream, at: int) -> Hit | None:
    """``buy 2 save $1``, ``buy 2 get $1 off``, ``buy 2 get 20% off``, ``buy 2 for $5``."""
    if stream.word(at) != "buy" or not (count := stream.number(at + 1)):
        return None
    verb = seek(stream, at + 2, "save", "get", "receive", "for", "take")
    if verb is None:
        return None
    gaps = gap(at + 2, verb)
    start = stream.skip(verb + 1, "a", "an", "extra", "and")
    cents, end = stream.amount(start)
    if stream.word(verb) == "for":
        deal = NForM(n=count, cents=cents) if cents and count > 1 else None
        return Hit(end=end, offer=DealDraft(deal=deal), gaps=gaps) if deal else None
    bp, percent_end = stream.percent(start)
    if bp:
        end = stream.phrase(percent_end, "off")
        gives = CouponDraft(gives=PercentOff(bp=bp), asks=(AskDraft(units=count),))
        return Hit(end=end, offer=gives, gaps=gaps)
    off = stream.phrase(end, "off", "instantly", "savings", "instant savings")
    if cents and (stream.word(verb) == "save" or off > end):
        return replace(_each(stream, cents, count, off), gaps=gaps)
    return None


def _cents_off(cents: int, units: int) -> CouponDraft:
    return CouponDraft(gives=CentsOff(cents=cents), asks=(AskDraft(units=units),))


def _basket(cents: int, spend: int) -> CouponDraft:
    return CouponDraft(gives=BasketOff(cents=cents, from_cents=spend))


def percent_off(stream: Stream, at: int) -> Hit | None:
    """``20% off``, ``save 20% on 2``, ``extra 20%``, ``half price``, ``20% off your order``."""
    start = stream.skip(at, "save", "extra", "take", "get", "an", "receive")
    half = _half(stream, start)
    up_to = stream.phrase(start, "up to")
    bp, after = (5_000, half) if half else stream.percent(up_to)
    off = stream.phrase(after, "off of", "off", "discount", "savings")
    if not bp or (off == after and start == at and not half) or stream.word(off) in _NOT_OFF:
        return None
    if up_to > start:
        return Hit(end=off, offer=PercentDraft(bp=bp), questions=ask("bp", _UP_TO))
    reach = stream.skip(off, "on", "of", "any", "your", "a", "an", "the", "entire", "whole", "total")
    spend, end = stream.amount(reach)
    if spend:
        end = stream.skip(end, "+", "or", "more", "purchase", "order", "total", "transaction")
        why = "A percent off from a spend on is none of the plan's offers: enter what it comes to."
        return Hit(end=end, offer=CouponDraft(), questions=ask("gives", why))
    if count := stream.units(reach):
        return Hit(end=reach + 1, offer=PercentDraft(bp=bp, units_per_transaction=count))
    if stream.word(reach) in WHOLE_PURCHASE:
        why = "It is for the whole purchase: leave the products open, and mind what the store leaves out."
        return Hit(end=reach + 1, offer=PercentDraft(bp=bp), questions=ask("products", why))
    return Hit(end=off, offer=PercentDraft(bp=bp))


def _half(stream: Stream, at: int) -> int:
    """The place after "half price", "1/2 off"; 0 if nothing such stands there."""
    named = stream.phrase(at, "half price", "half off")
    if named > at:
        return named
    one_half = stream.number(at) == 1 and stream.word(at + 1) == "/" and stream.number(at + 2) == 2
    return at + 4 if one_half and stream.word(at + 3) in ("price", "off") else 0
