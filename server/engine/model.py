"""The program of a component: wants that touch, with every way to meet them.

Variables: how many of each column in each transaction, times each reward is earned, basket
coupons, rebates and set bonuses, missing units. Rows: needs and ceilings of wants, copies,
limits of day and household, what lies in the trolley, cash. The levels of the objective are
built here and solved one after the other in ``levels.py``.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from .block import APART_SCALE, Block, Shelf, build_block
from .cash import Tendering, tender_rows
from .measure import worth_cents
from .money import round_half_up
from .offers import BasketOff, Rebate, RewardOffer, Store, Want, Worth
from .program import Program, Sum, added, one
from .situation import Situation, counter_at, house_of, is_sold, most_welcome, product_by_id, tag_at
from .ways import Column, asks_for, columns, holds_on

Scope = Literal["apart", "untendered", "whole"]


class Model(msgspec.Struct):
    """A component's program and what its variables mean.

    ``shelves``/``blocks``: per store id, blocks in checkout order. ``missing``: per want.
    ``claims``: per rebate. ``value`` and ``cash``: 1/``scale`` cents. ``whole``: False where some
    ways were left out, so that the optimum is no bound.
    """

    program: Program
    shelves: dict[str, Shelf]
    blocks: dict[str, list[Block]]
    missing: dict[str, int]
    claims: dict[str, Sum]
    bonuses: dict[str, int]
    unmet: Sum
    value: Sum
    units: Sum
    cash: Sum
    transactions: Sum
    changes: Sum
    preferences: Sum
    most_units: int
    whole: bool
    scale: int


def reward_worth(reward: RewardOffer, cents: int, worth: Worth) -> int:
    """What a reward of ``cents`` is worth to the shopper, in whole cents, half up."""
    rate = {"slip": worth.slip_bp, "gift_card": worth.gift_card_bp, "points": worth.points_bp}[reward.kind]
    return round_half_up(cents * rate, 10_000)


def lapses(reward: RewardOffer, situation: Situation) -> bool:
    """Whether a slip of this offer is worth nothing unless it is spent on the trip."""
    return reward.kind == "slip" and reward.valid_days < situation.trip.settings.days_to_next_visit


def shelves_of(situation: Situation, wants: list[Want]) -> dict[str, Shelf]:
    """What the wants can buy, per store in the order of the drive."""
    return {store.id: shelf_at(situation, store, wants) for store in situation.trip.stores}


def shelf_at(situation: Situation, store: Store, wants: list[Want]) -> Shelf:
    """What the wants can buy at a store."""
    trip = situation.trip
    counter = counter_at(trip, store)
    by_id = product_by_id(trip)
    names = [
        name
        for name in sorted({product for want in wants for product in want.products})
        if is_sold(trip, counter, name)
        and ((store.id, name) not in situation.empty or situation.trolley.get((store.id, name), 0))
    ]
    tags = {name: tag_at(trip, store, name) for name in names}
    found, whole = columns([(by_id[name], tags[name]) for name in names], counter)
    rewards = tuple(
        reward
        for reward in trip.rewards
        if reward.store == store.id and holds_on(trip.day, reward.from_date, reward.until)
    )
    most = sum(most_welcome(want) for want in wants)
    return Shelf(counter, tags, {name: by_id[name] for name in names}, found, rewards, most, whole)


def narrowed(shelf: Shelf, wants: list[Want]) -> Shelf:
    """The shelf with only what some of its wants accept, and the rewards that count it."""
    names = {product for want in wants for product in want.products}
    products = {name: product for name, product in shelf.products.items() if name in names}
    return Shelf(
        counter=shelf.counter,
        tags={name: tag for name, tag in shelf.tags.items() if name in names},
        products=products,
        columns=[column for column in shelf.columns if all(way.product in names for way in column.ways)],
        rewards=tuple(
            reward for reward in shelf.rewards if any(asks_for(reward.products, name) for name in products)
        ),
        most_units=sum(most_welcome(want) for want in wants),
        whole=shelf.whole,
    )


def transactions_allowed(situation: Situation, store: Store) -> int:
    """How many more transactions the house and the shopper's visit allow."""
    return max(store.rules.transactions_per_visit - situation.transactions_done(store.id), 0)


