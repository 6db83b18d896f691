"""Prices on the tag: one, so many for so much, and an amount of money that stands alone."""

from __future__ import annotations

from msgspec.structs import replace

from ...engine.money import show
from ...engine.offers import CentsOff, NForM
from ..drafts import CouponDraft, DealDraft, Question
from .free import buy_get_free
from .hits import WHEN_YOU_BUY, Hit, ask
from .tokens import MOST_CENTS, SIZES, Stream

ALONE = 'An amount alone is read as the price of one; if it is a coupon, say so ("$1.00 off").'
# After an amount, these say that it is a coupon's face.
_FACE = (
    *("coupon", "cpn", "q", "printable", "insert", "peelie", "digital coupon", "printable coupon"),
    *("manufacturer coupon", "mfr coupon", "mfg coupon", "store coupon"),
)


def n_for_m(stream: Stream, at: int) -> Hit | None:
    """``2/$5``, ``10 for $10``, ``3/$1``, ``2 for 5``, each with "or $2.69 each" behind it."""
    count = stream.number(at)
    if not count or stream.word(at + 1) not in ("/", "for"):
        return None
    questions: tuple[Question, ...] = ()
    cents, end = stream.amount(at + 2)
    if not cents and stream.word(at + 1) == "for" and (dollars := stream.number(at + 2)):
        cents, end = dollars * 100, at + 3
        questions = ask("deal", f"{dollars} is read as ${dollars}.00.")
    if not cents or (stream.kind(at + 2) == "decimal" and stream.word(at + 1) == "/"):
        return None
    if count == 1:
        return Hit(end=end, offer=DealDraft(cents=cents), questions=questions)
    each, each_end = stream.amount(stream.skip(end, "or"))
    after = stream.phrase(each_end, "each", "ea", "apiece", "for 1", "for one")
    tag = each if after > each_end else 0
    offer = DealDraft(cents=tag or None, deal=NForM(n=count, cents=cents))
    return Hit(end=after if tag else end, offer=offer, questions=questions)


def price(stream: Stream, at: int) -> Hit | None:
    """``$2.99``, ``sale 2.99 each``, ``$2.99 wyb 3``, ``$1.99/lb``, ``$1 coupon``."""
    start = stream.skip(at, "sale", "now", "only", "price", "on", "at", "for", "clearance", "just")
    cents, end = stream.amount(start)
    if not cents or (stream.kind(start) == "decimal" and stream.word(end) in SIZES):
        return None
    clearance = any(stream.word(place) == "clearance" for place in range(at, start))
    second, second_end = stream.amount(end)
    if second and stream.between(end - 1).strip() in ("-", "–"):
        why = "A range of prices: enter the one of your store, and the ends if you like."
        return Hit(end=second_end, offer=DealDraft(), questions=ask("cents", why))
    if start == at and stream.phrase(end, *_FACE, "digital") > end:
        sure = stream.phrase(end, *_FACE) > end
        why = f"{show(cents)} off by a digital coupon, or a digital coupon for that price? Read as off."
        offer = CouponDraft(gives=CentsOff(cents=cents))
        return Hit(end=end, offer=offer, questions=() if sure else ask("gives", why))
    by_weight = stream.phrase(end, "/ lb", "per lb", "/ pound", "per pound", "/ kg", "/ oz", "a lb", "lb")
    if by_weight > end:
        why = "A price by weight: enter what one pack costs."
        return Hit(end=by_weight, offer=DealDraft(cents=None), questions=ask("cents", why))
    each = stream.phrase(end, "each", "ea", "apiece", "sale price", "sale", "/ each", "/ ea")
    bought = stream.phrase(each, *WHEN_YOU_BUY)
    if (
        bought > each
        and (count := stream.number(stream.skip(bought, "any")))
        and 1 < count <= MOST_CENTS // cents
    ):
        deal = NForM(n=count, cents=cents * count, must_buy=True)
        return Hit(end=stream.skip(bought, "any") + 1, offer=DealDraft(deal=deal))
    pair = buy_get_free(stream, each)
    if pair and isinstance(pair.offer, DealDraft) and pair.offer.deal:
        return replace(pair, offer=replace(pair.offer, cents=cents))
    sure = start > at or each > end
    return Hit(
        end=each,
        offer=DealDraft(cents=cents, clearance=clearance),
        questions=() if sure else ask("cents", ALONE),
    )
