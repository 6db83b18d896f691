"""What a category costs by its measure, week by week, beside the household's stock-up prices.

Worked: two packs of four bars for 4.92 net are 61.5 cents a bar; her stock-up price is 70.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import msgspec

from ..engine.deals import wants_of_products
from ..engine.measure import measure_in
from ..engine.offers import Product, StockUp
from ..engine.papers import Deal, RebateClaim
from .books import Books
from .claims import Claims, claims_of
from .notes import PurchaseLine, UnplannedPurchase
from .once import once
from .purchases import Bought, deals_bought
from .spending import iso_week, monday

NO_CATEGORY = "Without a category"
PACK = "pack"  # the measure of what no trip knows


class CategoryCost(msgspec.Struct, frozen=True, kw_only=True):
    """A category's purchases of one ISO week in one measure.

    ``measure``: how many ``per`` in all; ``net_cents``: with tax, after rewards and rebates at her worth;
    ``stock_up``: the mean of her stock-up cents per ``per`` over these packs, None where one has none."""

    week: str
    monday: str
    category: str
    per: str
    currency: str
    exponent: int
    packs: int
    measure: Fraction
    net_cents: int
    stock_up: Fraction | None


class _Lot(msgspec.Struct, frozen=True):
    """Packs of one product: what they hold, cost, and would have at the stock-up price (None: no such)."""

    key: tuple[str, str, str, str, int]  # its Monday, category, per, currency, digits
    packs: int
    measure: Fraction
    net_cents: int
    at_stock_up: Fraction | None


@once
def category_costs(books: Books, today: str) -> Sequence[CategoryCost]:
    """Every category by week, measure by measure."""
    products = {product.id: product for each in books.trips for product in each.trip.products}
    lots: list[_Lot] = []
    claims = claims_of(books, today)
    for each in books.trips:
        lots.extend(_lots(each, deals_of_trip(each, claims)))
    for note in books.notes:
        if isinstance(note.what, UnplannedPurchase):
            money = (note.what.currency, note.what.exponent)
            lots.extend(_unplanned(line, note.day, products, money) for line in note.what.lines)
    grouped: dict[tuple[str, str, str, str, int], list[_Lot]] = {}
    for lot in lots:
        grouped.setdefault(lot.key, []).append(lot)
    return [_together(key, of) for key, of in sorted(grouped.items())]


def deals_of_trip(each: Bought, claims: Claims) -> tuple[Deal, ...]:
    """A trip's deals after all: with its rewards, and its rebates at what they have come to by now."""
    rate = each.trip.settings.worth.rebate_bp
    worth = tuple(
        RebateClaim(rebate=claim.claim, times=1, cents=claim.worth_cents(rate), bonus=claim.bonus)
        for claim in claims.of_trip(each.trip.id)
        if claim.worth_cents(rate)
    )
    return deals_bought(each, worth)


@once
def _lots(each: Bought, deals: tuple[Deal, ...]) -> Sequence[_Lot]:
    goods = [product for purchase in each.purchases for product in purchase.transaction.products]
    products = {product.id: product for product in (*goods, *each.trip.products)}
    wants = wants_of_products(each.trip)
    lots: list[_Lot] = []
    for deal in deals:
        want = wants.get(deal.product)
        stock_up = want.stock_up if want is not None else None
        money = (each.trip.currency, each.trip.exponent)
        lots.append(_lot(each.trip.day, products[deal.product], deal.units, deal.net_cents, stock_up, money))
    return lots


def _lot(
    day: str, product: Product, packs: int, net: int, stock_up: StockUp | None, money: tuple[str, int]
) -> _Lot:
    per = stock_up.per if stock_up is not None else product.size.unit
    each = measure_in(product, per)
    if each is None:
        per, stock_up = product.size.unit, None
        each = measure_in(product, per) or Fraction(1)
    measure = packs * each
    return _Lot(
        (monday(day), product.category or NO_CATEGORY, per, *money),
        packs,
        measure,
        net,
        None if stock_up is None else Fraction(stock_up.cents) * measure,
    )


def _unplanned(line: PurchaseLine, day: str, products: dict[str, Product], money: tuple[str, int]) -> _Lot:
    """Goods without a plan; their tax is told of the whole purchase only."""
    product = products.get(line.product)
    if product is not None:
        return _lot(day, product, line.units, line.cents, None, money)
    key = (monday(day), line.category or NO_CATEGORY, PACK, *money)
    return _Lot(key, line.units, Fraction(line.units), line.cents, None)


def _together(key: tuple[str, str, str, str, int], lots: list[_Lot]) -> CategoryCost:
    first_day, category, per, currency, exponent = key
    measure = sum((lot.measure for lot in lots), Fraction())
    known = [lot.at_stock_up for lot in lots if lot.at_stock_up is not None]
    return CategoryCost(
        week=iso_week(first_day),
        monday=first_day,
        category=category,
        per=per,
        currency=currency,
        exponent=exponent,
        packs=sum(lot.packs for lot in lots),
        measure=measure,
        net_cents=sum(lot.net_cents for lot in lots),
        stock_up=sum(known, Fraction()) / measure if len(known) == len(lots) else None,
    )
