"""Step 1 of the register: what the shelf tags ask.

Common practice of the trade, no source. Worked: three for 1.00 without must-buy, one
bought: 0.34; a pair of 3.00 and 2.00 tagged buy one, get one half off: 3.00 + 1.00.
"""

from __future__ import annotations

from collections.abc import Sequence

from .money import round_half_up, share
from .offers import BuyOneGetOne, NForM, ShelfPrice


def holds_on(day: str, from_date: str | None, until: str | None) -> bool:
    """Whether ``day`` lies in a range of dates that includes both of its ends (None: open)."""
    return (from_date is None or from_date <= day) and (until is None or day <= until)


def tag_in_force(prices: Sequence[ShelfPrice], store: str, product: str, day: str) -> ShelfPrice | None:
    """The tag that holds for ``product`` at ``store`` on ``day``; None if there is none.

    Of several that hold, the cheapest; at one price the one with a deal; then the first.
    """
    best: ShelfPrice | None = None
    for tag in prices:
        if tag.store != store or tag.product != product or not holds_on(day, tag.from_date, tag.until):
            continue
        if best is None or _rank(tag) < _rank(best):
            best = tag
    return best


def unit_prices_after_shelf(tags: Sequence[ShelfPrice]) -> list[int]:
    """The price of each unit after step 1, in cents.

    ``tags``: one per physical item at one store, in belt order, units of a rain check left
    out. A deal may leave the first unit of a group a cent above its tag (33 on the tag,
    three for 1.00: 34, 33, 33); the group as a whole costs what the deal says.
    """
    prices = [tag.cents for tag in tags]
    for units in _groups(tags, NForM).values():
        _n_for_m(tags, units, prices)
    for units in _groups(tags, BuyOneGetOne).values():
        _in_pairs(tags, units, prices)
    return prices


def _rank(tag: ShelfPrice) -> tuple[int, int]:
    return (tag.cents, 1 if tag.deal is None else 0)


def _groups(tags: Sequence[ShelfPrice], deal_type: type[NForM] | type[BuyOneGetOne]) -> dict[str, list[int]]:
    """Units that one deal looks at together: those of a product, or of a ``mix`` word."""
    groups: dict[str, list[int]] = {}
    for unit, tag in enumerate(tags):
        if not isinstance(tag.deal, deal_type):
            continue
        mixed = isinstance(tag.deal, BuyOneGetOne) and tag.deal.mix != ""
        word = f"mix {tag.deal.mix}" if isinstance(tag.deal, BuyOneGetOne) and mixed else f"of {tag.product}"
        groups.setdefault(word, []).append(unit)
    return groups


def _n_for_m(tags: Sequence[ShelfPrice], units: list[int], prices: list[int]) -> None:
    deal = tags[units[0]].deal
    assert isinstance(deal, NForM)
    priced = len(units) // deal.n * deal.n if deal.must_buy else len(units)
    for k, unit in enumerate(units[:priced], start=1):
        prices[unit] = share(deal.cents, deal.n, k)


def _in_pairs(tags: Sequence[ShelfPrice], units: list[int], prices: list[int]) -> None:
    dearest_first = sorted(units, key=lambda unit: (-tags[unit].cents, unit))
    for second in dearest_first[1::2]:
        deal = tags[second].deal
        assert isinstance(deal, BuyOneGetOne)
        prices[second] -= round_half_up(tags[second].cents * deal.off_bp, 10_000)
