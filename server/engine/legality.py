"""What the register refuses before it counts a cent: the rule, the paper, a sentence.

``refuse`` runs the checks of this file and of ``claims`` in one fixed order and gives the
first refusal. A rule of the house is named by its field of ``HouseRules``; the others:

    unknown          a line, use or offer names a paper that the transaction does not hold
    no_tag           no shelf tag of this store holds on the day
    rain_check       a rain check of another store or product, lapsed, or for fewer units
    purchase_limit   more units than the tag allows in a transaction or visit
    store, dates     a coupon or offer of another store or day
    claimed_units    a coupon claims another number of units than it asks for
    on_the_belt      a claimed unit is not there
    claimed_twice    a coupon or offer claims one unit twice
    eligible         a claimed unit is of a product that the coupon or offer is not for
    offer_units      a percent offer on more units than it holds for
    copies, per_transaction, per_day, per_household   a coupon's own numbers

Later steps refuse by ``overage``, ``basket_threshold``, ``slip_whole``, ``slip_twice``,
``slips_buy_gift_cards`` and ``not_paid``.
"""

from __future__ import annotations

from collections import Counter

from .belt import called, counted
from .claims import (
    Case,
    case_of,
    refuse_claims,
    refuse_coupons_on_one_unit,
    refuse_percent_offers,
    refuse_place_and_day,
)
from .offers import BasketOff
from .papers import PayBySlip, Refusal, Transaction
from .shelf import tag_in_force


def refuse(transaction: Transaction) -> Refusal | None:
    """The first rule that the transaction breaks before prices matter, or None."""
    case = case_of(transaction)
    for check in (
        refuse_unknown_papers,
        refuse_lines,
        refuse_purchase_limits,
        refuse_place_and_day,
        refuse_claims,
        refuse_coupons_on_one_unit,
        refuse_percent_offers,
        refuse_counts,
        refuse_coupons_beyond_items,
    ):
        refusal = check(case)
        if refusal is not None:
            return refusal
    return None


def refuse_unknown_papers(case: Case) -> Refusal | None:
    """Names that the transaction does not explain."""
    transaction = case.transaction
    known = {product.id for product in transaction.products}
    checks = {check.id for check in transaction.rain_checks}
    for line in transaction.lines:
        if line.product not in known:
            return _unknown(line.product, "products")
        if line.rain_check is not None and line.rain_check not in checks:
            return _unknown(line.rain_check, "rain_checks")
    for use in transaction.uses:
        if use.coupon not in case.coupons:
            return _unknown(use.coupon, "coupons")
    for offer_use in transaction.offer_uses:
        if offer_use.offer not in case.offers:
            return _unknown(offer_use.offer, "percent_offers")
    return None


def _unknown(subject: str, place: str) -> Refusal:
    sentence = f"{subject} is not among the transaction's {place}; add it there."
    return Refusal(rule="unknown", subject=subject, sentence=sentence)


def refuse_lines(case: Case) -> Refusal | None:
    """Lines without a tag in force, or with a rain check that does not pay for them."""
    transaction = case.transaction
    checks = {check.id: check for check in transaction.rain_checks}
    on_check: Counter[str] = Counter()
    for line in transaction.lines:
        if line.rain_check is None:
            store, day = transaction.store.id, transaction.day
            if tag_in_force(transaction.prices, store, line.product, day) is None:
                sentence = f"No shelf tag for {case.named(line.product)} holds here on {day}."
                return Refusal(rule="no_tag", subject=line.product, sentence=sentence)
            continue
        check = checks[line.rain_check]
        on_check[check.id] += line.units
        if check.store != transaction.store.id or check.product != line.product:
            sentence = f"The rain check is for {check.product} at {check.store}."
        elif check.until is not None and transaction.day > check.until:
            sentence = f"The rain check held until {check.until}."
        elif on_check[check.id] > check.units:
            sentence = f"The rain check is for {counted(check.units, 'item')}."
        else:
            continue
        return Refusal(rule="rain_check", subject=check.id, sentence=sentence)
    return None


def refuse_purchase_limits(case: Case) -> Refusal | None:
    """More units of a product than its tag allows; units of a rain check are apart."""
    transaction = case.transaction
    at_tag: Counter[str] = Counter()
    for line in transaction.lines:
        if line.rain_check is None:
            at_tag[line.product] += line.units
    for product, units in at_tag.items():
        tag = tag_in_force(transaction.prices, transaction.store.id, product, transaction.day)
        for limit, where in ((tag.per_transaction, "transaction"), (tag.per_visit, "visit")) if tag else ():
            if limit is not None and units > limit:
                sentence = (
                    f"The tag of {case.named(product)} allows {limit} in a {where}; {units} lie on the belt."
                )
                return Refusal(rule="purchase_limit", subject=product, sentence=sentence)
    return None


def refuse_counts(case: Case) -> Refusal | None:
    """More copies of a coupon than she has, than its limits allow or than the house takes."""
    rules = case.transaction.store.rules
    like = rules.like_coupons_per_transaction
    handed: Counter[str] = Counter()
    on_basket = 0
    for use in case.transaction.uses:
        coupon = case.coupons[use.coupon]
        name = called(coupon.description, coupon.id)
        handed[coupon.id] += 1
        for field, limit, words in (
            ("copies", coupon.copies, "in hand"),
            ("per_transaction", coupon.per_transaction, "in a transaction"),
            ("per_day", coupon.per_day, "a day"),
            ("per_household", coupon.per_household, "for a household"),
        ):
            if limit is not None and handed[coupon.id] > limit:
                sentence = f"{name}: {limit} {words}, {handed[coupon.id]} handed over."
                return Refusal(rule=field, subject=coupon.id, sentence=sentence)
        if like is not None and handed[coupon.id] > like:
            return case.by_the_house("like_coupons_per_transaction", coupon.id, name)
        on_basket += 1 if isinstance(coupon.gives, BasketOff) else 0
        if on_basket > rules.basket_coupons_per_transaction:
            return case.by_the_house("basket_coupons_per_transaction", coupon.id, name)
    return None


def refuse_coupons_beyond_items(case: Case) -> Refusal | None:
    """More manufacturer coupons than items; slips count among them where the house says so."""
    rules = case.transaction.store.rules
    if not rules.coupons_no_more_than_items:
        return None
    counted = 0
    for use in case.transaction.uses:
        coupon = case.coupons[use.coupon]
        counted += 1 if coupon.issuer == "manufacturer" else 0
        if counted > len(case.units):
            name = called(coupon.description, coupon.id)
            return case.by_the_house("coupons_no_more_than_items", coupon.id, name)
    if rules.slip_counts_as_manufacturer_coupon:
        for tender in case.transaction.tenders:
            counted += 1 if isinstance(tender, PayBySlip) else 0
            if counted > len(case.units) and isinstance(tender, PayBySlip):
                return case.by_the_house("slip_counts_as_manufacturer_coupon", tender.id, "The slip")
    return None
