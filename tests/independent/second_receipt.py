"""The register asked a second time: ``second_receipt`` has the same model reckon one given transaction.

Everything is fixed that ``best_value`` would choose: what lies on the belt and in which order, who claims
what, in which order it is handed over. What the model finds then is its own receipt, or that there is none.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import msgspec
from ortools.sat.python import cp_model

from counterfoil.engine.offers import PercentOff, Trip, Wallet, Want
from counterfoil.engine.papers import PayByCash, PayByFoodBenefit, PayByGiftCard, PayBySlip, Transaction

from .answer import Figures
from .belt import Refused, Unit
from .claims import Use
from .counter import Transaction as Model
from .purse import GIFT_CARDS
from .steps import Step
from .sums import Sums, Var


def second_receipt(transaction: Transaction) -> Figures | None:
    """The model's figures; None where a rule refuses the transaction."""
    try:
        return _Given(transaction).figures()
    except Refused:
        return None


def as_trip(transaction: Transaction) -> Trip:
    """A trip that has room for exactly what lies on the belt."""
    units: Counter[str] = Counter()
    for line in transaction.lines:
        units[line.product] += line.units
    store = transaction.store
    return Trip(
        id="one",
        title="One transaction",
        day=transaction.day,
        stores=(msgspec.structs.replace(store, region=transaction.region or store.region),),
        products=transaction.products,
        prices=transaction.prices,
        wants=tuple(Want(id=name, products=(name,), welcome=count) for name, count in units.items()),
        coupons=transaction.coupons,
        percent_offers=transaction.percent_offers,
        rewards=transaction.rewards,
        wallet=Wallet(rain_checks=transaction.rain_checks),
    )


