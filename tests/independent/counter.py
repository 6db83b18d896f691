"""The rest of one transaction: basket coupons, tax, the total, and the rewards that it earns."""

from __future__ import annotations

from dataclasses import dataclass

from counterfoil.engine.offers import BasketOff, Coupon, Measure, RewardOffer, Store, Trip

from .belt import Belt, Unit, in_force
from .coupons import Claims, copies_here, taken_at
from .sums import Sums, Term, Var, total


@dataclass(eq=False)
class Print:
    """One thing that the register prints or loads if ``there``: worth ``cents`` at face."""

    offer: RewardOffer
    there: Var
    cents: int


class Transaction:
    """One transaction of the trip; everything in it is 0 while nothing lies on the belt."""

    def __init__(self, sums: Sums, trip: Trip, store: Store, spread: bool) -> None:
        self.sums, self.trip, self.store = sums, trip, store
        self.belt = Belt(sums, trip, store)
        self.used = sums.flag()
        sums.when(self.belt.count >= 1, self.used)
        sums.when(self.belt.count == 0, ~self.used)
        self.claims = Claims(sums, trip, store, self.belt)
        units = self.belt.units
        self.before_baskets = {id(unit): unit.left for unit in units}
        self.off_basket: dict[str, list[Term]] = {"store": [], "manufacturer": []}
        self.baskets: list[tuple[Coupon, Var]] = []
        self._basket_coupons(spread)
        if spread or not self.baskets:
            self.merchandise = total([unit.left for unit in units])
        else:
            off = [*self.off_basket["store"], *self.off_basket["manufacturer"]]
            self.merchandise = total([unit.left for unit in units]) - total(off)
        self.tax = self._tax()
        self.total = sums.amount(self.merchandise + self.tax)
        self.makers_coupons = total(
            [use.used for use in self.claims.uses if use.coupon.issuer == "manufacturer"]
            + [used for coupon, used in self.baskets if coupon.issuer == "manufacturer"]
        )
        self.prints: list[Print] = []

    # --- basket coupons ---

    def _spend(self, measure: Measure, products: tuple[str, ...]) -> Term:
        units = [unit for unit in self.belt.units if not products or unit.product in products]
        if measure == "before_coupons":
            return total([unit.shelf for unit in units])
        if measure == "after_store_coupons":
            return total([unit.after_store for unit in units])
        return total([self.before_baskets[id(unit)] for unit in units])

    def _basket_coupons(self, spread: bool) -> None:
        model = self.sums.model
        for coupon in self.trip.coupons:
            gives = coupon.gives
            if not isinstance(gives, BasketOff) or not taken_at(self.trip, self.store, coupon):
                continue
            products = coupon.asks[0].products
            spend = self._spend(gives.measure, products)
            earlier: Var | None = None
            for _ in range(
                min(copies_here(self.store, coupon), self.store.rules.basket_coupons_per_transaction)
            ):
                used = self.sums.flag()
                self.sums.when(spend >= gives.from_cents, used)
                model.add_implication(used, self.used)
                if earlier is not None:
                    model.add_implication(used, earlier)
                earlier = used
                self.baskets.append((coupon, used))
                units = [u for u in self.belt.units if not products or u.product in products]
                self._take_off(coupon, gives.cents, used, units, spread)
        model.add(
            total([used for _, used in self.baskets]) <= self.store.rules.basket_coupons_per_transaction
        )

    def _take_off(self, coupon: Coupon, value: int, used: Var, units: list[Unit], spread: bool) -> None:
        sums, model = self.sums, self.sums.model
        left = sums.amount(total([unit.left for unit in units]))
        if not spread:
            # Only the sum matters: a second coupon finds what the first has left, whatever the units.
            before = [*self.off_basket["store"], *self.off_basket["manufacturer"]]
            room = sums.amount(left - total(before)) if before else left
            self.off_basket[coupon.issuer].append(sums.if_so(used, sums.least(value, room)))
            return
        off = sums.amount(sums.if_so(used, sums.least(value, left)))
        over = model.new_int_var(1, sums.most, "")
        model.add_max_equality(over, [left, 1])
        parts: list[tuple[Unit, Term, Var, Var]] = []
        for unit in units:
            scaled = sums.product(off, unit.left, sums.most * sums.most)
            whole = sums.quotient(scaled, over)
            back = sums.product(whole, over, sums.most * sums.most)
            rest = sums.number()
            model.add(rest == scaled - back)
            parts.append((unit, whole, rest, sums.flag()))
        model.add(total([whole for _, whole, _, _ in parts]) + total([odd for *_, odd in parts]) == off)
        for unit, _, rest, odd in parts:
            sums.when(rest >= 1, odd)
            for other, _, their_rest, their_odd in parts:
                if other is not unit:
                    later = self.belt.before(other, unit)
                    sums.when(rest >= their_rest + later, odd, ~their_odd)
        for unit, whole, _, odd in parts:
            cents = whole + odd
            (unit.store_funded if coupon.issuer == "store" else unit.makers).append(cents)
            unit.left = sums.amount(unit.left - cents)

    # --- tax ---

    def _taxable(self, unit: Unit) -> Term:
        treatment = self.store.tax.treatment
        if treatment == "none":
            return unit.shelf
        if treatment == "all":
            return unit.left
        return unit.shelf - total(unit.store_funded)

    def _tax(self) -> Term:
        tax, sums = self.store.tax, self.sums
        classes = {product.id: product.tax_class for product in self.trip.products}
        cents: list[Term] = []
        for name, rate in tax.rates.items():
            if rate == 0:
                continue
            bases = [self._taxable(unit) for unit in self.belt.units if classes[unit.product] == name]
            if not bases:
                continue
            if tax.basis == "item":
                cents.extend(sums.quotient(rate * base + 50_000, 100_000) for base in bases)
                continue
            base = total(bases)
            if treatment_lowers(tax.treatment, "store"):
                base -= total(self.off_basket["store"])
            if treatment_lowers(tax.treatment, "manufacturer"):
                base -= total(self.off_basket["manufacturer"])
            cents.append(sums.quotient(rate * base + 50_000, 100_000))
        return total(cents)

    # --- rewards ---

    def earn(self, offer: RewardOffer, blocked: Var | None, earlier: list[Term]) -> list[Term]:
        """What this transaction earns of ``offer``: adds to ``prints``; the times, for the limits.

        ``blocked``: a slip of this very offer paid here. ``earlier``: times in transactions before.
        """
        sums, model = self.sums, self.sums.model
        if offer.store != self.store.id or not in_force(self.trip.day, offer.from_date, offer.until):
            return []
        units = [u for u in self.belt.units if not offer.products or u.product in offer.products]
        if offer.by == "units":
            progress: Term = total([unit.here for unit in units])
        else:
            progress = self._spend(offer.measure, offer.products)
            if offer.measure == "after_all_coupons":
                progress = total([unit.left for unit in units])
                if self.off_basket["store"] or self.off_basket["manufacturer"]:
                    progress -= total([*self.off_basket["store"], *self.off_basket["manufacturer"]])
        bounds: list[Term] = []
        if offer.per_household is not None:
            bounds.append(sums.above_zero(offer.per_household - total(earlier)))
        if offer.per_transaction is not None:
            bounds.append(offer.per_transaction)
        if blocked is not None and not offer.rolls:
            bounds.append(sums.most * (1 - blocked))
        if len(offer.tiers) == 1:
            tier = offer.tiers[0]
            if offer.by == "units":
                top = len(units) // tier.threshold
            else:
                top = sum(unit.tag for unit in units) // tier.threshold
            times = sums.least(sums.quotient(progress, tier.threshold), *bounds)
            if offer.per_transaction is not None:
                top = min(top, offer.per_transaction)
            model.add(times <= top)
            for k in range(top):
                self.prints.append(Print(offer, sums.reaches(times, k + 1), tier.cents))
            return [times]
        tiers = sorted(offer.tiers, key=lambda tier: tier.threshold)
        reached = [sums.reaches(progress, tier.threshold) for tier in tiers]
        open_to = sums.reaches(sums.least(1, *bounds), 1)
        times_each: list[Term] = []
        for at, tier in enumerate(tiers):
            highest = sums.flag()
            after = reached[at + 1] if at + 1 < len(tiers) else None
            model.add(highest == reached[at] - (after if after is not None else 0))
            there = sums.both(highest, open_to)
            self.prints.append(Print(offer, there, tier.cents))
            times_each.append(there)
        return times_each


def treatment_lowers(treatment: str, issuer: str) -> bool:
    """Whether a coupon of this issuer lowers the taxed amount."""
    return treatment == "all" or (treatment == "store_funded" and issuer == "store")