def one_is_enough(situation: Situation, shelf: Shelf, apart: bool) -> bool:
    """Whether no plan for this shelf gains by a second transaction.

    Limits and thresholds per transaction, slips that could pay later, and roundings that start
    afresh are what a second transaction is for. Without any, one is as good.
    """
    rules, trip = shelf.counter.store.rules, situation.trip
    coupons_fit = all(
        not isinstance(coupon.gives, BasketOff)
        and (coupon.per_transaction is None or coupon.per_transaction >= min(coupon.copies, shelf.most_units))
        and (
            rules.like_coupons_per_transaction is None
            or rules.like_coupons_per_transaction >= min(coupon.copies, shelf.most_units)
        )
        for coupon in shelf.counter.coupons
        if any(asks_for(ask.products, product) for ask in coupon.asks for product in shelf.products)
    )
    rebates_fit = apart or not any(
        rebate.from_receipt_cents and any(asks_for(rebate.products, each) for each in shelf.products)
        for rebate in trip.rebates
    )
    taxed = shelf.counter.store.tax.basis == "invoice" and any(
        shelf.counter.store.tax.rates.get(product.tax_class, 0) for product in shelf.products.values()
    )
    per_line = rules.percent_rounding == "line" and any(
        any(asks_for(offer.products, product) for product in shelf.products) for offer in shelf.counter.offers
    )
    # Splitting only for a rounding gains less than a cent a transaction.
    rounding = ((taxed and not apart) or per_line) and trip.settings.further_transaction_cents == 0
    limited_offers = any(
        offer.units_per_transaction is not None
        and any(asks_for(offer.products, product) for product in shelf.products)
        for offer in shelf.counter.offers
    )
    limited_tags = any(tag is not None and tag.per_transaction is not None for tag in shelf.tags.values())
    multiplied = rules.multiplying is not None and rules.multiplying.per_transaction is not None
    return (
        coupons_fit
        and rebates_fit
        and not rounding
        and not limited_offers
        and not limited_tags
        and not multiplied
        and not shelf.rewards
    )


def build_model(
    situation: Situation,
    shelves: dict[str, Shelf],
    wants: list[Want],
    scope: Scope,
    bought: dict[tuple[str, str], tuple[Column, int]] | None = None,
) -> Model:
    """The program for some wants.

    ``shelves``: per store, of these wants or more (``shelves_of``).
    ``scope``: how much of the register is in it. ``whole``: everything. ``untendered``: all but
    tenders and cash ceilings. ``apart``: besides, without what looks at whole transactions. What is left
    out is decided in the shopper's favour, so that every optimum is a bound.
    ``bought``: (store, column key) -> column and how many in all; then only these are
    bought, and the program decides how they are spread over transactions.
    """
    stores = situation.trip.stores
    apart = scope == "apart"
    program = Program([], [], [])
    shelves = {store: narrowed(shelf, wants) for store, shelf in shelves.items()}
    blocks: dict[str, list[Block]] = {}
    for store in stores:
        shelf = shelves[store.id]
        if bought is not None:
            own = [column for (where, _), (column, _) in sorted(bought.items()) if where == store.id]
            most = sum(count for (where, _), (_, count) in bought.items() if where == store.id)
            shelf = msgspec.structs.replace(shelf, columns=own, most_units=most * 4)
        shelves[store.id] = shelf
        if not shelf.columns:
            continue
        allowed = transactions_allowed(situation, store)
        if one_is_enough(situation, shelf, apart):
            allowed = min(allowed, 1)
        blocks[store.id] = [build_block(program, shelf, apart) for _ in range(allowed)]
        if bought is not None:
            for place, column in enumerate(shelf.columns):
                total = added(one(block.columns[place]) for block in blocks[store.id])
                count = bought[(store.id, column.key)][1]
                program.require(total, low=count, high=count)
        for earlier, later in zip(blocks[store.id], blocks[store.id][1:], strict=False):
            program.require(one(earlier.used).plus(one(later.used), -1), low=0)
    missing = {want.id: program.variable(0, want.need) for want in wants}
    assigned = _wants(program, situation, wants, shelves, blocks, missing)
    _limits(program, situation, shelves, blocks)
    claims = _rebates(program, situation, wants, blocks, apart)
    bonuses = _set_bonuses(program, situation, claims)
    tendering: dict[str, Tendering] = {}
    if scope == "whole":
        for house in dict.fromkeys(house_of(store) for store in stores):
            own = [store for store in stores if house_of(store) == house and store.id in blocks]
            line = [(store, block) for store in own for block in blocks[store.id]]
            rewards = tuple(reward for store in own for reward in shelves[store.id].rewards)
            tendering[house] = tender_rows(program, situation, line, rewards)
        _ceilings(program, situation, stores, tendering)
    every = [block for each in blocks.values() for block in each]
    dues = added(block.due() for block in every)
    return Model(
        program=program,
        shelves=shelves,
        blocks=blocks,
        missing=missing,
        claims=claims,
        bonuses=bonuses,
        unmet=added(one(each) for each in missing.values()),
        value=_value(situation, shelves, blocks, tendering, claims, bonuses, assigned, scope),
        units=added(units for block in every for units in block.units.values()),
        cash=dues
        if scope != "whole"
        else added(cash for each in tendering.values() for cash in each.cash.values()),
        transactions=added(one(block.used) for block in every),
        changes=_changes(program, situation, blocks),
        preferences=_preferences(wants, shelves, blocks),
        most_units=sum(most_welcome(want) for want in wants),
        whole=all(shelf.whole for shelf in shelves.values()),
        scale=APART_SCALE if apart else 1,
    )


