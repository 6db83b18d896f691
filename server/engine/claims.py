"""What the register refuses about single coupons and offers: the units that they claim.

Each check gives the first refusal or None. Indexes of units are places on the belt.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from .belt import called, counted
from .money import show
from .offers import BasketOff, Coupon, PercentOffer, Product
from .papers import Refusal, Transaction, Use
from .rules import say
from .shelf import holds_on


@dataclass(frozen=True, slots=True)
class Case:
    """A transaction with its papers by their ids; ``units``: the product of each item."""

    transaction: Transaction
    units: tuple[str, ...]
    coupons: dict[str, Coupon]
    offers: dict[str, PercentOffer]
    products: dict[str, Product]

    def named(self, product: str) -> str:
        """A product in a sentence."""
        return called(self.products[product].description, product)

    def by_the_house(self, field: str, subject: str, name: str) -> Refusal:
        """A refusal that quotes the house rule ``field``."""
        transaction = self.transaction
        house = say(
            field,
            transaction.store.rules,
            lambda cents: show(cents, transaction.currency, transaction.exponent),
        )
        return Refusal(rule=field, subject=subject, sentence=f"{name} is not taken. {house}")


def case_of(transaction: Transaction) -> Case:
    """The case that the checks look at."""
    return Case(
        transaction=transaction,
        units=tuple(line.product for line in transaction.lines for _ in range(line.units)),
        coupons={coupon.id: coupon for coupon in transaction.coupons},
        offers={offer.id: offer for offer in transaction.percent_offers},
        products={product.id: product for product in transaction.products},
    )


def refuse_place_and_day(case: Case) -> Refusal | None:
    """Coupons and offers of another store or day."""
    store, day = case.transaction.store, case.transaction.day
    for use in case.transaction.uses:
        coupon = case.coupons[use.coupon]
        name = called(coupon.description, coupon.id)
        if coupon.stores and store.id not in coupon.stores:
            return Refusal(rule="store", subject=coupon.id, sentence=f"{name} is not for this store.")
        if not holds_on(day, coupon.from_date, coupon.until):
            return Refusal(rule="dates", subject=coupon.id, sentence=f"{name} does not hold on {day}.")
    for offer_use in case.transaction.offer_uses:
        offer = case.offers[offer_use.offer]
        name = called(offer.description, offer.id)
        if offer.store != store.id:
            return Refusal(rule="store", subject=offer.id, sentence=f"{name} is not of this store.")
        if not holds_on(day, offer.from_date, offer.until):
            return Refusal(rule="dates", subject=offer.id, sentence=f"{name} does not hold on {day}.")
    return None


def refuse_claims(case: Case) -> Refusal | None:
    """Coupons on units that are not there, not theirs, claimed twice, too few or too many."""
    for use in case.transaction.uses:
        coupon = case.coupons[use.coupon]
        name = called(coupon.description, coupon.id)
        asked = 0 if isinstance(coupon.gives, BasketOff) else sum(asks.units for asks in coupon.asks)
        if len(use.units) != asked:
            sentence = f"{name} asks for {counted(asked, 'item')} and claims {len(use.units)}."
            return Refusal(rule="claimed_units", subject=coupon.id, sentence=sentence)
        refusal = _refuse_units(case, coupon.id, name, use.units)
        if refusal is not None:
            return refusal
        refusal = _refuse_products(case, coupon, name, use)
        if refusal is not None:
            return refusal
    return None


def _refuse_units(case: Case, subject: str, name: str, units: tuple[int, ...]) -> Refusal | None:
    for unit in units:
        if unit >= len(case.units):
            sentence = f"{name} claims item {unit + 1}; {len(case.units)} lie on the belt."
            return Refusal(rule="on_the_belt", subject=subject, sentence=sentence)
    if len(set(units)) < len(units):
        return Refusal(rule="claimed_twice", subject=subject, sentence=f"{name} claims one item twice.")
    return None


def _refuse_products(case: Case, coupon: Coupon, name: str, use: Use) -> Refusal | None:
    place = 0
    for asks in coupon.asks if use.units else ():
        for unit in use.units[place : place + asks.units]:
            if asks.products and case.units[unit] not in asks.products:
                sentence = f"{name} is not for {case.named(case.units[unit])}."
                return Refusal(rule="eligible", subject=coupon.id, sentence=sentence)
        place += asks.units
    return None


def refuse_coupons_on_one_unit(case: Case) -> Refusal | None:
    """More manufacturer or store coupons on an item than the house takes, or both kinds together."""
    rules = case.transaction.store.rules
    manufacturer: Counter[int] = Counter()
    store: Counter[int] = Counter()
    for use in case.transaction.uses:
        coupon = case.coupons[use.coupon]
        name = called(coupon.description, coupon.id)
        on_unit = manufacturer if coupon.issuer == "manufacturer" else store
        on_unit.update(use.units)
        for unit in use.units:
            if manufacturer[unit] > rules.manufacturer_coupons_per_unit:
                return case.by_the_house("manufacturer_coupons_per_unit", coupon.id, name)
            if store[unit] > rules.store_coupons_per_unit:
                return case.by_the_house("store_coupons_per_unit", coupon.id, name)
            if not rules.store_with_manufacturer and manufacturer[unit] > 0 and store[unit] > 0:
                return case.by_the_house("store_with_manufacturer", coupon.id, name)
    return None


def refuse_percent_offers(case: Case) -> Refusal | None:
    """Percent offers on units that are not theirs, on too many units, or too many on one unit."""
    on_unit: Counter[int] = Counter()
    units_of: dict[str, set[int]] = {}
    for offer_use in case.transaction.offer_uses:
        offer = case.offers[offer_use.offer]
        name = called(offer.description, offer.id)
        claimed = units_of.setdefault(offer.id, set())
        refusal = _refuse_units(case, offer.id, name, offer_use.units)
        if refusal is not None:
            return refusal
        if claimed.intersection(offer_use.units):
            return Refusal(rule="claimed_twice", subject=offer.id, sentence=f"{name} claims one item twice.")
        claimed.update(offer_use.units)
        for unit in offer_use.units:
            if offer.products and case.units[unit] not in offer.products:
                sentence = f"{name} is not for {case.named(case.units[unit])}."
                return Refusal(rule="eligible", subject=offer.id, sentence=sentence)
        if offer.units_per_transaction is not None and len(claimed) > offer.units_per_transaction:
            sentence = f"{name} holds for {counted(offer.units_per_transaction, 'item')} in a transaction."
            return Refusal(rule="offer_units", subject=offer.id, sentence=sentence)
        on_unit.update(offer_use.units)
        limit = case.transaction.store.rules.percent_offers_per_unit
        if any(on_unit[unit] > limit for unit in offer_use.units):
            return case.by_the_house("percent_offers_per_unit", offer.id, name)
    return None
