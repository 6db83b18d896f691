"""What types cannot say about a trip or a transaction, as a list of findings.

The structs of ``offers.py`` already refuse a negative price, an unknown kind of coupon, a
misspelt field. This file adds what needs two fields or two records at once: references that
must exist, dates in order, one tag per product and day. All findings are reported, never only
the first, each with the path of the field as in the file (``prices[3].cents``), the value found
and the mend in words. An empty list means that the engine may reckon with the document.

Python only, no twin: the phone gets trips that have passed here.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from .findings import Papers, Problem, known, named_once, numbered
from .measure import UNITS, NotMeasured, worth_cents
from .money import exponent_of
from .offers import Trip
from .papers import Transaction
from .records import RECORD_CHECKS, UNIT_MEND, is_a_date
from .references import REFERENCE_CHECKS

__all__ = ["Problem", "check_transaction", "check_trip"]

# Cents. The browser's 32-bit integers and the solver's weights end at 2^31 - 1; no household's
# week comes near twenty million dollars.
LARGEST_SUM = 2_000_000_000
# Physical items in one transaction: a unit's index goes up to 10,000 (papers.py).
LONGEST_BELT = 10_000


def check_trip(trip: Trip) -> list[Problem]:
    """Every finding about a trip, check by check; [] when it is sound.

    ``welcome`` 0 beside a greater ``need`` is no finding: it means "as many as needed".
    """
    papers = Papers(
        whole=True,
        stores=numbered("stores", trip.stores),
        products=numbered("products", trip.products),
        prices=numbered("prices", trip.prices),
        wants=numbered("wants", trip.wants),
        coupons=numbered("coupons", trip.coupons),
        percent_offers=numbered("percent_offers", trip.percent_offers),
        rewards=numbered("rewards", trip.rewards),
        rebates=numbered("rebates", trip.rebates),
        set_bonuses=numbered("set_bonuses", trip.set_bonuses),
        slips=numbered("wallet.slips", trip.wallet.slips),
        gift_cards=numbered("wallet.gift_cards", trip.wallet.gift_cards),
        rain_checks=numbered("wallet.rain_checks", trip.wallet.rain_checks),
    )
    found = [*_currency(trip), *is_a_date("day", trip.day)]
    for check in (*_SHARED_CHECKS, _wants, _stock_up, _trip_sum):
        found.extend(check(papers))
    return [*found, *_pinned(trip)]


def check_transaction(transaction: Transaction) -> list[Problem]:
    """Every finding about a transaction; [] when the register may ring it up.

    What the register answers by a refusal (a claim on the wrong units, copies, tenders) is not
    looked at: a refusal is an answer, a finding is bad input.
    """
    papers = Papers(
        whole=False,
        stores=[("store", transaction.store)],
        products=numbered("products", transaction.products),
        prices=numbered("prices", transaction.prices),
        coupons=numbered("coupons", transaction.coupons),
        percent_offers=numbered("percent_offers", transaction.percent_offers),
        rewards=numbered("rewards", transaction.rewards),
        rain_checks=numbered("rain_checks", transaction.rain_checks),
    )
    found = list(is_a_date("day", transaction.day))
    for check in _SHARED_CHECKS:
        found.extend(check(papers))
    found.extend(_belt(transaction))
    return found


_SHARED_CHECKS = (*REFERENCE_CHECKS, *RECORD_CHECKS)


# --- a trip's own -------------------------------------------------------------------


def _currency(trip: Trip) -> Iterator[Problem]:
    digits = exponent_of(trip.currency)
    if digits != trip.exponent:
        yield Problem("exponent", str(trip.exponent), f"{trip.currency} has {digits} digits after the point")


def _wants(papers: Papers) -> Iterator[Problem]:
    priced = {tag.product for _, tag in papers.prices}
    known = {product.id for _, product in papers.products}
    for path, want in papers.wants:
        yield from named_once(f"{path}.products", want.products)
        if 0 < want.welcome < want.need:
            mend = f"at least the {want.need} needed, or leave it out"
            yield Problem(f"{path}.welcome", str(want.welcome), mend)
        for index, product in enumerate(want.products):
            if product in known and product not in priced:
                mend = "no store has a price for it: add a line under prices, or take it off this list"
                yield Problem(f"{path}.products[{index}]", product, mend)


def _pinned(trip: Trip) -> Iterator[Problem]:
    stores, products = {store.id for store in trip.stores}, {product.id for product in trip.products}
    seen: set[tuple[str, str]] = set()
    for path, pin in numbered("pinned", trip.pinned):
        yield from known(f"{path}.store", pin.store, stores, "store")
        yield from known(f"{path}.product", pin.product, products, "product")
        if (pin.store, pin.product) in seen:
            yield Problem(path, pin.product, "pin it once only at a store")
        seen.add((pin.store, pin.product))


def _stock_up(papers: Papers) -> Iterator[Problem]:
    products = {product.id: product for _, product in papers.products}
    for path, want in papers.wants:
        if want.stock_up is None:
            continue
        per = want.stock_up.per
        if per not in UNITS:
            yield Problem(f"{path}.stock_up.per", per, UNIT_MEND)
            continue
        for name in want.products:
            product = products.get(name)
            if product is None or product.size.unit not in UNITS or Fraction(product.size.amount) == 0:
                continue  # said elsewhere
            try:
                worth = worth_cents(product, want.stock_up) * max(want.need, want.welcome)
            except NotMeasured as wrong:
                yield Problem(f"{path}.stock_up.per", per, f"{name}: {wrong.mend}")
                continue
            if worth > LARGEST_SUM:
                mend = f"at that price {name} is worth {worth} cents in all: too much to count"
                yield Problem(f"{path}.stock_up.cents", want.stock_up.cents, mend)


def _trip_sum(papers: Papers) -> Iterator[Problem]:
    dearest: dict[str, int] = {}
    for _, tag in papers.prices:
        dearest[tag.product] = max(tag.cents, tag.high_cents or 0, dearest.get(tag.product, 0))
    tags = sum(
        max(want.need, want.welcome) * max(dearest.get(product, 0) for product in want.products)
        for _, want in papers.wants
    )
    if tags > LARGEST_SUM:
        yield Problem("wants", f"{tags} cents at the dearest tags", "too much for one trip: want fewer units")


# --- a transaction's own ------------------------------------------------------------


def _belt(transaction: Transaction) -> Iterator[Problem]:
    tags = {tag.product: tag for tag in transaction.prices if tag.store == transaction.store.id}
    products = {product.id for product in transaction.products}
    rain_checks = {rain_check.id: rain_check for rain_check in transaction.rain_checks}
    total = 0
    for index, line in enumerate(transaction.lines):
        path = f"lines[{index}]"
        yield from known(f"{path}.product", line.product, products, "product")
        if line.rain_check is not None:
            yield from known(f"{path}.rain_check", line.rain_check, set(rain_checks), "rain check")
        elif line.product in products and line.product not in tags:
            yield Problem(
                f"{path}.product", line.product, "this store has no price for it: add a line under prices"
            )
        tag = tags.get(line.product)
        total += line.units * (tag.cents if tag else 0)
    units = sum(line.units for line in transaction.lines)
    if units > LONGEST_BELT:
        yield Problem("lines", f"{units} units", f"at most {LONGEST_BELT} units lie on one belt")
    if total > LARGEST_SUM:
        yield Problem(
            "lines", f"{total} cents at the tags", "too much for one transaction: ring up fewer units"
        )
    coupons = {coupon.id for coupon in transaction.coupons}
    for index, use in enumerate(transaction.uses):
        yield from known(f"uses[{index}].coupon", use.coupon, coupons, "coupon")
    offers = {offer.id for offer in transaction.percent_offers}
    for index, use in enumerate(transaction.offer_uses):
        yield from known(f"offer_uses[{index}].offer", use.offer, offers, "percent offer")