def _spot_sums(blocks: dict[str, list[Block]]) -> dict[tuple[str, str], Sum]:
    """Units per (store, product), over the store's transactions."""
    totals: dict[tuple[str, str], Sum] = {}
    for store, each in blocks.items():
        for block in each:
            for product, units in block.units.items():
                held = totals.get((store, product))
                totals[(store, product)] = units if held is None else held.plus(units)
    return totals


def _wants(
    program: Program,
    situation: Situation,
    wants: list[Want],
    shelves: dict[str, Shelf],
    blocks: dict[str, list[Block]],
    missing: dict[str, int],
) -> dict[tuple[str, str], Sum]:
    """Needs and ceilings; a product that several wants accept is shared out among them.

    The answer: units per (want, product)."""
    per_product: dict[str, Sum] = {}
    for (_, product), units in _spot_sums(blocks).items():
        held = per_product.get(product)
        per_product[product] = units if held is None else held.plus(units)
    assigned: dict[tuple[str, str], Sum] = {}
    for product, units in per_product.items():
        takers = [want for want in wants if product in want.products]
        if len(takers) == 1:
            assigned[(takers[0].id, product)] = units
            continue
        shares = Sum({})
        for want in takers:
            variable = program.variable(0, most_welcome(want))
            assigned[(want.id, product)] = one(variable)
            shares.add(variable, 1)
        program.require(units.plus(shares, -1), low=0, high=0)
    for want in wants:
        got = added(
            assigned[(want.id, product)] for product in want.products if (want.id, product) in assigned
        )
        program.require(got.plus(one(missing[want.id])), low=want.need)
        program.require(got, high=most_welcome(want))
    return assigned


def _limits(
    program: Program, situation: Situation, shelves: dict[str, Shelf], blocks: dict[str, list[Block]]
) -> None:
    """Copies, limits of the day and the household, purchase limits of the visit, rain checks,
    percent offers' transactions, and what lies in the trolley."""
    trip = situation.trip
    every_block = [(store, block) for store, each in blocks.items() for block in each]
    for coupon in trip.coupons:
        uses = added(block.uses[coupon.id] for _, block in every_block if coupon.id in block.uses)
        if not uses.terms:
            continue
        spent = situation.used.get(coupon.id, 0)
        limits = [each - spent for each in (coupon.per_day, coupon.per_household) if each is not None]
        program.require(uses, high=max(min([coupon.copies, *limits]), 0))
    for offer in trip.percent_offers:
        if offer.transactions is None:
            continue
        places = Sum({})
        for _, block in every_block:
            units = block.offers.get(offer.id)
            if units is not None and units.terms:
                here = program.variable(0, 1)
                places.add(here, 1)
                most = offer.units_per_transaction or 10_000
                program.require(units.plus(one(here), -most), high=0)
        left = max(offer.transactions - situation.offer_transactions.get(offer.id, 0), 0)
        program.require(places, high=left)
    for reward in trip.rewards:
        times = Sum({})
        for _, block in every_block:
            for (offer, _), variable in block.earned.items():
                times.add(variable, int(offer == reward.id))
        if reward.per_household is not None and times.terms:
            program.require(times, high=max(reward.per_household - situation.earned.get(reward.id, 0), 0))
    for check in trip.wallet.rain_checks:
        units = added(
            block.rain_checks[check.id] for _, block in every_block if check.id in block.rain_checks
        )
        if units.terms:
            program.require(units, high=check.units)
    _visit_limits(program, situation, shelves, blocks)
    for (store, product), units in _spot_sums(blocks).items():
        held = situation.trolley.get((store, product), 0)
        if held:
            program.require(units, low=held)
        if (store, product) in situation.empty:
            program.require(units, high=held)


