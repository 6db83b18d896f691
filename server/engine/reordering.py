"""Another order on the belt: the one in which the register charges least for the same units.

Odd cents of a coupon's shares fall in belt order, a percentage rounded per line too, and of equally
cheap units the last is the free one. ``packing.py`` lays the units where they mostly belong; where
the register charges more than the program reckoned, every order of a small transaction is tried.

Worked: a fixed price of 4.00 for three is 1.34, 1.33, 1.33: a unit that costs nothing lies first.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations

import msgspec

from .papers import Line, PayByCash, Receipt, Transaction
from .register import price

# Every order of up to so many units is tried; of more, the exchanges of two, again and again.
MOST_UNITS = 6
# Rounds of exchanges.
MOST_ROUNDS = 2


def cheapest_order(transaction: Transaction) -> tuple[Transaction, bool]:
    """The transaction in its cheapest order, its own where none is cheaper, and whether all were tried."""
    count = sum(line.units for line in transaction.lines)
    if count <= MOST_UNITS:
        best, _ = _cheapest_of(transaction, permutations(range(count)))
        return best, True
    for _ in range(MOST_ROUNDS):
        best, changed = _cheapest_of(transaction, _exchanges(count))
        if not changed:
            break
        transaction = best
    return transaction, False


def without_refused(transaction: Transaction) -> Transaction:
    """The transaction without the coupons that the register does not take as they are handed over."""
    while transaction.uses:
        receipt = price(msgspec.structs.replace(transaction, tenders=(PayByCash(),)))
        if isinstance(receipt, Receipt):
            break
        uses = list(transaction.uses)
        refused = [place for place, use in enumerate(uses) if use.coupon == receipt.subject]
        uses.pop(refused[-1] if refused else -1)
        transaction = msgspec.structs.replace(transaction, uses=tuple(uses))
    return transaction


def _cheapest_of(transaction: Transaction, orders: Iterator[tuple[int, ...]]) -> tuple[Transaction, bool]:
    best, least = transaction, _charge(transaction)
    for order in orders:
        other = in_order(transaction, order)
        charge = _charge(other)
        if charge is not None and (least is None or charge < least):
            best, least = other, charge
    return best, best is not transaction


def _exchanges(count: int) -> Iterator[tuple[int, ...]]:
    for one in range(count):
        for other in range(one + 1, count):
            order = list(range(count))
            order[one], order[other] = other, one
            yield tuple(order)


def _charge(transaction: Transaction) -> int | None:
    """What is due less what is earned; None where the register refuses."""
    receipt = price(msgspec.structs.replace(transaction, tenders=(PayByCash(),)))
    if not isinstance(receipt, Receipt):
        return None
    return receipt.total_cents - sum(earned.cents for earned in receipt.earned)


def in_order(transaction: Transaction, order: tuple[int, ...]) -> Transaction:
    """The transaction with its units in another order; ``order``: the present places, first to last."""
    units = [(line.product, line.rain_check) for line in transaction.lines for _ in range(line.units)]
    place = {old: new for new, old in enumerate(order)}
    lines: list[Line] = []
    for old in order:
        product, check = units[old]
        if lines and (lines[-1].product, lines[-1].rain_check) == (product, check):
            lines[-1] = Line(product=product, units=lines[-1].units + 1, rain_check=check)
        else:
            lines.append(Line(product=product, units=1, rain_check=check))
    asks = {coupon.id: [each.units for each in coupon.asks] for coupon in transaction.coupons}
    return msgspec.structs.replace(
        transaction,
        lines=tuple(lines),
        uses=tuple(
            msgspec.structs.replace(use, units=_moved(use.units, asks[use.coupon], place))
            for use in transaction.uses
        ),
        offer_uses=tuple(
            msgspec.structs.replace(use, units=_moved(use.units, [len(use.units)], place))
            for use in transaction.offer_uses
        ),
    )


def _moved(units: tuple[int, ...], asks: list[int], place: dict[int, int]) -> tuple[int, ...]:
    """Claimed units at their new places, requirement by requirement, each in belt order."""
    found: list[int] = []
    start = 0
    for count in asks:
        found.extend(sorted(place[unit] for unit in units[start : start + count]))
        start += count
    return tuple(found)
