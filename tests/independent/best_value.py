"""The best that any plan can do on a small trip, by CP-SAT on a model of its own: ``best_value``.

Written from the rules alone. Explicit units, transactions and slips; no stacks, no clusters, no
linear relaxation of a receipt. Meant for about eight units in all and a few transactions.
"""

from __future__ import annotations

import itertools

import msgspec
from ortools.sat.python import cp_model

from counterfoil.engine.offers import BasketOff, Trip

from .answer import Best, NotProven
from .belt import Unit, ceiling
from .counter import Transaction
from .purse import GIFT_CARDS, Purse, at_worth, family_of
from .sums import Sums, Term, total
from .tags import in_force, tag_of
from .wanted import per_unit_worth, with_pins
from .witness import transaction_of


def best_value(trip: Trip, cash: bool = False, seconds: float = 60, workers: int = 1) -> Best:
    """Fewest missing, then greatest value, then most units (then least cash, then fewest transactions):
    proven optimal."""
    return TripModel(with_pins(trip), cash).solve(seconds, workers)


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
        self.cash, self.payments = purse.cash, purse.payments
        self._rebates()
        self._prices_of_going()

    # --- what the spreading of a basket coupon can change ---

    def _spread_matters(self) -> bool:
        trip = self.trip
        baskets = [coupon for coupon in trip.coupons if isinstance(coupon.gives, BasketOff)]
        if not baskets:
            return False
        if any(product.category == GIFT_CARDS for product in trip.products):
            return True
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

    def _units(self, product: str) -> list[Unit]:
        return [u for t in self.transactions for u in t.belt.units if u.product == product]

    def _at_tag(self, product: str, stores: set[str]) -> Term:
        return total(
            [
                unit.here
                for transaction in self.transactions
                if transaction.store.id in stores
                for unit in transaction.belt.at_tag.get(product, [])
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
            self.model.add(total([unit.here for unit in self._units(name)]) == total(for_want[name]))
        for pin in self.trip.pinned:
            there = [t for t in self.transactions if t.store.id == pin.store]
            units = [u.here for t in there for u in t.belt.units if u.product == pin.product]
            self.model.add(total(units) >= pin.units)
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
        """Missing, value and units in one weighted sum, whose weights keep them apart; then cash and
        transactions in another."""
        value = total(self.value)
        objective = 10_000_000 * self.missing - 100 * value - self.units
        self.model.minimize(objective)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = workers
        solver.parameters.random_seed = 1
        solver.parameters.max_deterministic_time = seconds
        self._prove(solver)
        missing, units = solver.value(self.missing), solver.value(self.units)
        worth = solver.value(value)
        cash = transactions = None
        if self.wants_cash:
            count = total([t.used for t in self.transactions])
            self.model.add(objective == round(solver.objective_value))
            self.model.minimize(1_000 * self.cash + count)
            self._prove(solver)
            cash, transactions = solver.value(self.cash), solver.value(count)
        return Best(missing, worth, units, cash, transactions, self._papers(solver))

    def _prove(self, solver: cp_model.CpSolver) -> None:
        status = solver.solve(self.model)
        if status == cp_model.INFEASIBLE and self.trip.pinned:
            # What cannot be bought cannot be pinned; the plan then gives something up, which is not modelled.
            raise NotProven(self.trip.id)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN):
            # Buying nothing is always a plan: anything else is a mistake in this model.
            raise AssertionError(f"{self.trip.id}: {solver.status_name(status)} {self.model.validate()}")
        if status != cp_model.OPTIMAL:
            raise NotProven(self.trip.id)

    def _papers(self, solver: cp_model.CpSolver) -> bytes:
        return msgspec.json.encode(
            [
                transaction_of(self.trip, model, payments, solver)
                for model, payments in zip(self.transactions, self.payments, strict=True)
                if solver.value(model.used)
            ]
        )
