"""Rewards: buy so many or spend so much and get value for the next time, or off at once."""

from __future__ import annotations

from msgspec.structs import replace

from ...engine.money import show
from ...engine.offers import BasketOff, RewardKind
from ..drafts import CouponDraft, Question, RewardDraft
from .hits import WHEN_YOU_BUY, Hit, ask, gap, seek
from .tokens import Stream

_GIFT_CARD = ("gift card", "gift cards", "gc", "giftcard", "e gift card")
_SLIP = (
    *("reward", "rewards", "slip", "slips", "back", "register reward", "store credit", "credit", "voucher"),
    *("in rewards", "reward slip", "in slips", "oyno", "off your next order", "off your next purchase"),
    *("off your next visit", "off your next trip", "off next order", "off next purchase", "off next visit"),
    *("off your next shopping trip", "register coupon", "in store credit", "worth of rewards"),
)
_OFF = (
    "off",
    "instantly",
    "off instantly",
    "off your purchase",
    "off your order",
    "savings",
    "instant savings",
)
_POINTS = ("points", "pts", "point")
_GETS = ("get", "receive", "earn", "save")
_WHEN_YOU_SPEND = ("when you spend", "wys", "on purchase of", "with a purchase of", "on a purchase of")

NO_THRESHOLD = "What must be bought for it is not written: read as one unit."
POINTS = "What a point is worth is yours to say: enter the reward in money."


def buy_get_reward(stream: Stream, at: int) -> Hit | None:
    """``buy 3 get a $4 gift card``, ``buy 2 oat bars earn $1 back``, ``buy 2 get 500 points``."""
    if stream.word(at) != "buy" or not (count := stream.number(at + 1)):
        return None
    verb = seek(stream, at + 2, *_GETS)
    if verb is None:
        return None
    got = _reward_at(stream, verb + 1)
    gaps = gap(at + 2, verb)
    if got is None:
        # "buy 3 get $4": money back later or money off now; "save" always means now, and stands elsewhere.
        cents, end = stream.amount(stream.skip(verb + 1, "a", "an", "up"))
        if not cents or stream.word(verb) == "save" or stream.phrase(end, *_OFF) > end:
            return None
        why = f"{show(cents)} is read as a reward slip for the next time; it may be money off at once."
        offer = RewardDraft(reward="slip", threshold=count, cents=cents)
        return Hit(end=end, offer=offer, questions=ask("reward", why), gaps=gaps)
    reward, end, questions = got
    offer = replace(reward, threshold=count)
    return Hit(end=end, offer=offer, questions=questions, gaps=gaps)


def spend_get(stream: Stream, at: int) -> Hit | None:
    """``spend $30 get $10 back``, ``spend $25 on oat bars save $5``."""
    if stream.word(at) != "spend":
        return None
    spend, after = stream.amount(at + 1)
    if not spend and (dollars := stream.number(at + 1)):
        spend, after = dollars * 100, at + 2
    verb = seek(stream, after, *_GETS) if spend else None
    if verb is None:
        return None
    gaps = gap(after, verb)
    if got := _reward_at(stream, verb + 1):
        reward, end, questions = got
        return Hit(
            end=end, offer=replace(reward, by="spend", threshold=spend), questions=questions, gaps=gaps
        )
    start = stream.skip(verb + 1, "a", "an")
    bp, percent_end = stream.percent(start)
    if bp:
        why = "A percent off from a spend on is none of the plan's offers: enter what it comes to."
        end = stream.phrase(percent_end, "off")
        return Hit(end=end, offer=CouponDraft(), questions=ask("gives", why), gaps=gaps)
    cents, end = stream.amount(start)
    if not cents:
        return None
    off = stream.phrase(end, *_OFF)
    if off > end or stream.word(verb) == "save":
        return Hit(end=off, offer=CouponDraft(gives=BasketOff(cents=cents, from_cents=spend)), gaps=gaps)
    why = f"{show(cents)} is read as a reward slip for the next time; it may be money off at once."
    offer = RewardDraft(reward="slip", by="spend", threshold=spend, cents=cents)
    return Hit(end=end, offer=offer, questions=ask("reward", why), gaps=gaps)


def reward_first(stream: Stream, at: int) -> Hit | None:
    """``$5 gift card wyb 3``, ``get $10 back when you spend $40``, ``$3 off your next order wyb 2``."""
    got = _reward_at(stream, stream.skip(at, "get", "receive", "earn", "free"))
    if got is None:
        return None
    reward, end, questions = got
    for place in range(end, min(end + 6, len(stream))):
        bought = stream.phrase(place, *WHEN_YOU_BUY)
        if bought > place and (count := stream.number(stream.skip(bought, "any"))):
            offer = replace(reward, threshold=count)
            end_of_count = stream.skip(bought, "any") + 1
            return Hit(end=end_of_count, offer=offer, questions=questions, gaps=gap(end, place))
        spent = max(stream.phrase(place, *_WHEN_YOU_SPEND), bought)
        spend, after = stream.amount(stream.skip(spent, "a", "an"))
        if spent > place and spend:
            offer = replace(reward, by="spend", threshold=spend)
            return Hit(end=after, offer=offer, questions=questions, gaps=gap(end, place))
        if stream.kind(place) not in ("word", "number"):
            break
    return Hit(end=end, offer=reward, questions=questions + ask("threshold", NO_THRESHOLD))


def _reward_at(stream: Stream, at: int) -> tuple[RewardDraft, int, tuple[Question, ...]] | None:
    """An amount and the kind of reward that it is: ``a $4 gift card``, ``$10 back``, ``500 points``."""
    start = stream.skip(at, "a", "an")
    if stream.kind(start) == "number":
        named = stream.phrase(start + 1, *_POINTS)
        if named > start + 1:
            offer = RewardDraft(reward="points", points=stream.tokens[start].value)
            return offer, named, ask("cents", POINTS)
    cents, end = stream.amount(start)
    if not cents:
        return None
    kinds: tuple[tuple[RewardKind, tuple[str, ...]], ...] = (
        ("gift_card", _GIFT_CARD),
        ("slip", _SLIP),
        ("points", ("in points", "worth of points")),
    )
    for kind, names in kinds:
        named = stream.phrase(end, *names)
        if named > end:
            return RewardDraft(reward=kind, cents=cents), named, ()
    return None
