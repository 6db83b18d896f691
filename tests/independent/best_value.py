"""The best that any plan can do on a small trip, by CP-SAT on a model of its own: ``best_value``.

Written from the rules alone. Explicit units, transactions and slips; no stacks, no clusters, no
linear relaxation of a receipt. Meant for about eight units in all and a few transactions.
"""

from __future__ import annotations

import itertools
from fractions import Fraction

from ortools.sat.python import cp_model

from counterfoil.engine.offers import Product, StockUp, Trip

from .answer import Best, NotProven
from .belt import ceiling, in_force, tag_of
from .counter import Transaction
from .purse import Purse, at_worth, family_of
from .sums import Sums, Term, total


def best_value(trip: Trip, cash: bool = False, seconds: float = 60, workers: int = 1) -> Best:
    """Fewest missing, then greatest value, then most units (then least cash): proven optimal."""
    return TripModel(trip, cash).solve(seconds, workers)


# What a measure is of its base: gram, millilitre, metre, square metre (exact by definition).
OUNCE, FLUID_OUNCE, FOOT = Fraction("28.349523125"), Fraction("29.5735295625"), Fraction("0.3048")
MEASURES = (
    {"mg": Fraction(1, 1000), "g": Fraction(1), "kg": Fraction(1000), "oz": OUNCE, "lb": 16 * OUNCE},
    {"ml": Fraction(1), "cl": Fraction(10), "l": Fraction(1000), "fl-oz": FLUID_OUNCE}
    | {"cup": 8 * FLUID_OUNCE, "pt": 16 * FLUID_OUNCE, "qt": 32 * FLUID_OUNCE, "gal": 128 * FLUID_OUNCE},
    {"m": Fraction(1), "cm": Fraction(1, 100), "ft": FOOT, "in": FOOT / 12, "yd": 3 * FOOT},
    {"sq-m": Fraction(1), "sq-ft": FOOT**2, "sq-yd": 9 * FOOT**2, "sq-in": FOOT**2 / 144},
)


def per_unit_worth(product: Product, stock_up: StockUp | None) -> int:
    """Whole cents that one pack is worth: by its size, or by its pieces for any word that is no measure."""
    if stock_up is None:
        return 0
    measure = Fraction(product.pieces)
    if product.pieces == 1 and not any(product.size.unit in each for each in MEASURES):
        # "30 tablets" as a size is thirty pieces.
        measure = Fraction(product.size.amount)
    for of_one_kind in MEASURES:
        if stock_up.per in of_one_kind:
            size = Fraction(product.size.amount) * of_one_kind[product.size.unit]
            measure = size / of_one_kind[stock_up.per]
    worth = Fraction(stock_up.cents) * measure
    return worth.numerator // worth.denominator