def _visit_limits(
    program: Program, situation: Situation, shelves: dict[str, Shelf], blocks: dict[str, list[Block]]
) -> None:
    """Purchase limits of a visit; a store and its channels share one limit."""
    families: dict[tuple[str, str], list[tuple[int, Sum]]] = {}
    for (store, product), units in _spot_sums(blocks).items():
        tag = shelves[store].tags[product]
        if tag is not None and tag.per_visit is not None:
            house = shelves[store].counter.store.channel_of or store
            left = tag.per_visit - situation.bought(store, product)
            families.setdefault((house, product), []).append((left, units))
    for members in families.values():
        program.require(added(units for _, units in members), high=max(min(left for left, _ in members), 0))


def _rebates(
    program: Program, situation: Situation, wants: list[Want], blocks: dict[str, list[Block]], apart: bool
) -> dict[str, Sum]:
    """Times each rebate is claimed; with a least receipt, on each receipt that reaches it.

    A rebate that only history counts for stands with its times, so that a set bonus may need it."""
    claims: dict[str, Sum] = {}
    names = {product for want in wants for product in want.products}
    for rebate in situation.trip.rebates:
        if not holds_on(situation.trip.day, rebate.from_date, rebate.until):
            continue
        by_receipt = rebate.from_receipt_cents > 0
        before = bought_for(situation, rebate)
        done = min(claims_done(situation, rebate) if by_receipt else before // rebate.units, rebate.limit)
        if not any(asks_for(rebate.products, name) for name in names):
            if done:
                claims[rebate.id] = Sum({}, done)
            continue
        if by_receipt and not apart:
            claims[rebate.id] = _claims_by_receipt(program, rebate, blocks, rebate.limit - done)
            claims[rebate.id].constant = done
            continue
        if by_receipt:
            before = done * rebate.units
        times = program.variable(0, rebate.limit)
        units = Sum({}, before)
        for store, each in blocks.items():
            if rebate.stores and store not in rebate.stores:
                continue
            for block in each:
                units = units.plus(added(_units_for(block, rebate)))
        program.require(units.plus(one(times), -rebate.units), low=0)
        claims[rebate.id] = one(times)
    return claims


def _units_for(block: Block, rebate: Rebate) -> list[Sum]:
    return [units for product, units in block.units.items() if asks_for(rebate.products, product)]


def bought_for(situation: Situation, rebate: Rebate) -> int:
    """Units bought so far that count for a rebate."""
    return sum(
        line.units
        for done in situation.done
        if not rebate.stores or done.transaction.store.id in rebate.stores
        for line in done.transaction.lines
        if asks_for(rebate.products, line.product)
    )


def claims_done(situation: Situation, rebate: Rebate) -> int:
    """Claims that the receipts so far carry, each receipt by itself."""
    total = 0
    for done in situation.done:
        if rebate.stores and done.transaction.store.id not in rebate.stores:
            continue
        if done.receipt.merchandise_cents < rebate.from_receipt_cents:
            continue
        units = sum(line.units for line in done.transaction.lines if asks_for(rebate.products, line.product))
        total += units // rebate.units
    return total


def _claims_by_receipt(program: Program, rebate: Rebate, blocks: dict[str, list[Block]], limit: int) -> Sum:
    total = Sum({})
    for store, each in blocks.items():
        if rebate.stores and store not in rebate.stores:
            continue
        for block in each:
            units = added(_units_for(block, rebate))
            if not units.terms:
                continue
            times = program.variable(0, limit)
            reached = program.variable(0, 1)
            program.require(one(times).plus(one(reached), -limit), high=0)
            program.require(block.merchandise.plus(one(reached), -rebate.from_receipt_cents), low=0)
            program.require(units.plus(one(times), -rebate.units), low=0)
            total.add(times, 1)
    program.require(total, high=limit)
    return total


def _set_bonuses(program: Program, situation: Situation, claims: dict[str, Sum]) -> dict[str, int]:
    """Each set bonus whose every rebate can be claimed."""
    found: dict[str, int] = {}
    for bonus in situation.trip.set_bonuses:
        if not all(rebate in claims for rebate in bonus.rebates):
            continue
        if not any(claims[rebate].terms for rebate in bonus.rebates):
            continue
        won = program.variable(0, 1)
        for rebate in bonus.rebates:
            program.require(claims[rebate].plus(one(won), -1), low=0)
        found[bonus.id] = won
    return found


def _ceilings(
    program: Program, situation: Situation, stores: tuple[Store, ...], tendering: dict[str, Tendering]
) -> None:
    """The cash that the shopper is willing to put down, on the trip and at each store."""
    spent = {store.id: 0 for store in stores}
    for done in situation.done:
        store = done.transaction.store.id
        spent[store] = spent.get(store, 0) + done.out_of_pocket_cents
    for store in stores:
        cash = tendering[house_of(store)].cash.get(store.id) if tendering else None
        if store.cash_ceiling_cents is not None and cash is not None:
            program.require(cash, high=max(store.cash_ceiling_cents - spent[store.id], 0))
    ceiling = situation.trip.wallet.cash_cents
    if ceiling is not None and tendering:
        total = added(cash for each in tendering.values() for cash in each.cash.values())
        program.require(total, high=max(ceiling - sum(spent.values()), 0))


def _value(
    situation: Situation,
    shelves: dict[str, Shelf],
    blocks: dict[str, list[Block]],
    tendering: dict[str, Tendering],
    claims: dict[str, Sum],
    bonuses: dict[str, int],
    assigned: dict[tuple[str, str], Sum],
    scope: Scope,
) -> Sum:
    """Net cost less worth of the units, and the price of going on: what level 2 makes least."""
    trip = situation.trip
    settings = trip.settings
    total = Sum({})
    for store, each in blocks.items():
        seen = situation.transactions_done(store)
        for place, block in enumerate(each):
            beyond = settings.further_transaction_cents if place + seen else settings.further_store_cents
            total.add(block.used, beyond)
            for reward in shelves[store].rewards:
                if lapses(reward, situation) and scope == "whole":
                    continue
                for index, tier in enumerate(reward.tiers):
                    worth = reward_worth(reward, tier.cents, settings.worth)
                    total.add(block.earned[(reward.id, index)], -worth)
    offers = {reward.id: reward for reward in trip.rewards}
    for each in tendering.values():
        for (offer, index), spent in each.spent.items():
            reward = offers[offer]
            if lapses(reward, situation):
                worth = reward_worth(reward, reward.tiers[index].cents, settings.worth)
                total = total.plus(spent, -worth)
    for rebate in trip.rebates:
        if rebate.id in claims and claims[rebate.id].terms:
            total = total.plus(
                claims[rebate.id], -round_half_up(rebate.cents * settings.worth.rebate_bp, 10_000)
            )
    for bonus in trip.set_bonuses:
        if bonus.id in bonuses:
            total.add(bonuses[bonus.id], -round_half_up(bonus.cents * settings.worth.rebate_bp, 10_000))
    by_id = product_by_id(trip)
    wants = {want.id: want for want in trip.wants}
    for (want, product), units in assigned.items():
        stock_up = wants[want].stock_up
        if stock_up is not None:
            total = total.plus(units, -worth_cents(by_id[product], stock_up))
    dues = added(block.due() for each in blocks.values() for block in each)
    return dues.plus(total, APART_SCALE if scope == "apart" else 1)


def _changes(program: Program, situation: Situation, blocks: dict[str, list[Block]]) -> Sum:
    """Units more or fewer per spot than in the plan she left home with."""
    total = Sum({})
    if situation.home is None:
        return total
    for spot, units in _spot_sums(blocks).items():
        change = program.variable(0, 20_000)
        planned = situation.home.get(spot, 0) - situation.bought(*spot)
        program.require(one(change).plus(units, -1), low=-planned)
        program.require(one(change).plus(units), low=planned)
        total.add(change, 1)
    return total


def _preferences(wants: list[Want], shelves: dict[str, Shelf], blocks: dict[str, list[Block]]) -> Sum:
    """The rank of each unit's product in the want that likes it best (0 for the first)."""
    ranks: dict[str, int] = {}
    for want in wants:
        for rank, product in enumerate(want.products):
            ranks[product] = min(rank, ranks.get(product, rank), 15)
    total = Sum({})
    for store, each in blocks.items():
        for block in each:
            for variable, column in zip(block.columns, shelves[store].columns, strict=True):
                total.add(variable, sum(ranks[way.product] for way in column.ways))
    return total
