"""The levels of the objective as sums over a program's variables (DEVELOPERS.md, "Worth and the
objective"). They are solved one after the other in ``levels.py``.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Literal

from .block import APART_SCALE, Block, Shelf
from .cash import Tendering
from .limits import spot_sums
from .measure import worth_cents
from .money import round_half_up
from .offers import RewardOffer, Want, Worth
from .program import Program, Sum, added, one
from .situation import Situation, product_by_id

Scope = Literal["apart", "untendered", "whole"]


def reward_worth(reward: RewardOffer, cents: int, worth: Worth) -> int:
    """What a reward of ``cents`` is worth to the shopper, in whole cents, half up."""
    rate = {"slip": worth.slip_bp, "gift_card": worth.gift_card_bp, "points": worth.points_bp}[reward.kind]
    return round_half_up(cents * rate, 10_000)


def lapses(reward: RewardOffer, situation: Situation) -> bool:
    """Whether a slip of this offer is worth nothing unless it is spent on the trip."""
    return reward.kind == "slip" and reward.valid_days < situation.trip.settings.days_to_next_visit


def value_of(
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
            worth = round_half_up(rebate.cents * settings.worth.rebate_bp, 10_000)
            total = total.plus(claims[rebate.id], -worth)
    for bonus in trip.set_bonuses:
        if bonus.id in bonuses:
            total.add(bonuses[bonus.id], -round_half_up(bonus.cents * settings.worth.rebate_bp, 10_000))
    by_id = product_by_id(trip)
    wants = {want.id: want for want in trip.wants}
    for (want, product), units in assigned.items():
        stock_up = wants[want].stock_up
        if stock_up is not None:
            total = total.plus(units, -worth_cents(by_id[product], stock_up))
    return dues(blocks).plus(total, APART_SCALE if scope == "apart" else 1)


def dues(blocks: dict[str, list[Block]], stores: Collection[str] | None = None) -> Sum:
    """All that the registers ask for, at some stores or (None) at all."""
    asked = [each for store, each in blocks.items() if stores is None or store in stores]
    return added(block.due() for each in asked for block in each)


def changes_from_home(program: Program, situation: Situation, blocks: dict[str, list[Block]]) -> Sum:
    """Units more or fewer per spot than in the plan she left home with."""
    total = Sum({})
    if situation.home is None:
        return total
    for spot, units in spot_sums(blocks).items():
        change = program.variable(0, 20_000)
        planned = situation.home.get(spot, 0) - situation.bought(*spot)
        program.require(one(change).plus(units, -1), low=-planned)
        program.require(one(change).plus(units), low=planned)
        total.add(change, 1)
    return total


def preferences(wants: list[Want], shelves: dict[str, Shelf], blocks: dict[str, list[Block]]) -> Sum:
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
