"""A draft and what the shopper added to it, as the engine's offer, or every field that is still missing.

Products are never taken from a draft: she chooses them, one list for each requirement. An empty list would
mean *everything* to the engine, so it is refused here except for a coupon off the whole transaction.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..engine.offers import (
    Asks,
    BasketOff,
    Coupon,
    Form,
    Issuer,
    PercentOffer,
    RewardOffer,
    ShelfPrice,
    Tier,
)
from .bad_input import Finding
from .drafts import CouponDraft, DealDraft, PercentDraft, RewardDraft

Findings = tuple[Finding, ...]


def confirm_coupon(
    draft: CouponDraft,
    *,
    id: str,
    description: str,
    products: Sequence[Sequence[str]],
    issuer: Issuer | None = None,
    form: Form | None = None,
    stores: Sequence[str] = (),
) -> Coupon | Findings:
    """The coupon; ``products`` has a list for each of the draft's requirements. What she says of issuer and
    form goes before what was read."""
    issuer, form, gives = issuer or draft.issuer, form or draft.form, draft.gives
    missing = [
        _missing("issuer", "say who pays for it: manufacturer or store") if issuer is None else None,
        _missing("form", "say where it is: insert, printable, digital, on the package, register")
        if form is None
        else None,
        _missing("gives", "enter what it gives, as its own words say") if gives is None else None,
        _missing("stores", "name the store whose coupon it is") if issuer == "store" and not stores else None,
    ]
    if not isinstance(gives, BasketOff):
        missing += [
            _missing(f"asks[{place}].products", "choose the products that its words name")
            for place in range(len(draft.asks))
            if place >= len(products) or not products[place]
        ]
    findings = tuple(finding for finding in missing if finding)
    if findings or issuer is None or form is None or gives is None:
        return findings
    chosen = [tuple(products[place]) if place < len(products) else () for place in range(len(draft.asks))]
    if isinstance(gives, BasketOff):
        # The engine's basket coupon has one requirement: the eligible products.
        asks = (Asks(products=tuple(dict.fromkeys(product for each in chosen for product in each))),)
    else:
        asks = tuple(
            Asks(products=each, units=asked.units) for each, asked in zip(chosen, draft.asks, strict=True)
        )
    return Coupon(
        id=id,
        description=description,
        issuer=issuer,
        form=form,
        gives=gives,
        asks=asks,
        stores=tuple(stores),
        copies=1 if draft.copies is None else draft.copies,
        per_transaction=draft.per_transaction,
        per_day=draft.per_day,
        per_household=draft.per_household,
        from_date=draft.from_date,
        until=draft.until,
        may_multiply=draft.may_multiply is not False,
        where=draft.where,
        legible=draft.legible,
    )


def confirm_price(
    draft: DealDraft, *, store: str, product: str, cents: int | None = None
) -> ShelfPrice | Findings:
    """The tag of one product. ``cents``: what one unit costs on it, where the draft does not say."""
    tag = cents if cents is not None else draft.cents
    if tag is None:
        return (_missing("cents", "enter what one unit costs on the tag"),)
    regular = draft.regular_cents
    on_sale = draft.deal is not None or (regular is not None and regular > tag)
    return ShelfPrice(
        store=store,
        product=product,
        cents=tag,
        regular_cents=regular,
        kind="clearance" if draft.clearance else "sale" if on_sale or draft.until else "regular",
        deal=draft.deal,
        from_date=draft.from_date,
        until=draft.until,
        per_transaction=draft.per_transaction,
        per_visit=draft.per_visit,
    )


def confirm_percent_offer(
    draft: PercentDraft, *, id: str, store: str, description: str, products: Sequence[str], everything: bool
) -> PercentOffer | Findings:
    """The percent offer on ``products``, or on everything in the store if she says so."""
    if not products and not everything:
        return (_missing("products", "choose the products, or say that it is for everything"),)
    return PercentOffer(
        id=id,
        store=store,
        description=description,
        bp=draft.bp,
        products=() if everything else tuple(products),
        units_per_transaction=draft.units_per_transaction,
        transactions=draft.transactions,
        from_date=draft.from_date,
        until=draft.until,
    )


def confirm_reward(
    draft: RewardDraft,
    *,
    id: str,
    store: str,
    description: str,
    products: Sequence[str],
    cents: int | None = None,
) -> RewardOffer | Findings:
    """The reward on ``products``. ``cents``: what it is worth, where the draft has points only."""
    back = cents if cents is not None else draft.cents
    missing = (
        *(() if back else (_missing("tiers[0].cents", "enter what the reward is worth in money"),)),
        *(() if products else (_missing("products", "choose the products that earn it"),)),
    )
    if missing or not back:
        return missing
    return RewardOffer(
        id=id,
        store=store,
        description=description,
        kind=draft.reward,
        tiers=(Tier(threshold=draft.threshold, cents=back),),
        by=draft.by,
        products=tuple(products),
        per_transaction=1 if draft.per_transaction is None else draft.per_transaction,
        per_household=draft.per_household,
        rolls=draft.rolls is not False,
        from_date=draft.from_date,
        until=draft.until,
    )


def _missing(field: str, mend: str) -> Finding:
    return Finding(field=field, value="nothing", mend=mend)