class TripModel:
    """The whole trip as one model."""

    def __init__(self, trip: Trip, cash: bool) -> None:
        self.trip = trip
        most = sum(
            ceiling(trip, product.id)
            * max([tag.cents for tag in trip.prices if tag.product == product.id], default=0)
            for product in trip.products
        )
        most += sum(check.cents * check.units for check in trip.wallet.rain_checks)
        self.sums = Sums(2 * most + 1_000)
        self.model = self.sums.model
        self.wants_cash = cash
        self.transactions: list[Transaction] = []
        self.value: list[Term] = []
        spread = self._spread_matters()
        for store in trip.stores:
            units = sum(max(want.need, want.welcome) for want in trip.wants)
            here = [
                Transaction(self.sums, trip, store, spread)
                for _ in range(min(store.rules.transactions_per_visit, units))
            ]
            for first, second in itertools.pairwise(here):
                self.model.add_implication(second.used, first.used)
            self.transactions.extend(here)
        self._wants()
        self._limits()
        purse = Purse(self.sums, trip, self.transactions, cash)
        self.value.extend(purse.value)
        self.cash = purse.cash
        self._rebates()
        self._prices_of_going()

    # --- what the spreading of a basket coupon can change ---

    def _spread_matters(self) -> bool:
        trip = self.trip
        baskets = [coupon for coupon in trip.coupons if coupon.gives.__class__.__name__ == "BasketOff"]
        if not baskets:
            return False
        if any(coupon.asks[0].products for coupon in baskets) and len(baskets) > 1:
            return True
        if any(reward.by == "spend" and reward.products for reward in trip.rewards):
            return True
        if any(coupon.asks[0].products for coupon in baskets) and any(r.by == "spend" for r in trip.rewards):
            return True
        taxes = [store.tax for store in trip.stores if any(store.tax.rates.values())]
        if not taxes:
            return False
        classes = {product.tax_class for product in trip.products}
        return len(classes) > 1 or any(tax.basis == "item" for tax in taxes)

    # --- wants and limits ---

    def _at_tag(self, product: str, stores: set[str]) -> Term:
        return total(
            [
                unit.here
                for transaction in self.transactions
                if transaction.store.id in stores
                for unit in transaction.belt.at_tag.get(product, [])
            ]
        )

    def _bought(self, product: str) -> Term:
        return total(
            [
                unit.here
                for transaction in self.transactions
                for unit in transaction.belt.units
                if unit.product == product
            ]
        )

    def _wants(self) -> None:
        products = {product.id: product for product in self.trip.products}
        for_want: dict[str, list[Term]] = {name: [] for name in products}
        missing: list[Term] = []
        for want in self.trip.wants:
            most = max(want.need, want.welcome)
            got: list[Term] = []
            for name in want.products:
                taken = self.sums.number(most)
                got.append(taken)
                for_want[name].append(taken)
                self.value.append(per_unit_worth(products[name], want.stock_up) * taken)
            self.model.add(total(got) <= most)
            short = self.sums.number(want.need)
            self.model.add(short >= want.need - total(got))
            missing.append(short)
        for name in products:
            self.model.add(self._bought(name) == total(for_want[name]))
        self.missing = total(missing)
        self.units = total([unit.here for t in self.transactions for unit in t.belt.units])

    def _limits(self) -> None:
        trip, model = self.trip, self.model
        for coupon in trip.coupons:
            used: list[Term] = [
                use.used for t in self.transactions for use in t.claims.uses if use.coupon is coupon
            ]
            used += [flag for t in self.transactions for c, flag in t.baskets if c is coupon]
            limits = [coupon.copies, coupon.per_day, coupon.per_household]
            if used:
                model.add(total(used) <= min(limit for limit in limits if limit is not None))
        for offer in trip.percent_offers:
            if offer.transactions is None:
                continue
            touched: list[Term] = []
            for t in self.transactions:
                claims = t.claims.offers.get(offer.id, [])
                if claims:
                    flag = self.sums.flag()
                    touched.append(flag)
                    for _, applied in claims:
                        model.add_implication(applied, flag)
            model.add(total(touched) <= offer.transactions)
        for family in {family_of(trip, store.id) for store in trip.stores}:
            for product in trip.products:
                # A store and its channels share one limit, wherever the tag has one: the tightest.
                limits = {
                    store.id: tag.per_visit
                    for store in trip.stores
                    if family_of(trip, store.id) == family
                    and (tag := tag_of(trip, store.id, product.id)) is not None
                    and tag.per_visit is not None
                }
                if limits:
                    model.add(self._at_tag(product.id, set(limits)) <= min(limits.values()))
        for check in trip.wallet.rain_checks:
            here = [u.here for t in self.transactions for u in t.belt.checks.get(check.id, [])]
            if here:
                model.add(total([*here]) <= check.units)

    # --- after the trip ---

    def _rebates(self) -> None:
        trip, model, sums = self.trip, self.model, self.sums
        claimed: dict[str, Term] = {}
        for rebate in trip.rebates:
            if not in_force(trip.day, rebate.from_date, rebate.until):
                continue
            times: list[Term] = []
            everywhere: list[Term] = []
            for t in self.transactions:
                if rebate.stores and t.store.id not in rebate.stores:
                    continue
                units: list[Term] = [u.here for u in t.belt.units if u.product in rebate.products]
                everywhere += units
                if rebate.from_receipt_cents > 0:
                    here = sums.number(rebate.limit)
                    times.append(here)
                    model.add(rebate.units * here <= total(units))
                    enough = sums.reaches(t.merchandise, rebate.from_receipt_cents)
                    sums.when(here == 0, ~enough)
            count = sums.number(rebate.limit)
            model.add(rebate.units * count <= total(everywhere))
            if rebate.from_receipt_cents > 0:
                model.add(count <= total(times))
            claimed[rebate.id] = count
            self.value.append(at_worth(rebate.cents, trip.settings.worth.rebate_bp) * count)
        for bonus in trip.set_bonuses:
            if any(name not in claimed for name in bonus.rebates):
                continue
            got = sums.flag()
            for name in bonus.rebates:
                sums.when(claimed[name] >= 1, got)
            self.value.append(at_worth(bonus.cents, trip.settings.worth.rebate_bp) * got)

    def _prices_of_going(self) -> None:
        settings = self.trip.settings
        for store in self.trip.stores:
            here = [t for t in self.transactions if t.store is store]
            if here:
                self.value.append(-settings.further_store_cents * here[0].used)
                for later in here[1:]:
                    self.value.append(-settings.further_transaction_cents * later.used)

    # --- solving ---

    def solve(self, seconds: float, workers: int) -> Best:
        """Missing, value and units in one weighted sum, whose weights keep them apart; then cash."""
        value = total(self.value)
        objective = 10_000_000 * self.missing - 100 * value - self.units
        self.model.minimize(objective)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = workers
        solver.parameters.random_seed = 1
        solver.parameters.max_time_in_seconds = seconds
        self._prove(solver)
        missing, units = solver.value(self.missing), solver.value(self.units)
        worth = solver.value(value)
        cash = None
        if self.wants_cash:
            self.model.add(objective == round(solver.objective_value))
            self.model.minimize(self.cash)
            self._prove(solver)
            cash = solver.value(self.cash)
        return Best(missing, worth, units, cash, self._words(solver))

    def _prove(self, solver: cp_model.CpSolver) -> None:
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN):
            # Buying nothing is always a plan: anything else is a mistake in this model.
            raise AssertionError(f"{self.trip.id}: {solver.status_name(status)} {self.model.validate()}")
        if status != cp_model.OPTIMAL:
            raise NotProven(self.trip.id)

    def _words(self, solver: cp_model.CpSolver) -> str:
        lines: list[str] = []
        for t in self.transactions:
            if not solver.value(t.used):
                continue
            lines.append(f"at {t.store.id}: total {solver.value(t.total)}, tax {solver.value(t.tax)}")
            for unit in t.belt.units:
                if not solver.value(unit.here):
                    continue
                by = [
                    f"{use.coupon.id}#{n} {solver.value(use.gives.get(id(unit), 0))}"
                    for n, use in enumerate(t.claims.uses)
                    if any(u is unit and solver.value(flag) for u, flag in use.flat())
                ]
                by += [
                    name
                    for name, claims in t.claims.offers.items()
                    if any(u is unit and solver.value(flag) for u, flag in claims)
                ]
                lines.append(
                    f"  {unit.product} shelf {solver.value(unit.shelf)} left {solver.value(unit.left)} {by}"
                )
            lines += [f"  basket {c.id}" for c, used in t.baskets if solver.value(used)]
            lines += [f"  prints {p.offer.id} {p.cents}" for p in t.prints if solver.value(p.there)]
        return "\n".join(lines)
