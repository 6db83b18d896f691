"""What ends or is due, day by day: offers, coupons in hand, slips, rain checks, claims.

Days are whole: a coupon is good on its last day. What has ended before ``today`` is not listed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Literal

import msgspec

from ..engine.money import show
from ..engine.offers import PercentOffer, Rebate, RewardOffer, ShelfPrice
from .balances import balances
from .books import Books
from .claims import claims_of
from .once import once
from .wasted import coupons_in_hand

DueKind = Literal[
    "claim",
    "set bonus",
    "slip",
    "rain check",
    "coupon",
    "percent offer",
    "reward",
    "rebate offer",
    "sale",
]


class Due(msgspec.Struct, frozen=True, kw_only=True):
    """Something that ends or must be done by the end of ``day``.

    ``words``: read on any day before it as well; ``act``: what to do about it; ``source``: names it for good,
    whatever becomes of its day or words; ``trip``: where it comes from; ``place``: the store of a sale."""

    day: str
    kind: DueKind
    words: str
    source: str
    act: str = ""
    trip: str = ""
    place: str = ""


@once
def due(books: Books, today: str, until: str = "9999-12-31") -> tuple[Due, ...]:
    """Everything due from ``today`` to ``until``, both included: by day, what costs money first."""
    found: dict[str, Due] = {}
    for each in _dues(books, today):
        if today <= each.day <= until:
            found[each.source] = each
    order: tuple[DueKind, ...] = DueKind.__args__
    return tuple(sorted(found.values(), key=lambda each: (each.day, order.index(each.kind), each.source)))


@once
def _dues(books: Books, today: str) -> tuple[Due, ...]:
    """All of them, of whichever day: pages ask for several weeks of the same."""
    return (*_claims(books, today), *_papers(books, today), *_coupons(books), *_offers(books))


def _claims(books: Books, today: str) -> Iterator[Due]:
    claims = claims_of(books, today)
    for claim in claims.claims:
        if claim.to_claim and claim.until < "9999-12-31":
            cents = show(claim.to_claim * claim.each_cents, claim.currency, claim.exponent)
            times = "" if claim.to_claim == 1 else f", {claim.to_claim} times"
            yield Due(
                day=claim.until,
                kind="set bonus" if claim.bonus else "claim",
                words=f"Last day to claim: {claim.description}, {cents} in all{times}. {claim.words}",
                act="Claim it, and note that at Settle.",
                source=f"claim.{claim.trip}.{claim.claim}{'.bonus' if claim.bonus else ''}",
                trip=claim.trip,
            )
    for bonus in claims.open_bonuses:
        if bonus.until is not None:
            words = f"Last day to buy for the set bonus {bonus.description}: {' '.join(bonus.missing)}"
            yield Due(
                day=bonus.until,
                kind="set bonus",
                words=words,
                source=f"open-bonus.{bonus.bonus}",
                act="Buy what is missing, or let the bonus go.",
                trip=bonus.trip,
            )


def _papers(books: Books, today: str) -> Iterator[Due]:
    money = {s.id: (each.trip.currency, each.trip.exponent) for each in books.trips for s in each.trip.stores}
    own = (books.at_home.currency, books.at_home.exponent)
    names = _names(books)
    papers = balances(books, today)
    for slip in papers.slips_in_hand():
        if slip.until is not None:
            cents = show(slip.cents, *money.get(slip.store, own))
            where = names.get(slip.store) or slip.store
            yield Due(
                day=slip.until,
                kind="slip",
                words=f"Last day of the slip of {cents}: {where}.",
                act="Spend it there, or note at Settle that it is spent.",
                source=f"slip.{slip.key}",
                trip=slip.trip,
            )
    for check in papers.rain_checks_in_hand():
        if check.until is not None:
            cents = show(check.cents, *money.get(check.store, own))
            what = f"{check.units} × {names.get(check.product) or check.product} at {cents}"
            words = f"Rain check ends: {what}, {names.get(check.store) or check.store}."
            yield Due(
                day=check.until,
                kind="rain check",
                words=words,
                act="Buy it there at that price, with the slip in hand.",
                source=f"rain-check.{check.key}",
                trip=check.trip,
            )


def _coupons(books: Books) -> Iterator[Due]:
    for held in coupons_in_hand(books):
        coupon = held.coupon
        if coupon.until is not None:
            copies = "" if held.copies == 1 else f" ({held.copies} copies)"
            yield Due(
                day=coupon.until,
                kind="coupon",
                words=f"Last day of the coupon {coupon.description or coupon.id}{copies}.",
                act="Plan a trip with it, or let it go.",
                source=f"coupon.{coupon.id}",
                trip=held.trip,
            )


def _offers(books: Books) -> Iterator[Due]:
    """Offers by the latest trip that carries each; the household's own word on one comes last and counts."""
    names = _names(books)
    for each in books.trips:
        trip = each.trip
        yield from _ends((*trip.percent_offers, *trip.rewards, *trip.rebates), trip.id)
        yield from _sales(each.tags, trip.id, names)
    home = books.at_home
    yield from _ends((*home.percent_offers, *home.rewards, *home.rebates), "")
    yield from _sales(home.tags, "", names)


@once
def _names(books: Books) -> Mapping[str, str]:
    """What stores and products are called, by id: the household's own word counts."""
    trips, home = [each.trip for each in books.trips], books.at_home
    stores = [*(store for trip in trips for store in trip.stores), *home.stores]
    goods = [*(product for trip in trips for product in trip.products), *home.products]
    return {each.id: each.description for each in goods} | {each.id: each.name for each in stores}


def _ends(offers: Iterable[PercentOffer | RewardOffer | Rebate], trip: str) -> Iterator[Due]:
    for offer in offers:
        if offer.until is None:
            continue
        name = offer.description or offer.id
        match offer:
            case PercentOffer():
                kind, words = "percent offer", f"Last day of the percent offer {name}."
                act = "Plan a trip by then if it helps."
            case RewardOffer():
                kind, words = "reward", f"Last day to earn the reward {name}."
                act = "Plan a trip by then if it helps."
            case Rebate():
                kind, words = "rebate offer", f"Last day to buy for the rebate {name}."
                act = "Buy by then; the claim comes after."
        yield Due(
            day=offer.until,
            kind=kind,
            words=words,
            act=act,
            source=f"{kind.replace(' ', '-')}.{offer.id}",
            trip=trip,
        )


def _sales(tags: Iterable[ShelfPrice], trip: str, names: Mapping[str, str]) -> Iterator[Due]:
    for tag in tags:
        if tag.until is None or (tag.kind == "regular" and tag.deal is None):
            continue
        what, where = names.get(tag.product) or tag.product, names.get(tag.store) or tag.store
        yield Due(
            day=tag.until,
            kind="sale",
            words=f"Last day of the sale on {what} at {where}.",
            act="Buy by then at this price, if it is wanted.",
            source=f"sale.{tag.store}.{tag.product}",
            trip=trip,
            place=where,
        )
