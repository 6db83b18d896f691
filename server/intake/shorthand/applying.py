"""A term applied to the offer beside it: which field it fills, by the kind of the offer.

A term that an offer of its kind cannot have is not applied; its words then stay with the draft.
"""

from __future__ import annotations

from typing import cast

from msgspec.structs import replace

from ...engine.offers import BuyOneGetOne, FixedPrice, Form, FreeItem, Issuer, NForM, PercentOff
from ..drafts import AskDraft, CouponDraft, DealDraft, OfferDraft, PercentDraft, Question, RewardDraft
from .terms import Term

Applied = tuple[OfferDraft, tuple[Question, ...]]

_MAKES_A_COUPON = ("coupon", "form", "issuer", "where", "copies")


def apply(offer: OfferDraft, term: Term) -> Applied | None:
    """The offer with the term in it, and what to ask about that; None if it is no term of such an offer."""
    questions = (Question(field="until", why=term.why),) if term.why else ()
    match term.field:
        case "until":
            return replace(offer, until=term.text), questions
        case "from_date":
            return replace(offer, from_date=term.text), questions
        case "dates":
            return replace(offer, from_date=term.since, until=term.text), questions
        case "":
            return None
        case _:
            pass
    if term.field in _MAKES_A_COUPON and not isinstance(offer, CouponDraft):
        as_coupon = _coupon_of(offer)
        if as_coupon is None:
            return None
        offer = as_coupon
    match offer:
        case CouponDraft():
            return _to_coupon(offer, term)
        case DealDraft():
            return _to_deal(offer, term)
        case PercentDraft():
            return _to_percent(offer, term)
        case RewardDraft():
            return _to_reward(offer, term)


def _coupon_of(offer: OfferDraft) -> CouponDraft | None:
    """What a coupon makes of an offer: a price becomes a fixed price, a sale in pairs a free item."""
    match offer:
        case DealDraft(deal=NForM(n=units, cents=cents), cents=None):
            return CouponDraft(
                gives=FixedPrice(cents=cents),
                asks=(AskDraft(units=units),),
                from_date=offer.from_date,
                until=offer.until,
            )
        case DealDraft(deal=BuyOneGetOne(off_bp=off_bp), cents=None):
            return CouponDraft(
                gives=FreeItem(off_bp=off_bp),
                asks=(AskDraft(units=2),),
                from_date=offer.from_date,
                until=offer.until,
            )
        case DealDraft(deal=None, cents=int(cents), regular_cents=None):
            return CouponDraft(gives=FixedPrice(cents=cents), from_date=offer.from_date, until=offer.until)
        case PercentDraft():
            units = min(offer.units_per_transaction or 1, 100)
            return CouponDraft(
                gives=PercentOff(bp=offer.bp),
                asks=(AskDraft(units=units),),
                from_date=offer.from_date,
                until=offer.until,
            )
        case _:
            return None


def _to_coupon(offer: CouponDraft, term: Term) -> Applied | None:
    match term.field:
        case "coupon":
            return offer, ()
        case "form":
            return replace(offer, form=cast(Form, term.text)), ()
        case "issuer":
            return replace(offer, issuer=cast(Issuer, term.text)), ()
        case "where":
            form: Form | None = (
                "insert" if term.text.casefold().startswith(("insert", "news", "sun")) else offer.form
            )
            return replace(offer, where=term.text, form=form), ()
        case "may_multiply":
            return replace(offer, may_multiply=bool(term.number)), ()
        case "copies":
            return replace(offer, copies=term.number), ()
        case "limit":
            return _limit_of_coupon(offer, term)
        case _:
            return None


def _limit_of_coupon(offer: CouponDraft, term: Term) -> Applied | None:
    count = term.number
    if not count:
        return offer, ()
    match term.text:
        case "transaction" | "like":
            return replace(offer, per_transaction=count), ()
        case "day":
            return replace(offer, per_day=count), ()
        case "household":
            return replace(offer, per_household=count), ()
        case "visit":
            why = f"{count} in a visit is kept as {count} in a day."
            return replace(offer, per_day=count), (Question(field="per_day", why=why),)
        case "coupon":
            return None
        case _:
            why = f"Limit {count} does not say of what: read as {count} of these coupons in one transaction."
            return replace(offer, per_transaction=count), (Question(field="per_transaction", why=why),)


def _to_deal(offer: DealDraft, term: Term) -> Applied | None:
    match term.field:
        case "limit" if not term.number:
            return offer, ()
        case "limit" if term.text in ("transaction", "like"):
            return replace(offer, per_transaction=term.number), ()
        case "limit" if term.text == "visit":
            return replace(offer, per_visit=term.number), ()
        case "limit" if term.text in ("day", "household"):
            why = f"{term.number} in a {term.text} is kept as {term.number} in a visit."
            return replace(offer, per_visit=term.number), (Question(field="per_visit", why=why),)
        case "limit" if not term.text:
            why = f"Limit {term.number} does not say of what: read as {term.number} units in one transaction."
            return replace(offer, per_transaction=term.number), (Question(field="per_transaction", why=why),)
        case "must_buy" if isinstance(offer.deal, NForM):
            deal = replace(offer.deal, must_buy=True)
            if term.number in (0, deal.n):
                return replace(offer, deal=deal), ()
            why = f"It says to buy {term.number}, but the price is for {deal.n}: read as groups of {deal.n}."
            return replace(offer, deal=deal), (Question(field="deal", why=why),)
        case "regular_cents":
            return replace(offer, regular_cents=term.number), ()
        case "clearance":
            return replace(offer, clearance=True), ()
        case "mixes":
            return replace(offer, mixes=True), ()
        case "sale":
            return offer, ()
        case _:
            return None


def _to_percent(offer: PercentDraft, term: Term) -> Applied | None:
    match term.field:
        case "sale":
            return offer, ()
        case "limit" if not term.number:
            return offer, ()
        case "limit" if term.text in ("transaction", "like"):
            return replace(offer, units_per_transaction=term.number), ()
        case "limit" if not term.text:
            why = f"Limit {term.number} does not say of what: read as {term.number} units in one transaction."
            question = Question(field="units_per_transaction", why=why)
            return replace(offer, units_per_transaction=term.number), (question,)
        case _:
            return None


def _to_reward(offer: RewardDraft, term: Term) -> Applied | None:
    match term.field:
        case "rolls":
            return replace(offer, rolls=bool(term.number)), ()
        case "limit" if not term.number:
            return offer, ()
        case "limit" if term.text == "transaction":
            return replace(offer, per_transaction=term.number), ()
        case "limit" if term.text == "household":
            return replace(offer, per_household=term.number), ()
        case "limit" if not term.text:
            why = f"Limit {term.number} does not say of what: read as {term.number} in all for the household."
            return replace(offer, per_household=term.number), (Question(field="per_household", why=why),)
        case _:
            return None
