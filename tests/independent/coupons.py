"""Coupons and percent offers on the units of one belt: who claims what, and the cents it gives.

Per unit at most one coupon of each issuer and one percent offer (house rules that allow two are
outside this model), so the steps of the register follow each other without an order among coupons.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

from counterfoil.engine.offers import (
    BasketOff,
    CentsOff,
    Coupon,
    FixedPrice,
    FreeItem,
    PercentOff,
    Store,
    Trip,
)

from .belt import Belt, Unit, in_force, nth_share
from .sums import Sums, Term, Var, total


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
    """All coupon uses and percent offers of one transaction, with their cents on the units."""

    def __init__(self, sums: Sums, trip: Trip, store: Store, belt: Belt) -> None:
        self.sums, self.trip, self.store, self.belt = sums, trip, store, belt
        self.rules = store.rules
        if max(self.rules.store_coupons_per_unit, self.rules.manufacturer_coupons_per_unit) > 1:
            raise NotImplementedError("two coupons of one issuer on a unit")
        if self.rules.percent_offers_per_unit > 1:
            raise NotImplementedError("two percent offers on a unit")
        self.uses = [use for coupon in trip.coupons for use in self._copies(coupon)]
        self.offers: dict[str, list[tuple[Unit, Var]]] = {}
        self._one_per_unit()
        self._percent_offers()
        for use in self._of("store"):
            self._give(use)
        self._line_rounded_coupons()
        self._take("store", into="store_funded")
        for unit in belt.units:
            unit.after_store = unit.left
        for use in self._of("manufacturer"):
            self._give(use)
        self._take("manufacturer", into="makers")
        self._multiply()
        self._surplus_to_the_basket()

    def _of(self, issuer: str) -> list[Use]:
        return [use for use in self.uses if use.coupon.issuer == issuer]

    def _copies(self, coupon: Coupon) -> list[Use]:
        if isinstance(coupon.gives, BasketOff) or not taken_at(self.trip, self.store, coupon):
            return []
        model = self.sums.model
        uses: list[Use] = []
        asked = sum(asks.units for asks in coupon.asks)
        for _ in range(min(copies_here(self.store, coupon), len(self.belt.units) // asked)):
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
            # The earlier copy has the earlier first unit: copies are alike.
            marks = [
                (claimed, other) for (_, claimed), (_, other) in zip(first.flat(), second.flat(), strict=True)
            ]
            if len(coupon.asks) == 1:
                for at, (_, other) in enumerate(marks):
                    model.add_bool_or(~other, *(claimed for claimed, _ in marks[:at]))
        return uses

    def _one_per_unit(self) -> None:
        model = self.sums.model
        for unit in self.belt.units:
            on = {
                issuer: [claimed for use in self._of(issuer) for u, claimed in use.flat() if u is unit]
                for issuer in ("store", "manufacturer")
            }
            model.add(total([*on["store"]]) <= self.rules.store_coupons_per_unit)
            model.add(total([*on["manufacturer"]]) <= self.rules.manufacturer_coupons_per_unit)
            if not self.rules.store_with_manufacturer:
                model.add(total([*on["store"], *on["manufacturer"]]) <= 1)

    # --- percents ---

    def _percent_offers(self) -> None:
        sums = self.sums
        given: dict[int, list[Term]] = {id(unit): [] for unit in self.belt.units}
        flags: dict[int, list[Term]] = {id(unit): [] for unit in self.belt.units}
        for offer in self.trip.percent_offers:
            if offer.store != self.store.id or not in_force(self.trip.day, offer.from_date, offer.until):
                continue
            good = [u for u in self.belt.units if not offer.products or u.product in offer.products]
            applied = [(unit, sums.flag()) for unit in good]
            self.offers[offer.id] = applied
            for unit, flag in applied:
                sums.model.add_implication(flag, unit.here)
                flags[id(unit)].append(flag)
            if offer.units_per_transaction is not None:
                sums.model.add(total([flag for _, flag in applied]) <= offer.units_per_transaction)
            for unit, cents in self._percent(offer.bp, applied, self.rules.percent_rounding == "line"):
                given[id(unit)].append(cents)
        for unit in self.belt.units:
            sums.model.add(total(flags[id(unit)]) <= self.rules.percent_offers_per_unit)
            self._lower(unit, total(given[id(unit)]), "store_funded")

    def _base(self, unit: Unit) -> Term:
        return unit.shelf if self.rules.percent_base == "shelf" else unit.left

    def _percent(self, bp: int, claims: list[tuple[Unit, Var]], by_line: bool) -> list[tuple[Unit, Term]]:
        sums = self.sums
        given: list[tuple[Unit, Term]] = []
        if not by_line:
            for unit, flag in claims:
                off = sums.least(sums.half_up(self._base(unit), bp, 10_000), unit.left)
                given.append((unit, sums.if_so(flag, off)))
            return given
        bases = {id(unit): sums.if_so(flag, self._base(unit)) for unit, flag in claims}
        for unit, flag in claims:
            ahead: list[Term] = []
            for other, _ in claims:
                if other is not unit and other.product == unit.product:
                    before = self.belt.before(other, unit)
                    ahead.append(sums.if_so(before, bases[id(other)]))
            so_far = sums.half_up(total(ahead) if ahead else 0, bp, 10_000)
            with_it = sums.half_up(total([*ahead, bases[id(unit)]]), bp, 10_000)
            off = sums.least(with_it - so_far, unit.left)
            given.append((unit, sums.if_so(flag, off)))
        return given

    def _line_rounded_coupons(self) -> None:
        """Percent store coupons of one id, rounded once per product over all copies."""
        if self.rules.percent_rounding != "line":
            return
        for coupon in self.trip.coupons:
            uses = [use for use in self._of("store") if use.coupon is coupon]
            if not isinstance(coupon.gives, PercentOff) or not uses:
                continue
            merged: list[tuple[Unit, Var]] = []
            for unit in self.belt.units:
                claims = [claimed for use in uses for u, claimed in use.flat() if u is unit]
                if claims:
                    flag = self.sums.flag()
                    self.sums.model.add(flag == total([*claims]))
                    merged.append((unit, flag))
            uses[0].gives = {id(u): cents for u, cents in self._percent(coupon.gives.bp, merged, True)}

    # --- what one use gives ---

    def _give(self, use: Use) -> None:
        sums, gives = self.sums, use.coupon.gives
        if isinstance(gives, CentsOff):
            face = self.face(gives)
            self._spread(use, face)
            if self.rules.overage == "refuse":
                sums.model.add(use.surplus == 0)
        elif isinstance(gives, PercentOff):
            if use.coupon.issuer == "store" and self.rules.percent_rounding == "line":
                return
            for unit, cents in self._percent(gives.bp, use.flat(), False):
                self._note(use, unit, cents)
        elif isinstance(gives, FixedPrice):
            for unit, claimed, share in self._shares(use, gives.cents):
                self._note(use, unit, sums.if_so(claimed, sums.above_zero(unit.left - share)))
        elif isinstance(gives, FreeItem):
            self._free(use, gives)

    def _note(self, use: Use, unit: Unit, cents: Term) -> None:
        use.gives[id(unit)] = use.gives.get(id(unit), 0) + cents

    def face(self, gives: CentsOff) -> int:
        """The face value where the store stands."""
        return gives.regional_cents.get(self.store.region or self.trip.region, gives.cents)

    def _shares(self, use: Use, value: int) -> list[tuple[Unit, Var, Term]]:
        """Per claim its share of ``value``, spread in belt order (not 0 where unclaimed)."""
        claims = use.flat()
        parts = sum(asks.units for asks in use.coupon.asks)
        if value % parts == 0:
            return [(unit, claimed, value // parts) for unit, claimed in claims]
        table = [nth_share(value, parts, k) for k in range(parts)] + [0] * len(claims)
        shares: list[tuple[Unit, Var, Term]] = []
        for unit, claimed in claims:
            ahead: list[Term] = []
            for other, taken in claims:
                if other is not unit:
                    ahead.append(self.sums.both(taken, self.belt.before(other, unit)))
            index = self.sums.number(len(table) - 1)
            self.sums.model.add(index == total(ahead))
            share = self.sums.number()
            self.sums.model.add_element(index, table, share)
            shares.append((unit, claimed, share))
        return shares

    def _spread(self, use: Use, value: int) -> None:
        """Cents off over the claimed units; what one has no room for passes to the others."""
        given = self._spread_over(use, value)
        for unit, cents in given:
            self._note(use, unit, cents)
        use.surplus = value * use.used - total([cents for _, cents in given])

    def _spread_over(self, use: Use, value: int) -> list[tuple[Unit, Term]]:
        sums = self.sums
        parts = sum(asks.units for asks in use.coupon.asks)
        if parts == 1:
            return [(unit, sums.if_so(flag, sums.least(value, unit.left))) for unit, flag in use.flat()]
        first: list[tuple[Unit, Term, Term]] = []
        missed: list[Term] = []
        for unit, claimed, share in self._shares(use, value):
            mine = sums.if_so(claimed, share)
            taken = sums.least(mine, unit.left)
            missed.append(mine - taken)
            first.append((unit, taken, sums.if_so(claimed, sums.amount(unit.left - taken))))
        passed = sums.amount(total(missed))
        given: list[tuple[Unit, Term]] = []
        for unit, taken, room in first:
            rest: Term = passed
            if parts > 2:
                ahead = [
                    sums.if_so(self.belt.before(other, unit), space)
                    for other, _, space in first
                    if other is not unit
                ]
                rest = sums.above_zero(passed - total(ahead))
            given.append((unit, taken + sums.least(room, rest)))
        return given

    def _free(self, use: Use, gives: FreeItem) -> None:
        sums = self.sums
        claims = use.flat() if gives.leg is None else use.claims[gives.leg]
        chosen = [(unit, claimed, sums.flag()) for unit, claimed in claims]
        sums.model.add(total([pick for _, _, pick in chosen]) == use.used)
        for unit, claimed, pick in chosen:
            sums.model.add_implication(pick, claimed)
            for other, taken, _ in chosen:
                if other is not unit:
                    tie = self.belt.before(unit, other)
                    sums.when(unit.left + tie <= other.left, pick, taken)
            off = sums.least(
                sums.half_up(unit.left, gives.off_bp, 10_000),
                sums.most if gives.up_to_cents is None else gives.up_to_cents,
            )
            self._note(use, unit, sums.if_so(pick, off))

    # --- off the units ---

    def _lower(self, unit: Unit, cents: Term, into: str) -> None:
        if isinstance(cents, int):
            return
        getattr(unit, into).append(cents)
        unit.left = self.sums.amount(unit.left - cents)

    def _take(self, issuer: str, into: str) -> None:
        for unit in self.belt.units:
            given = [use.gives[id(unit)] for use in self._of(issuer) if id(unit) in use.gives]
            if given:
                self._lower(unit, total(given), into)

    def _multiply(self) -> None:
        house, sums = self.rules.multiplying, self.sums
        if house is None:
            return
        extras: dict[int, list[Term]] = {id(unit): [] for unit in self.belt.units}
        marks: list[Term] = []
        could: list[Term] = []
        for use in self._of("manufacturer"):
            gives = use.coupon.gives
            if not isinstance(gives, CentsOff) or not use.coupon.may_multiply:
                continue
            if self.face(gives) > house.up_to_cents:
                continue
            mark = sums.flag()
            sums.model.add_implication(mark, use.used)
            marks.append(mark)
            could.append(use.used)
            for unit, cents in self._spread_over(use, self.face(gives) * (house.times - 1)):
                extras[id(unit)].append(sums.if_so(mark, sums.amount(cents)))
        if not marks:
            return
        if house.per_transaction is None:
            sums.model.add(total(marks) == total(could))
        else:
            sums.model.add(total(marks) == sums.least(total(could), house.per_transaction))
        for unit in self.belt.units:
            self._lower(unit, total(extras[id(unit)]), "store_funded")

    def _surplus_to_the_basket(self) -> None:
        if self.rules.overage != "basket":
            return
        sums = self.sums
        for use in self.uses:
            if not isinstance(use.coupon.gives, CentsOff):
                continue
            into = "store_funded" if use.coupon.issuer == "store" else "makers"
            surplus = sums.amount(use.surplus)
            rooms: list[tuple[Unit, Term]] = []
            for unit in self.belt.units:
                mine = [claimed for u, claimed in use.flat() if u is unit]
                room = sums.number()
                if mine:
                    flag = sums.flag()
                    sums.model.add(flag == total([*mine]))
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
                self._lower(unit, got, into)
