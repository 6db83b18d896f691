"""Who claims what on one belt: coupons and percent offers on its units, within the house's rules."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

from counterfoil.engine.offers import BasketOff, Coupon, Issuer, Store, Trip

from .belt import Belt, Unit
from .sums import Sums, Term, Var, total
from .tags import in_force


@dataclass(eq=False)
class Use:
    """One copy that may be handed over here. ``claims``: per requirement, unit and whether claimed."""

    coupon: Coupon
    used: Var
    claims: list[list[tuple[Unit, Var]]]
    surplus: Term = 0
    gives: dict[int, Term] = field(default_factory=dict[int, Term])

    def flat(self) -> list[tuple[Unit, Var]]:
        """Every claim, whatever the requirement."""
        return [claim for leg in self.claims for claim in leg]

    def on(self, unit: Unit) -> list[Var]:
        """The claims on one unit, of which at most one holds."""
        return [claimed for each, claimed in self.flat() if each is unit]

    def note(self, unit: Unit, cents: Term) -> None:
        """Adds to what the use gives to a unit."""
        self.gives[id(unit)] = self.gives.get(id(unit), 0) + cents


def taken_at(trip: Trip, store: Store, coupon: Coupon) -> bool:
    """Whether a coupon is good at the store today."""
    if coupon.stores and store.id not in coupon.stores:
        return False
    return in_force(trip.day, coupon.from_date, coupon.until)


def copies_here(store: Store, coupon: Coupon) -> int:
    """How many copies one transaction takes at most."""
    limits = [coupon.copies, coupon.per_transaction, coupon.per_day, coupon.per_household]
    limits.append(store.rules.like_coupons_per_transaction)
    return min(limit for limit in limits if limit is not None)


class Claims:
    """All coupon uses and percent offers of one transaction; basket coupons claim nothing."""

    def __init__(self, sums: Sums, trip: Trip, store: Store, belt: Belt) -> None:
        self.sums, self.trip, self.store, self.belt = sums, trip, store, belt
        rules = store.rules
        self.per_unit: dict[Issuer, int] = {
            "store": rules.store_coupons_per_unit,
            "manufacturer": rules.manufacturer_coupons_per_unit,
        }
        self.uses = [use for coupon in trip.coupons for use in self._copies(coupon)]
        self.offers: dict[str, list[tuple[Unit, Var]]] = {}
        self._coupons_on_a_unit()
        self._percent_offers()

    def of(self, issuer: Issuer) -> list[Use]:
        """The uses of one issuer's coupons."""
        return [use for use in self.uses if use.coupon.issuer == issuer]

    def _copies(self, coupon: Coupon) -> list[Use]:
        if isinstance(coupon.gives, BasketOff) or not taken_at(self.trip, self.store, coupon):
            return []
        model = self.sums.model
        uses: list[Use] = []
        asked = sum(asks.units for asks in coupon.asks)
        room, limit = len(self.belt.units), self.per_unit[coupon.issuer]
        most = limit * room // asked if asked <= room else 0
        for _ in range(min(copies_here(self.store, coupon), most)):
            used = self.sums.flag()
            legs: list[list[tuple[Unit, Var]]] = []
            for asks in coupon.asks:
                good = [u for u in self.belt.units if not asks.products or u.product in asks.products]
                leg = [(unit, self.sums.flag()) for unit in good]
                for unit, claimed in leg:
                    model.add_implication(claimed, unit.here)
                model.add(total([claimed for _, claimed in leg]) == asks.units * used)
                legs.append(leg)
            uses.append(Use(coupon, used, legs))
        for first, second in itertools.pairwise(uses):
            model.add_implication(second.used, first.used)
            self._in_order(first, second)
        return uses

    def _in_order(self, first: Use, second: Use) -> None:
        """Copies are alike: the earlier has the earlier first unit, or the same where a unit takes both."""
        if len(first.coupon.asks) > 1:
            return
        shared = 0 if self.per_unit[first.coupon.issuer] < 2 else 1
        ahead = [claimed for _, claimed in first.flat()]
        for at, (_, claimed) in enumerate(second.flat()):
            self.sums.model.add_bool_or(~claimed, *ahead[: at + shared])

    def _coupons_on_a_unit(self) -> None:
        model = self.sums.model
        for unit in self.belt.units:
            on: dict[Issuer, list[Var]] = {"store": [], "manufacturer": []}
            for use in self.uses:
                mine = use.on(unit)
                on[use.coupon.issuer] += mine
                if len(mine) > 1 and self.per_unit[use.coupon.issuer] > 1:
                    model.add_at_most_one(mine)
            for issuer, claims in on.items():
                model.add(total(claims) <= self.per_unit[issuer])
            if not self.store.rules.store_with_manufacturer:
                for one, other in itertools.product(on["store"], on["manufacturer"]):
                    model.add_bool_or(~one, ~other)

    def _percent_offers(self) -> None:
        model = self.sums.model
        on: dict[int, list[Var]] = {id(unit): [] for unit in self.belt.units}
        for offer in self.trip.percent_offers:
            if offer.store != self.store.id or not in_force(self.trip.day, offer.from_date, offer.until):
                continue
            good = [u for u in self.belt.units if not offer.products or u.product in offer.products]
            applied = [(unit, self.sums.flag()) for unit in good]
            self.offers[offer.id] = applied
            for unit, flag in applied:
                model.add_implication(flag, unit.here)
                on[id(unit)].append(flag)
            if offer.units_per_transaction is not None:
                model.add(total([flag for _, flag in applied]) <= offer.units_per_transaction)
        for claims in on.values():
            model.add(total(claims) <= self.store.rules.percent_offers_per_unit)
