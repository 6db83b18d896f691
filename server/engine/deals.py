"""Deals: what each want costs in the plan, as a planner would write it down.

Taxes, rewards and rebates belong to the units that caused them: tax by taxable amount
(largest remainder), a reward evenly over the units that counted, a rebate evenly over the
units that it was claimed for, a set bonus evenly over its rebates. Every cent is given out once.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from .checkout import Paid
from .measure import measures_of, show_unit_price, unit_price
from .money import round_half_up, share
from .objective import lapses, reward_worth
from .offers import Product, StockUp, Trip, Want
from .papers import Deal, RebateClaim
from .situation import Situation, product_by_id, tag_at
from .ways import asks_for

Verdict = Literal["at or under", "over", "no stock-up price"]


def wants_of_products(trip: Trip) -> dict[str, Want]:
    """Per product the want that it is shown under: the one that ranks it highest, then by id."""
    found: dict[str, tuple[int, str, Want]] = {}
    for want in trip.wants:
        for rank, product in enumerate(want.products):
            held = found.get(product)
            if held is None or (rank, want.id) < held[:2]:
                found[product] = (rank, want.id, want)
    return {product: want for product, (_, _, want) in found.items()}


def deals_of(situation: Situation, stops: list[Paid], claims: tuple[RebateClaim, ...]) -> tuple[Deal, ...]:
    """One deal per store and product of the plan, in checkout order."""
    trip = situation.trip
    by_id = product_by_id(trip)
    wants = wants_of_products(trip)
    rows: dict[tuple[str, str], dict[str, int]] = {}
    units_of: dict[str, list[tuple[str, str]]] = {}
    for each in stops:
        store = each.transaction.store.id
        taxes = _tax_per_unit(each)
        rewards = _reward_per_unit(situation, each)
        for index, unit in enumerate(each.receipt.units):
            spot = (store, unit.product)
            units_of.setdefault(unit.product, []).append(spot)
            row = rows.setdefault(spot, {})
            for name, cents in (
                ("units", 1),
                ("tag", unit.tag_cents),
                ("register", unit.paid_cents),
                ("tax", taxes[index]),
                ("reward", rewards[index]),
            ):
                row[name] = row.get(name, 0) + cents
    _spread_claims(situation, rows, claims)
    found: list[Deal] = []
    for (store, product), row in rows.items():
        place = next(each for each in trip.stores if each.id == store)
        tag = tag_at(trip, place, product)
        net = row["register"] + row["tax"] - row["reward"] - row.get("rebate", 0)
        want = wants.get(product)
        stock_up = want.stock_up if want is not None else None
        found.append(
            Deal(
                want=want.id if want is not None else product,
                store=store,
                product=product,
                units=row["units"],
                place=tag.place if tag is not None else "",
                tag_cents=row["tag"],
                register_cents=row["register"],
                tax_cents=row["tax"],
                reward_cents=row["reward"],
                rebate_cents=row.get("rebate", 0),
                net_cents=net,
                unit_price=_unit_price(trip, by_id[product], stock_up, net, row["units"]),
                stock_up=_stock_up(trip, stock_up),
                verdict=_verdict(by_id[product], stock_up, net, row["units"]),
            )
        )
    return tuple(found)


def _tax_per_unit(each: Paid) -> list[int]:
    """Each class's tax over its units, largest remainder, ties in belt order."""
    cents = [0] * len(each.receipt.units)
    classes = {product.id: product.tax_class for product in each.transaction.products}
    for line in each.receipt.taxes:
        members = [
            index for index, unit in enumerate(each.receipt.units) if classes[unit.product] == line.tax_class
        ]
        base = sum(each.receipt.units[index].taxable_cents for index in members)
        if not base:
            continue
        exact = [(line.cents * each.receipt.units[index].taxable_cents, index) for index in members]
        for amount, index in exact:
            cents[index] += amount // base
        left = line.cents - sum(amount // base for amount, _ in exact)
        for _, index in sorted(exact, key=lambda pair: (-(pair[0] % base), pair[1]))[:left]:
            cents[index] += 1
    return cents


def _reward_per_unit(situation: Situation, each: Paid) -> list[int]:
    """The worth of each reward over the units that counted for it, evenly."""
    cents = [0] * len(each.receipt.units)
    offers = {reward.id: reward for reward in each.transaction.rewards}
    for earned in each.receipt.earned:
        reward = offers[earned.offer]
        if lapses(reward, situation):
            continue
        worth = earned.times * reward_worth(reward, earned.each_cents, situation.trip.settings.worth)
        members = [
            index for index, unit in enumerate(each.receipt.units) if asks_for(reward.products, unit.product)
        ]
        for k, index in enumerate(members):
            cents[index] += share(worth, len(members), k + 1)
    return cents


def _spread_claims(
    situation: Situation, rows: dict[tuple[str, str], dict[str, int]], claims: tuple[RebateClaim, ...]
) -> None:
    """Rebates over the units claimed (history's units take their part), bonuses over their rebates."""
    trip = situation.trip
    rebates = {rebate.id: rebate for rebate in trip.rebates}
    bonuses = {bonus.id: bonus for bonus in trip.set_bonuses}
    rate = trip.settings.worth.rebate_bp
    cents: dict[str, int] = {}
    for claim in claims:
        worth = claim.times * round_half_up(claim.cents // claim.times * rate, 10_000)
        if claim.bonus:
            members = bonuses[claim.rebate].rebates
            for k, rebate in enumerate(members):
                cents[rebate] = cents.get(rebate, 0) + share(worth, len(members), k + 1)
        else:
            cents[claim.rebate] = cents.get(claim.rebate, 0) + worth
    for name, worth in cents.items():
        rebate = rebates[name]
        units: list[tuple[str, str] | None] = [
            None
            for done in situation.done
            if not rebate.stores or done.transaction.store.id in rebate.stores
            for line in done.transaction.lines
            if asks_for(rebate.products, line.product)
            for _ in range(line.units)
        ]
        for spot, row in rows.items():
            if asks_for(rebate.products, spot[1]) and (not rebate.stores or spot[0] in rebate.stores):
                units.extend([spot] * row["units"])
        for k, spot in enumerate(units):
            if spot is not None:
                rows[spot]["rebate"] = rows[spot].get("rebate", 0) + share(worth, len(units), k + 1)


def _per(product: Product, stock_up: StockUp | None) -> str:
    return stock_up.per if stock_up is not None else product.size.unit


def _unit_price(trip: Trip, product: Product, stock_up: StockUp | None, net: int, units: int) -> str:
    """Net price per unit of measure, rounded as on a shelf tag; below zero it is money made."""
    per = _per(product, stock_up)
    price = unit_price(abs(net), product, per, units)
    words = show_unit_price(price, per, trip.currency, trip.exponent)
    return f"-{words}" if net < 0 else words


def _stock_up(trip: Trip, stock_up: StockUp | None) -> str:
    if stock_up is None:
        return ""
    return show_unit_price(Fraction(stock_up.cents), stock_up.per, trip.currency, trip.exponent)


def _verdict(product: Product, stock_up: StockUp | None, net: int, units: int) -> Verdict:
    """Exact: net cents against stock-up cents x measure, before any rounding."""
    if stock_up is None:
        return "no stock-up price"
    ceiling = Fraction(stock_up.cents) * measures_of(product, stock_up.per) * units
    return "at or under" if net <= ceiling else "over"
