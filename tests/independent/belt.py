"""What lies on the belt of one transaction: each unit, whether it is there, and its shelf price.

A unit belongs to a *group* (one product at its tag, or one product on one rain check). Units of a
group stand on the belt in the order of their number; how groups interleave is the shopper's
choice, so the order of two units of different groups is a variable, made when first asked for.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field

from counterfoil.engine.offers import BuyOneGetOne, NForM, RainCheck, ShelfPrice, Store, Trip
from counterfoil.engine.papers import Line

from .sums import Sums, Term, Var, total
from .tags import in_force, tag_of


class Refused(Exception):
    """What was laid down, claimed or paid is not taken."""


@dataclass(eq=False)
class Unit:
    """One physical item. Amounts are 0 while ``here`` does not hold."""

    product: str
    group: int
    number: int
    tag: int
    here: Var
    shelf: Term = 0
    left: Term = 0
    store_funded: list[Term] = field(default_factory=list[Term])
    makers: list[Term] = field(default_factory=list[Term])
    after_store: Term = 0


def ceiling(trip: Trip, product: str) -> int:
    """The most units of a product that anybody at home would take."""
    return sum(max(want.need, want.welcome) for want in trip.wants if product in want.products)


class Belt:
    """The units of one transaction at ``store``.

    ``lines``: what lies there, in that order, where somebody has laid it down (``laid``: its units)."""

    def __init__(self, sums: Sums, trip: Trip, store: Store, lines: Sequence[Line] | None = None) -> None:
        self.sums = sums
        self.units: list[Unit] = []
        self.checks: dict[str, list[Unit]] = {}
        self.at_tag: dict[str, list[Unit]] = {}
        self._order: dict[tuple[int, int], Var] = {}
        group = 0
        for product in trip.products:
            most = ceiling(trip, product.id)
            tag = tag_of(trip, store.id, product.id)
            if tag is not None:
                limit = min(most, tag.per_transaction or most, tag.per_visit or most)
                self.at_tag[product.id] = self._add(product.id, group, limit, tag.cents)
                self._shelf(tag, self.at_tag[product.id])
                group += 1
            for check in trip.wallet.rain_checks:
                if check.store == store.id and check.product == product.id and usable(trip, check):
                    units = self._add(product.id, group, min(most, check.units), check.cents)
                    for unit in units:
                        unit.shelf = unit.here * check.cents
                    self.checks[check.id] = units
                    group += 1
        self.laid = [] if lines is None else self._lay(lines)
        rest = [] if lines is None else [unit for unit in self.units if unit not in self.laid]
        self._places = {id(unit): place for place, unit in enumerate([*self.laid, *rest])}
        self._pairs_of_a_mix(trip, store)
        for unit in self.units:
            unit.left = unit.shelf
        self.count = total([unit.here for unit in self.units])

    def _add(self, product: str, group: int, limit: int, cents: int) -> list[Unit]:
        units = [Unit(product, group, k, cents, self.sums.flag()) for k in range(limit)]
        for first, second in itertools.pairwise(units):
            self.sums.model.add_implication(second.here, first.here)
        self.units.extend(units)
        return units

    def _lay(self, lines: Sequence[Line]) -> list[Unit]:
        taken: dict[tuple[str, str | None], int] = {}
        laid: list[Unit] = []
        for line in lines:
            group = self.at_tag if line.rain_check is None else self.checks
            units = group.get(line.product if line.rain_check is None else line.rain_check, [])
            first = taken.get((line.product, line.rain_check), 0)
            mine = units[first : first + line.units]
            if len(mine) < line.units or mine[0].product != line.product:
                raise Refused(line.product)
            taken[line.product, line.rain_check] = first + line.units
            laid.extend(mine)
        for unit in self.units:
            self.sums.model.add(unit.here == (1 if unit in laid else 0))
        return laid

    def _shelf(self, tag: ShelfPrice, units: list[Unit]) -> None:
        deal = tag.deal
        for unit in units:
            unit.shelf = unit.here * tag.cents
            if isinstance(deal, NForM):
                share = nth_share(deal.cents, deal.n, unit.number % deal.n)
                if not deal.must_buy:
                    unit.shelf = unit.here * share
                    continue
                last = deal.n * (unit.number // deal.n + 1) - 1
                if last < len(units):
                    unit.shelf = unit.here * tag.cents + units[last].here * (share - tag.cents)
            elif isinstance(deal, BuyOneGetOne) and not deal.mix and unit.number % 2:
                unit.shelf = unit.here * (tag.cents - reduction(tag.cents, deal.off_bp))

    def _pairs_of_a_mix(self, trip: Trip, store: Store) -> None:
        mixes: dict[str, list[tuple[Unit, int]]] = {}
        for product, units in self.at_tag.items():
            tag = tag_of(trip, store.id, product)
            if tag is not None and isinstance(tag.deal, BuyOneGetOne) and tag.deal.mix:
                for unit in units:
                    mixes.setdefault(tag.deal.mix, []).append((unit, tag.deal.off_bp))
        sums = self.sums
        for pool in mixes.values():
            for unit, off_bp in pool:
                ahead: list[Term] = []
                for other, _ in pool:
                    if other.tag > unit.tag:
                        ahead.append(other.here)
                    elif other.tag == unit.tag and other is not unit:
                        ahead.append(sums.both(other.here, self.before(other, unit)))
                second = sums.flag()
                pairs = sums.number(len(pool))
                sums.model.add(total(ahead) == 2 * pairs + second)
                reduced = sums.both(second, unit.here)
                unit.shelf = unit.here * unit.tag - reduced * reduction(unit.tag, off_bp)

    @property
    def has_order(self) -> bool:
        """Whether anything hangs on how groups interleave."""
        return bool(self._order or self._places)

    def before(self, first: Unit, second: Unit) -> Var:
        """Whether ``first`` lies before ``second``: fixed within a group, else the shopper's choice."""
        if self._places:
            return self.sums.fact(self._places[id(first)] < self._places[id(second)])
        if first.group == second.group:
            return self.sums.fact(first.number < second.number)
        if not self._order:
            self._interleave()
        return self._order[id(first), id(second)]

    def _interleave(self) -> None:
        units, model = self.units, self.sums.model
        for at, first in enumerate(units):
            for second in units[at + 1 :]:
                if first.group != second.group:
                    flag = self.sums.flag()
                    self._order[id(first), id(second)] = flag
                    self._order[id(second), id(first)] = ~flag
        for a, first in enumerate(units):
            for b in range(a + 1, len(units)):
                for c in range(b + 1, len(units)):
                    second, third = units[b], units[c]
                    if first.group == second.group == third.group:
                        continue
                    way = [self.before(first, second), self.before(second, third), self.before(third, first)]
                    model.add_bool_or(*way)
                    model.add_bool_or(*(~step for step in way))


def usable(trip: Trip, check: RainCheck) -> bool:
    """A rain check is good until its last day."""
    return in_force(trip.day, None, check.until)


def reduction(cents: int, bp: int) -> int:
    """``bp`` of ``cents``, half up."""
    return (cents * bp + 5_000) // 10_000


def nth_share(value: int, parts: int, index: int) -> int:
    """The share of the unit number ``index`` (0 first) when ``value`` is spread over ``parts`` units."""
    return -(-value * (index + 1) // parts) + (-value * index // parts)
