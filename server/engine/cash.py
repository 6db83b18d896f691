"""Tenders in the program: which slips pay where, and the cash that is left to pay.

Transactions of a house (a store and its channels, in the order of the drive) stand in checkout
order, so a slip from one may pay in any later one.
A slip pays whole and never more than is due; a gift card's balance flows. A non-rolling
offer earns nothing where one of its own slips pays.
"""

from __future__ import annotations

import msgspec

from .block import Block
from .offers import RewardOffer, Store
from .program import Program, Sum, added, one
from .shelf import holds_on
from .situation import Situation, house_of

_MOST_CENTS = 2**30


class Tendering(msgspec.Struct):
    """``cash``: put down, per store. ``spent``: times slips of each (reward, tier) are spent on
    the trip."""

    cash: dict[str, Sum]
    spent: dict[tuple[str, int], Sum]


def tender_rows(
    program: Program,
    situation: Situation,
    line: list[tuple[Store, Block]],
    rewards: tuple[RewardOffer, ...],
) -> Tendering:
    """Adds the tenders of one house's transactions; ``line``: its blocks in checkout order."""
    wallet = situation.trip.wallet
    day = situation.trip.day
    blocks = [block for _, block in line]
    house = {house_of(store) for store, _ in line}
    stores = {store.id: house_of(store) for store in situation.trip.stores}
    own_slips = [
        slip for slip in wallet.slips if stores.get(slip.store) in house and holds_on(day, None, slip.until)
    ]
    slip_rewards = [reward for reward in rewards if reward.kind == "slip"]
    card_rewards = [reward for reward in rewards if reward.kind == "gift_card"]
    paid_by = [Sum({}) for _ in blocks]
    slips_in = [Sum({}) for _ in blocks]
    of_offer: list[dict[str, Sum]] = [{} for _ in blocks]
    for slip in own_slips:
        spent = [program.variable(0, 1) for _ in blocks]
        program.require(added(one(each) for each in spent), high=1)
        for place, variable in enumerate(spent):
            paid_by[place].add(variable, slip.cents)
            slips_in[place].add(variable, 1)
            if slip.offer is not None:
                of_offer[place].setdefault(slip.offer, Sum({})).add(variable, 1)
    spent_by: dict[tuple[str, int], Sum] = {}
    for reward in slip_rewards:
        for index, tier in enumerate(reward.tiers):
            spent_by[(reward.id, index)] = Sum({})
            for earlier, block in enumerate(blocks):
                if (reward.id, index) not in block.earned:
                    continue
                uses = Sum({})
                for later in range(earlier + 1, len(blocks)):
                    variable = program.variable(0, program.upper[block.earned[(reward.id, index)]])
                    uses.add(variable, 1)
                    paid_by[later].add(variable, tier.cents)
                    slips_in[later].add(variable, 1)
                    of_offer[later].setdefault(reward.id, Sum({})).add(variable, 1)
                    spent_by[(reward.id, index)].add(variable, 1)
                program.require(uses.plus(one(block.earned[(reward.id, index)]), -1), high=0)
    _non_rolling(program, slip_rewards, blocks, of_offer)
    for block, slips in zip(blocks, paid_by, strict=True):
        if block.gift_cards.terms and slips.terms:
            for_cards = _none_below_zero(program, block.gift_cards)
            program.require(block.due().plus(for_cards, -1).plus(slips, -1), low=0)
    balance = sum(card.cents for card in wallet.gift_cards if stores.get(card.store) in house)
    card_paid = [program.variable(0, _MOST_CENTS) for _ in blocks] if balance or card_rewards else []
    for place in range(len(card_paid)):
        drawn = added(one(each) for each in card_paid[: place + 1])
        loaded = Sum({}, balance)
        for block in blocks[:place]:
            for reward in card_rewards:
                for index, tier in enumerate(reward.tiers):
                    if (reward.id, index) in block.earned:
                        loaded.add(block.earned[(reward.id, index)], tier.cents)
        program.require(drawn.plus(loaded, -1), high=0)
        paid_by[place].add(card_paid[place], 1)
    cash: dict[str, Sum] = {}
    for place, (store, block) in enumerate(line):
        left = block.due().plus(paid_by[place], -1)
        if paid_by[place].terms:
            program.require(left, low=0)
        cash[store.id] = cash.get(store.id, Sum({})).plus(left)
        if store.rules.slip_counts_as_manufacturer_coupon and store.rules.coupons_no_more_than_items:
            maker = added(
                block.uses[coupon.id]
                for coupon in situation.trip.coupons
                if coupon.issuer == "manufacturer" and coupon.id in block.uses
            )
            program.require(added(block.units.values()).plus(maker, -1).plus(slips_in[place], -1), low=0)
    return Tendering(cash, spent_by)


def _none_below_zero(program: Program, total: Sum) -> Sum:
    """The total, or 0 where it is less; it may be reckoned as more."""
    if all(each >= 0 for each in total.terms.values()):
        return total
    least = program.variable(0, _MOST_CENTS)
    program.require(one(least).plus(total, -1), low=0)
    return one(least)


def _non_rolling(
    program: Program, rewards: list[RewardOffer], blocks: list[Block], of_offer: list[dict[str, Sum]]
) -> None:
    for reward in rewards:
        if reward.rolls:
            continue
        for place, block in enumerate(blocks):
            paying = of_offer[place].get(reward.id)
            if paying is None or not paying.terms or (reward.id, 0) not in block.earned:
                continue
            pays = program.variable(0, 1)
            program.require(paying.plus(one(pays), -10_000), high=0)
            for index in range(len(reward.tiers)):
                times = block.earned[(reward.id, index)]
                most = min(int(program.upper[times]), 10_000)
                program.require(one(times).plus(one(pays), most), high=most)