class _Given:
    def __init__(self, transaction: Transaction) -> None:
        self.given, self.trip = transaction, as_trip(transaction)
        store = self.trip.stores[0]
        most = sum(tag.cents for tag in transaction.prices) + sum(c.cents for c in transaction.rain_checks)
        units = sum(line.units for line in transaction.lines)
        benefits = [t for t in transaction.tenders if isinstance(t, PayByFoodBenefit)]
        self.sums = Sums(2 * most * units + sum(t.cents for t in benefits) + 1_000)
        self.solver = cp_model.CpSolver()
        self.solver.parameters.num_workers = 1
        budgets = [(tender.cents, tender.products) for tender in benefits]
        self.model = Model(self.sums, self.trip, store, True, transaction.lines, budgets)
        self._hand_over()
        self._count_coupons()
        self._earn()

    # --- what is handed over ---

    def _hand_over(self) -> None:
        (offer_step, offers), (percent_step, percents) = self.model.coupons.percent_steps
        self._apply_offers()
        self._in_order(offer_step, offers, [use.offer for use in self.given.offer_uses])
        by_coupon: dict[str, list[int]] = {}
        for number, use in enumerate(self.given.uses):
            by_coupon.setdefault(use.coupon, []).append(number)
        known = {coupon.id: coupon for coupon in self.trip.coupons}
        if any(name not in known for name in by_coupon):
            raise Refused("unknown")
        number_of: dict[int, int] = {}
        for name in known:
            self._claim(name, by_coupon.get(name, []), number_of)
        percent_names = [
            use.coupon for use in self.given.uses if isinstance(known[use.coupon].gives, PercentOff)
        ]
        self._in_order(percent_step, percents, percent_names)
        for step, uses in self.model.coupons.steps:
            numbers = [number_of.get(id(use), -1) for use in uses]
            self._in_order(step, numbers, range(len(self.given.uses)))
        self._hand_over_basket_coupons(by_coupon)

    def _in_order(self, step: Step, papers: Sequence[object], handed: Sequence[object]) -> None:
        """The papers of a step in the order in which they were first handed over; the others after them."""
        first = {paper: place for place, paper in reversed([*enumerate(handed)])}
        order = sorted(range(len(papers)), key=lambda paper: first.get(papers[paper], len(handed)))
        for place, paper in enumerate(order):
            self.sums.model.add(step.places[paper] == place)

    def _apply_offers(self) -> None:
        applied: dict[str, list[int]] = {}
        for use in self.given.offer_uses:
            applied.setdefault(use.offer, []).extend(use.units)
        if any(name not in self.model.claims.offers for name in applied):
            raise Refused("offer")
        for name, claims in self.model.claims.offers.items():
            self._mark(claims, applied.get(name, []))

    def _claim(self, name: str, numbers: list[int], number_of: dict[int, int]) -> None:
        """The given uses of one coupon are the model's, in the order in which the model has its copies."""
        uses = [use for use in self.model.claims.uses if use.coupon.id == name]
        if not uses:
            baskets = [coupon for coupon, _ in self.model.baskets if coupon.id == name]
            if (numbers and not baskets) or any(self.given.uses[number].units for number in numbers):
                raise Refused(name)
            return
        if len(numbers) > len(uses):
            raise Refused(name)
        places = {id(unit): place for place, (unit, _) in enumerate(uses[0].flat())}
        laid = self.model.belt.laid

        def first(number: int) -> int:
            units = [laid[unit] for unit in self.given.uses[number].units if unit < len(laid)]
            return min((places.get(id(unit), 0) for unit in units), default=0)

        for use, number in zip(uses, sorted(numbers, key=first), strict=False):
            number_of[id(use)] = number
            self.sums.model.add(use.used == 1)
            self._claim_units(use, self.given.uses[number].units)
        for use in uses[len(numbers) :]:
            self.sums.model.add(use.used == 0)

    def _claim_units(self, use: Use, units: tuple[int, ...]) -> None:
        if len(units) != sum(asks.units for asks in use.coupon.asks) or len({*units}) < len(units):
            raise Refused(use.coupon.id)
        start = 0
        for asks, leg in zip(use.coupon.asks, use.claims, strict=True):
            self._mark(leg, units[start : start + asks.units])
            start += asks.units

    def _mark(self, claims: Sequence[tuple[Unit, Var]], units: Sequence[int]) -> None:
        laid = self.model.belt.laid
        if any(unit >= len(laid) for unit in units) or len({*units}) < len(units):
            raise Refused("units")
        chosen = [laid[unit] for unit in units]
        able = [unit for unit, _ in claims]
        if any(unit not in able for unit in chosen):
            raise Refused("units")
        for unit, flag in claims:
            self.sums.model.add(flag == (1 if unit in chosen else 0))

    def _hand_over_basket_coupons(self, by_coupon: dict[str, list[int]]) -> None:
        step, model = self.model.basket_step, self.sums.model
        assert step is not None
        left = {name: list(numbers) for name, numbers in by_coupon.items()}
        numbers: list[int] = []
        for coupon, used in self.model.baskets:
            mine = left.get(coupon.id, [])
            model.add(used == (1 if mine else 0))
            numbers.append(mine.pop(0) if mine else -1)
        baskets = {coupon.id for coupon, _ in self.model.baskets}
        if any(rest for name, rest in left.items() if name in baskets):
            raise Refused("basket coupons")
        self._in_order(step, numbers, range(len(self.given.uses)))

    def _count_coupons(self) -> None:
        rules = self.trip.stores[0].rules
        if not rules.coupons_no_more_than_items:
            return
        count = self.model.makers_coupons
        if rules.slip_counts_as_manufacturer_coupon:
            count = count + sum(1 for tender in self.given.tenders if isinstance(tender, PayBySlip))
        self.sums.model.add(count <= self.model.belt.count)

    def _earn(self) -> None:
        slips = {tender.offer for tender in self.given.tenders if isinstance(tender, PayBySlip)}
        for offer in self.trip.rewards:
            before = self.given.earned_before.get(offer.id, 0)
            blocked = self.sums.fact(True) if offer.id in slips else None
            self.model.earn(offer, blocked, [before])

    # --- what comes of it ---

    def figures(self) -> Figures:
        solver, model = self.solver, self.model
        status = solver.solve(self.sums.model)
        if status == cp_model.INFEASIBLE:
            raise Refused("a rule of the house")
        assert status == cp_model.OPTIMAL, solver.status_name(status)
        benefits = sum(solver.value(cents) for cents in model.benefits)
        earned: Counter[str] = Counter()
        for printed in model.prints:
            earned[printed.offer.id] += printed.cents * solver.value(printed.there)
        return Figures(
            paid=tuple(solver.value(unit.left) for unit in model.belt.laid),
            tax=solver.value(model.tax),
            benefits=benefits,
            cash=self._cash(solver.value(model.total) - benefits),
            earned={name: cents for name, cents in earned.items() if cents},
        )

    def _cash(self, due: int) -> int:
        """What is put down once slips and gift cards have paid, in the order of the tenders."""
        categories = {product.id: product.category for product in self.trip.products}
        for_slips, cash, slips = due, 0, set[str]()
        if not self.trip.stores[0].rules.slips_buy_gift_cards:
            on_sale = [unit for unit in self.model.belt.laid if categories[unit.product] == GIFT_CARDS]
            for_slips -= sum(self.solver.value(unit.left) for unit in on_sale)
        for tender in self.given.tenders:
            if isinstance(tender, PayBySlip):
                if tender.cents > min(due, for_slips) or tender.id in slips - {""}:
                    raise Refused(tender.id)
                slips.add(tender.id)
                for_slips -= tender.cents
                due -= tender.cents
            elif isinstance(tender, PayByGiftCard):
                due -= min(due, tender.cents)
            elif isinstance(tender, PayByCash):
                paid = due if tender.cents is None else min(due, tender.cents)
                cash += paid
                due -= paid
        if due > 0:
            raise Refused("not paid")
        return cash
