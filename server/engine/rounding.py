"""Rounding: goods of the rest change places so that the registers' tax is rounded down.

Tax is rounded once per transaction and class, so where goods lie can be worth a cent. What no rule binds
to its transaction (``spreading.py``) may lie in any: one or two units at a time go from one
transaction to another, as long as that takes a cent off.

Worked, at 6.625 %: 1.00 and 1.00 in two transactions are taxed 0.07 each, together 0.13.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations_with_replacement

from .block import Shelf
from .filling import Filling
from .shelves import one_is_enough, transactions_allowed
from .situation import Situation
from .spreading import Spread
from .ways import Column

# Units per column key.
Held = dict[str, int]


def exchanged(situation: Situation, placing: Spread, filled: list[Filling]) -> list[Filling]:
    """The transactions of a spread with goods of the rest exchanged."""
    found: list[Filling] = []
    for store, shelf in placing.shelves.items():
        own = [each for each in filled if each.shelf.counter.store.id == store]
        taxed = [column.key for column, _ in placing.rest.get(store, []) if _taxable(column, shelf)]
        if not taxed or shelf.counter.store.tax.basis == "item":
            found.extend(own)
            continue
        allowed = transactions_allowed(situation, shelf.counter.store)
        if situation.trip.settings.further_transaction_cents or one_is_enough(situation, shelf, apart=False):
            allowed = len(own)
        held = [{column.key: count for column, count in each.counts} for each in own]
        held.extend({} for _ in range(allowed - len(held)))
        columns = {column.key: column for column in shelf.columns}
        for each in _settled(shelf, columns, held, taxed):
            counts = tuple((columns[key], each[key]) for key in sorted(each) if each[key])
            found.append(Filling(shelf, counts, {}))
    return found


def _settled(shelf: Shelf, columns: dict[str, Column], held: list[Held], rest: list[str]) -> list[Held]:
    """What the transactions hold when no move takes off a cent any more."""
    taxable = {key: _taxable(column, shelf) for key, column in columns.items()}
    while True:
        bases = [_bases(each, taxable) for each in held]
        taxes = [_tax(each, shelf) for each in bases]
        better = None
        for moved, source, target in _moves(held, rest):
            left, more = dict(bases[source]), dict(bases[target])
            for key in moved:
                for tax_class, cents in taxable[key].items():
                    left[tax_class] -= cents
                    more[tax_class] = more.get(tax_class, 0) + cents
            if _tax(left, shelf) + _tax(more, shelf) < taxes[source] + taxes[target]:
                better = (moved, source, target)
                break
        if better is None:
            return held
        moved, source, target = better
        held = [dict(each) for each in held]
        for key in moved:
            held[source][key] -= 1
            held[target][key] = held[target].get(key, 0) + 1


def _moves(held: list[Held], rest: list[str]) -> Iterator[tuple[tuple[str, ...], int, int]]:
    """Every move of one unit, then of two, from one transaction to another."""
    places = range(len(held))
    for moved in [*((key,) for key in rest), *combinations_with_replacement(rest, 2)]:
        for source in places:
            if all(held[source].get(key, 0) >= moved.count(key) for key in moved):
                yield from ((moved, source, target) for target in places if target != source)


def _taxable(column: Column, shelf: Shelf) -> dict[str, int]:
    """What is taxable of a column, per taxed class."""
    found: dict[str, int] = {}
    for way in column.ways:
        tax_class = shelf.products[way.product].tax_class
        if way.taxable and shelf.counter.store.tax.rates.get(tax_class, 0):
            found[tax_class] = found.get(tax_class, 0) + way.taxable
    return found


def _bases(held: Held, taxable: dict[str, dict[str, int]]) -> dict[str, int]:
    """What tax is reckoned on in a transaction, per class."""
    found: dict[str, int] = {}
    for key, count in held.items():
        for tax_class, cents in taxable[key].items():
            found[tax_class] = found.get(tax_class, 0) + count * cents
    return found


def _tax(bases: dict[str, int], shelf: Shelf) -> int:
    """The tax of a transaction in cents."""
    rates = shelf.counter.store.tax.rates
    return sum((rates[tax_class] * base + 50_000) // 100_000 for tax_class, base in bases.items())
