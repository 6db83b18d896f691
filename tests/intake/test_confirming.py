"""A draft becomes an offer of the trip only with what the shopper chose; what is missing is told by field."""

from __future__ import annotations

from typing import cast

import msgspec

from counterfoil.engine.offers import (
    Asks,
    BasketOff,
    CentsOff,
    Coupon,
    NForM,
    PercentOffer,
    RewardOffer,
    ShelfPrice,
    Tier,
)
from counterfoil.intake.confirming import (
    confirm_coupon,
    confirm_percent_offer,
    confirm_price,
    confirm_reward,
)
from counterfoil.intake.coupon_code import CouponCode, read_coupon_code
from counterfoil.intake.coupon_words import draft_coupon
from counterfoil.intake.drafts import CouponDraft, DealDraft, PercentDraft, RewardDraft
from counterfoil.intake.shorthand import read_shorthand

from .published_codes import C1
from .shorthand_cases import TODAY


def offer_of(text: str) -> object:
    return read_shorthand(text, TODAY).drafts[0].offer


def test_coupon_in_shorthand_becomes_a_coupon_of_the_trip() -> None:
    draft = cast(CouponDraft, offer_of("$1/2 any flavour printable exp 12/31 limit 4 DND"))
    coupon = confirm_coupon(
        draft,
        id="bars-100",
        description="$1.00 off 2 oat bars",
        products=[["oat-bars", "nut-bars"]],
        issuer="manufacturer",
    )
    assert coupon == Coupon(
        id="bars-100",
        description="$1.00 off 2 oat bars",
        issuer="manufacturer",
        form="printable",
        gives=CentsOff(cents=100),
        asks=(Asks(products=("oat-bars", "nut-bars"), units=2),),
        per_transaction=4,
        until="2026-12-31",
        may_multiply=False,
    )
    assert msgspec.json.decode(msgspec.json.encode(coupon), type=Coupon) == coupon


def test_coupon_code_needs_products_for_each_requirement() -> None:
    draft = cast(CouponDraft, draft_coupon(cast(CouponCode, read_coupon_code(C1))).offer)
    findings = confirm_coupon(draft, id="c", description="c", products=[["oats"]], form="insert")
    assert isinstance(findings, tuple)
    assert [finding.field for finding in findings] == ["asks[1].products"]
    coupon = confirm_coupon(draft, id="c", description="c", products=[["oats"], ["jam"]], form="insert")
    assert isinstance(coupon, Coupon)
    assert coupon.asks == (Asks(products=("oats",)), Asks(products=("jam",)))
    assert coupon.legible == "0614141-654321"


def test_everything_that_is_missing_is_told_at_once() -> None:
    draft = cast(CouponDraft, offer_of("$1/2"))
    findings = confirm_coupon(draft, id="c", description="c", products=[])
    assert isinstance(findings, tuple)
    assert [finding.field for finding in findings] == ["issuer", "form", "asks[0].products"]


def test_coupon_off_the_transaction_may_be_for_everything_but_a_store_must_take_it() -> None:
    draft = cast(CouponDraft, offer_of("$5 off $25 store coupon printable"))
    findings = confirm_coupon(draft, id="c", description="c", products=[])
    assert isinstance(findings, tuple)
    assert [finding.field for finding in findings] == ["stores"]
    coupon = confirm_coupon(draft, id="c", description="c", products=[], stores=["mill"])
    assert isinstance(coupon, Coupon)
    assert (coupon.gives, coupon.asks) == (BasketOff(cents=500, from_cents=2500), (Asks(),))


def test_sale_needs_the_price_of_one() -> None:
    draft = cast(DealDraft, offer_of("2/$5 thru 12/11"))
    missing = confirm_price(draft, store="mill", product="jam")
    assert isinstance(missing, tuple)
    assert missing[0].field == "cents"
    assert confirm_price(draft, store="mill", product="jam", cents=279) == ShelfPrice(
        store="mill",
        product="jam",
        cents=279,
        kind="sale",
        deal=NForM(n=2, cents=500),
        until="2026-12-11",
    )


def test_percent_offer_is_for_everything_only_when_she_says_so() -> None:
    draft = cast(PercentDraft, offer_of("20% off"))
    assert isinstance(
        confirm_percent_offer(draft, id="p", store="mill", description="p", products=[], everything=False),
        tuple,
    )
    assert confirm_percent_offer(
        draft, id="p", store="mill", description="p", products=[], everything=True
    ) == PercentOffer(id="p", store="mill", description="p", bp=2000)


def test_points_need_their_worth() -> None:
    draft = cast(RewardDraft, offer_of("buy 2 get 500 points"))
    missing = confirm_reward(draft, id="r", store="mill", description="r", products=["jam"])
    assert isinstance(missing, tuple)
    assert missing[0].field == "tiers[0].cents"
    assert confirm_reward(
        draft, id="r", store="mill", description="r", products=["jam"], cents=50
    ) == RewardOffer(
        id="r",
        store="mill",
        description="r",
        kind="points",
        tiers=(Tier(threshold=2, cents=50),),
        products=("jam",),
    )
