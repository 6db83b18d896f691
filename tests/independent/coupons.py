"""Coupons taken off the units of one belt: steps 2 to 4 of the register, and surplus to the basket."""

from __future__ import annotations

from counterfoil.engine.offers import CentsOff, FixedPrice, FreeItem, Issuer, PercentOff, Store, Trip

from .belt import Belt, Unit
from .claims import Claims, Use
from .giving import Given, fixed_price, free_item, spread
from .percents import take_percents
from .steps import Step
from .sums import Sums, Term, Var, total


class Coupons:
    """Everything that coupons and percent offers take off before basket coupons.

    ``in_order``: the handing-over order counts even where a unit takes one of a kind, because somebody
    fixes it. ``percent_steps``, ``steps``: each with its papers (ids of offers, of percent coupons; uses).
    ``marks``: what the house multiplies.
    """

    def __init__(
        self, sums: Sums, trip: Trip, store: Store, belt: Belt, claims: Claims, in_order: bool = False
    ) -> None:
        self.sums, self.trip, self.store, self.belt = sums, trip, store, belt
        self.claims, self.rules, self.in_order = claims, store.rules, in_order
        self.marks: list[tuple[Use, Var]] = []
        self.percent_steps = take_percents(claims, in_order)
        stores = [use for use in claims.of("store") if not isinstance(use.coupon.gives, PercentOff)]
        self.steps = [self._step("store", stores)]
        for unit in belt.units:
            unit.after_store = unit.left
        self.steps.append(self._step("manufacturer", claims.of("manufacturer")))
        self._surplus_to_the_basket()

    def _step(self, issuer: Issuer, uses: list[Use]) -> tuple[Step, list[Use]]:
        together = self.in_order or self.claims.per_unit[issuer] > 1
        plain = [] if self.in_order else [paper for paper, use in enumerate(uses) if self._is_plain(use)]
        step = Step(self.sums, [[unit for unit, _ in use.flat()] for use in uses], together, plain)
        into = "store_funded" if issuer == "store" else "makers"
        for paper, use in enumerate(uses):
            for unit, cents in self._given(step, paper, use):
                use.note(unit, cents)
                step.give(paper, unit, cents, into)
        if issuer == "manufacturer":
            self._multiply(step, uses)
        step.end()
        return step, uses

    def _is_plain(self, use: Use) -> bool:
        """Cents off one unit, at face value: two of them take as much in either order."""
        gives, asks = use.coupon.gives, use.coupon.asks
        one_unit = len(asks) == 1 and asks[0].units == 1
        return isinstance(gives, CentsOff) and one_unit and not self._multiplies(use)

    def _multiplies(self, use: Use) -> bool:
        house, gives = self.rules.multiplying, use.coupon.gives
        if house is None or use.coupon.issuer == "store" or not use.coupon.may_multiply:
            return False
        return isinstance(gives, CentsOff) and self.face(gives) <= house.up_to_cents

    def _given(self, step: Step, paper: int, use: Use) -> Given:
        sums, gives, finds = self.sums, use.coupon.gives, step.finds(paper)
        if isinstance(gives, CentsOff):
            face = self.face(gives)
            given = spread(sums, self.belt, use, face, finds)
            use.surplus = face * use.used - total([cents for _, cents in given])
            if self.rules.overage == "refuse":
                sums.model.add(use.surplus == 0)
            return given
        if isinstance(gives, PercentOff):
            base = self.rules.percent_base
            return [
                (unit, sums.if_so(flag, sums.least(sums.half_up(whole, gives.bp, 10_000), finds(unit))))
                for unit, flag in use.flat()
                for whole in [unit.shelf if base == "shelf" else finds(unit)]
            ]
        if isinstance(gives, FixedPrice):
            return fixed_price(sums, self.belt, use, gives, finds)
        assert isinstance(gives, FreeItem)
        return free_item(sums, self.belt, use, gives, finds)

    def face(self, gives: CentsOff) -> int:
        """The face value where the store stands."""
        return gives.regional_cents.get(self.store.region or self.trip.region, gives.cents)

    def _multiply(self, step: Step, uses: list[Use]) -> None:
        """The extra part right after the face value, for the first so many that are handed over."""
        house, sums = self.rules.multiplying, self.sums
        if house is None:
            return
        marks: dict[int, Var] = {}
        for paper, use in enumerate(uses):
            gives = use.coupon.gives
            if not isinstance(gives, CentsOff) or not self._multiplies(use):
                continue
            face = self.face(gives)
            mark = marks[paper] = sums.flag() if house.per_transaction is not None else use.used
            sums.model.add_implication(mark, use.used)
            finds = step.finds(paper)
            left = {id(unit): sums.amount(finds(unit) - use.gives.get(id(unit), 0)) for unit, _ in use.flat()}
            extra = spread(
                sums, self.belt, use, face * (house.times - 1), lambda unit, left=left: left[id(unit)]
            )
            for unit, cents in extra:
                step.give(paper, unit, sums.if_so(mark, sums.amount(cents)), "store_funded")
        self.marks = [(uses[paper], mark) for paper, mark in marks.items()]
        if house.per_transaction is None or not marks:
            return
        could = total([uses[paper].used for paper in marks])
        sums.model.add(total([*marks.values()]) == sums.least(could, house.per_transaction))
        if step.together:
            for one, mark in marks.items():
                for other, later in marks.items():
                    if one != other:
                        sums.model.add_bool_or(~mark, later, ~uses[other].used, step.before(one, other))

    def _surplus_to_the_basket(self) -> None:
        if self.rules.overage != "basket":
            return
        sums = self.sums
        for use in [*self.claims.of("store"), *self.claims.of("manufacturer")]:
            if not isinstance(use.coupon.gives, CentsOff):
                continue
            into = "store_funded" if use.coupon.issuer == "store" else "makers"
            surplus = sums.amount(use.surplus)
            rooms: list[tuple[Unit, Term]] = []
            for unit in self.belt.units:
                mine = use.on(unit)
                room = sums.number()
                if mine:
                    flag = sums.flag()
                    sums.model.add(flag == total(mine))
                    sums.when(room == 0, flag)
                    sums.when(room == unit.left, ~flag)
                else:
                    sums.model.add(room == unit.left)
                rooms.append((unit, room))
            for unit, room in rooms:
                ahead = [
                    sums.if_so(self.belt.before(other, unit), space)
                    for other, space in rooms
                    if other is not unit
                ]
                got = sums.least(room, sums.above_zero(surplus - total(ahead)))
                getattr(unit, into).append(got)
                unit.left = sums.amount(unit.left - got)
