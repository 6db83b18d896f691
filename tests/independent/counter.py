"""The rest of one transaction: basket coupons, food benefits, tax, the total, and what it earns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from counterfoil.engine.offers import BasketOff, Coupon, Measure, RewardOffer, Store, Trip
from counterfoil.engine.papers import Line

from .belt import Belt, Unit
from .claims import Claims, copies_here, taken_at
from .coupons import Coupons
from .steps import Step
from .sums import Sums, Term, Var, total
from .tags import in_force

# Cents, and the products that they may pay (none: everything).
Benefit = tuple[int, tuple[str, ...]]


@dataclass(eq=False)
class Print:
    """One thing that the register prints or loads if ``there``: worth ``cents`` at face."""

    offer: RewardOffer
    there: Var
    cents: int


class Transaction:
    """One transaction of the trip; everything in it is 0 while nothing lies on the belt.

    ``spread``: whether basket coupons are spread over the units (else only their sum counts).
    ``lines``: what lies on the belt, where it is given; then the order of what is handed over
    counts everywhere. ``benefits``: food benefits, in the order of the tenders; they ask for ``spread``.
    """

    def __init__(
        self,
        sums: Sums,
        trip: Trip,
        store: Store,
        spread: bool,
        lines: Sequence[Line] | None = None,
        benefits: Sequence[Benefit] = (),
    ) -> None:
        self.sums, self.trip, self.store = sums, trip, store
        self.belt = Belt(sums, trip, store, lines)
        self.used = sums.flag()
        sums.when(self.belt.count >= 1, self.used)
        sums.when(self.belt.count == 0, ~self.used)
        self.claims = Claims(sums, trip, store, self.belt)
        in_order = lines is not None
        self.coupons = Coupons(sums, trip, store, self.belt, self.claims, in_order)
        units = self.belt.units
        self.before_baskets = {id(unit): unit.left for unit in units}
        self.off_basket: dict[str, list[Term]] = {"store": [], "manufacturer": []}
        self.baskets = self._basket_coupons()
        self.basket_step = self._spread(in_order) if spread else None
        if not spread:
            self._only_the_sums()
        off = [*self.off_basket["store"], *self.off_basket["manufacturer"]]
        self.merchandise = total([unit.left for unit in units]) - total(off)
        taxable = {id(unit): self._taxable(unit) for unit in units}
        self.benefits = self._food_benefits(benefits, taxable)
        self.taxable = taxable
        self.tax = self._tax(taxable)
        self.total = sums.amount(self.merchandise + self.tax)
        self.makers_coupons = total(
            [use.used for use in self.claims.uses if use.coupon.issuer == "manufacturer"]
            + [used for coupon, used in self.baskets if coupon.issuer == "manufacturer"]
        )
        self.prints: list[Print] = []

    def _of(self, products: tuple[str, ...]) -> list[Unit]:
        return [unit for unit in self.belt.units if not products or unit.product in products]

    # --- basket coupons ---

    def _spend(self, measure: Measure, products: tuple[str, ...]) -> Term:
        units = self._of(products)
        if measure == "before_coupons":
            return total([unit.shelf for unit in units])
        if measure == "after_store_coupons":
            return total([unit.after_store for unit in units])
        return total([self.before_baskets[id(unit)] for unit in units])

    def _basket_coupons(self) -> list[tuple[Coupon, Var]]:
        model, most = self.sums.model, self.store.rules.basket_coupons_per_transaction
        found: list[tuple[Coupon, Var]] = []
        for coupon in self.trip.coupons:
            gives = coupon.gives
            if not isinstance(gives, BasketOff) or not taken_at(self.trip, self.store, coupon):
                continue
            spend = self._spend(gives.measure, coupon.asks[0].products)
            earlier: Var | None = None
            for _ in range(min(copies_here(self.store, coupon), most)):
                used = self.sums.flag()
                self.sums.when(spend >= gives.from_cents, used)
                model.add_implication(used, self.used)
                if earlier is not None:
                    model.add_implication(used, earlier)
                earlier = used
                found.append((coupon, used))
        model.add(total([used for _, used in found]) <= most)
        return found

    def _only_the_sums(self) -> None:
        """A second coupon finds what the first has left, whatever the units."""
        sums = self.sums
        for coupon, used in self.baskets:
            assert isinstance(coupon.gives, BasketOff)
            left = sums.amount(total([unit.left for unit in self._of(coupon.asks[0].products)]))
            before = [*self.off_basket["store"], *self.off_basket["manufacturer"]]
            room = sums.amount(left - total(before)) if before else left
            self.off_basket[coupon.issuer].append(sums.if_so(used, sums.least(coupon.gives.cents, room)))

    def _spread(self, in_order: bool) -> Step:
        """Each in proportion to what is left, largest remainder, ties in belt order."""
        sums, model = self.sums, self.sums.model
        on = [self._of(coupon.asks[0].products) for coupon, _ in self.baskets]
        step = Step(sums, on, in_order or len(on) > 1)
        for paper, (coupon, used) in enumerate(self.baskets):
            assert isinstance(coupon.gives, BasketOff)
            finds = step.finds(paper)
            left = sums.amount(total([finds(unit) for unit in on[paper]]))
            off = sums.amount(sums.if_so(used, sums.least(coupon.gives.cents, left)))
            over = model.new_int_var(1, sums.most, "")
            model.add_max_equality(over, [left, 1])
            parts: list[tuple[Unit, Term, Var, Var]] = []
            for unit in on[paper]:
                scaled = sums.product(off, finds(unit), sums.most * sums.most)
                whole = sums.quotient(scaled, over)
                back = sums.product(whole, over, sums.most * sums.most)
                rest = sums.number()
                model.add(rest == scaled - back)
                parts.append((unit, whole, rest, sums.flag()))
            model.add(total([whole for _, whole, _, _ in parts]) + total([odd for *_, odd in parts]) == off)
            for unit, whole, rest, odd in parts:
                sums.when(rest >= 1, odd)
                for other, _, their_rest, their_odd in parts:
                    if other is not unit:
                        later = self.belt.before(other, unit)
                        sums.when(rest >= their_rest + later, odd, ~their_odd)
                into = "store_funded" if coupon.issuer == "store" else "makers"
                step.give(paper, unit, whole + odd, into)
        step.end()
        return step

    # --- food benefits and tax ---

    def _rate(self, unit: Unit) -> int:
        classes = {product.id: product.tax_class for product in self.trip.products}
        return self.store.tax.rates.get(classes[unit.product], 0)

    def _taxable(self, unit: Unit) -> Term:
        treatment = self.store.tax.treatment
        if treatment == "none":
            return unit.shelf
        if treatment == "all":
            return unit.left
        return unit.shelf - total(unit.store_funded)

    def _food_benefits(self, benefits: Sequence[Benefit], taxable: dict[int, Term]) -> list[Term]:
        """What each benefit pays: taxed units first, in belt order; what it pays leaves ``taxable``."""
        if not benefits:
            return []
        sums = self.sums
        left = {id(unit): unit.left for unit in self.belt.units}
        taxed = {
            id(unit): sums.reaches(taxable[id(unit)], 1) if self._rate(unit) else sums.fact(False)
            for unit in self.belt.units
        }
        paid: list[Term] = []
        for cents, products in benefits:
            units = self._of(products)
            pays: dict[int, Term] = {}
            for unit in units:
                ahead: list[Term] = []
                for other in units:
                    if other is not unit:
                        first = self._first(other, unit, taxed)
                        ahead.append(sums.if_so(first, left[id(other)]))
                pays[id(unit)] = sums.least(left[id(unit)], sums.above_zero(cents - total(ahead)))
            for unit, part in pays.items():
                left[unit] = sums.amount(left[unit] - part)
                taxable[unit] = sums.above_zero(taxable[unit] - part)
            paid.append(total([*pays.values()]))
        return paid

    def _first(self, one: Unit, other: Unit, taxed: dict[int, Var]) -> Var:
        """Whether a benefit comes to ``one`` before the ``other``."""
        sums, before = self.sums, self.belt.before(one, other)
        mine, theirs = taxed[id(one)], taxed[id(other)]
        first = sums.flag()
        sums.model.add_bool_or(~mine, theirs, first)
        sums.model.add_bool_or(mine, ~theirs, ~first)
        for same in ((mine, theirs), (~mine, ~theirs)):
            sums.model.add(first == before).only_enforce_if(*same)  # pyright: ignore[reportUnknownMemberType]
        return first

    def _tax(self, taxable: dict[int, Term]) -> Term:
        tax, sums = self.store.tax, self.sums
        classes = {product.id: product.tax_class for product in self.trip.products}
        cents: list[Term] = []
        for name, rate in tax.rates.items():
            if rate == 0:
                continue
            bases = [taxable[id(unit)] for unit in self.belt.units if classes[unit.product] == name]
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
        units = self._of(offer.products)
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
