/**
 * Tenders in the program: which slips pay where, and the cash that is left to pay.
 * Twin of `server/engine/cash.py`, which says how slips and gift cards flow.
 */

import { sum } from './belt.js';
import { due } from './block.js';
import { entryOf, known } from './entries.js';
import { Sum, added, one } from './program.js';
import { houseOf } from './situation.js';
import { holdsOn } from './shelf.js';

/** @import { Filled, RewardOffer, Store } from './types.js' */
/** @import { Block } from './block.js' */
/** @import { Program } from './program.js' */
/** @import { Situation } from './situation.js' */

const MOST_CENTS = 2 ** 30;

/**
 * @typedef {object} Tendering
 * @property {Map<string, Sum>} cash put down, per store
 * @property {Map<string, Map<number, Sum>>} spent per reward and tier, times its slips are spent on the trip
 */

/**
 * Adds the tenders of one house's transactions.
 * @param {Program} program @param {Situation} situation
 * @param {readonly (readonly [Filled<Store>, Block])[]} line the house's blocks in checkout order
 * @param {readonly Filled<RewardOffer>[]} rewards
 * @returns {Tendering}
 */
export function tenderRows(program, situation, line, rewards) {
  const { day, stores: visited, wallet } = situation.trip;
  const blocks = line.map(([, block]) => block);
  const house = new Set(line.map(([store]) => houseOf(store)));
  const stores = new Map(visited.map((store) => [store.id, houseOf(store)]));
  const inHouse = (/** @type {string} */ store) => house.has(stores.get(store) ?? '');
  const ownSlips = wallet.slips.filter((slip) => inHouse(slip.store) && holdsOn(day, null, slip.until));
  const slipRewards = rewards.filter((reward) => reward.kind === 'slip');
  const cardRewards = rewards.filter((reward) => reward.kind === 'gift_card');
  const paidBy = blocks.map(() => new Sum());
  const slipsIn = blocks.map(() => new Sum());
  /** @type {Map<string, Sum>[]} */
  const ofOffer = blocks.map(() => new Map());
  for (const slip of ownSlips) {
    const spent = blocks.map(() => program.variable(0, 1));
    program.require(added(spent.map((each) => one(each))), { high: 1 });
    for (const [place, variable] of spent.entries()) {
      paidBy[place].add(variable, slip.cents);
      slipsIn[place].add(variable, 1);
      if (slip.offer !== null) entryOf(ofOffer[place], slip.offer, () => new Sum()).add(variable, 1);
    }
  }
  /** @type {Map<string, Map<number, Sum>>} */
  const spentBy = new Map();
  for (const reward of slipRewards) {
    for (const [index, tier] of reward.tiers.entries()) {
      const spent = new Sum();
      entryOf(spentBy, reward.id, () => new Map()).set(index, spent);
      for (const [earlier, block] of blocks.entries()) {
        const earned = block.earned.get(reward.id)?.get(index);
        if (earned === undefined) continue;
        const uses = new Sum();
        for (let later = earlier + 1; later < blocks.length; later += 1) {
          const variable = program.variable(0, program.upper[earned]);
          uses.add(variable, 1);
          paidBy[later].add(variable, tier.cents);
          slipsIn[later].add(variable, 1);
          entryOf(ofOffer[later], reward.id, () => new Sum()).add(variable, 1);
          spent.add(variable, 1);
        }
        program.require(uses.plus(one(earned), -1), { high: 0 });
      }
    }
  }
  nonRolling(program, slipRewards, blocks, ofOffer);
  for (const [place, block] of blocks.entries()) {
    if (block.giftCards.terms.size > 0 && paidBy[place].terms.size > 0) {
      const forCards = noneBelowZero(program, block.giftCards);
      program.require(due(block).plus(forCards, -1).plus(paidBy[place], -1), { low: 0 });
    }
  }
  const balance = sum(wallet.gift_cards.filter((card) => inHouse(card.store)).map((card) => card.cents));
  const cardPaid =
    balance || cardRewards.length > 0 ? blocks.map(() => program.variable(0, MOST_CENTS)) : [];
  for (const place of cardPaid.keys()) {
    const drawn = added(cardPaid.slice(0, place + 1).map((each) => one(each)));
    const loaded = new Sum(new Map(), balance);
    for (const block of blocks.slice(0, place)) {
      for (const reward of cardRewards) {
        for (const [index, tier] of reward.tiers.entries()) {
          const earned = block.earned.get(reward.id)?.get(index);
          if (earned !== undefined) loaded.add(earned, tier.cents);
        }
      }
    }
    program.require(drawn.plus(loaded, -1), { high: 0 });
    paidBy[place].add(cardPaid[place], 1);
  }
  /** @type {Map<string, Sum>} */
  const cash = new Map();
  for (const [place, [store, block]] of line.entries()) {
    const left = due(block).plus(paidBy[place], -1);
    if (paidBy[place].terms.size > 0) program.require(left, { low: 0 });
    cash.set(store.id, (cash.get(store.id) ?? new Sum()).plus(left));
    const rules = store.rules;
    if (rules.slip_counts_as_manufacturer_coupon && rules.coupons_no_more_than_items) {
      const maker = added(
        situation.trip.coupons
          .filter((coupon) => coupon.issuer === 'manufacturer' && block.uses.has(coupon.id))
          .map((coupon) => known(block.uses, coupon.id)),
      );
      const items = added(block.units.values());
      program.require(items.plus(maker, -1).plus(slipsIn[place], -1), { low: 0 });
    }
  }
  return { cash, spent: spentBy };
}

/** The total, or 0 where it is less; it may be reckoned as more. @param {Program} program @param {Sum} total */
function noneBelowZero(program, total) {
  if ([...total.terms.values()].every((each) => each >= 0)) return total;
  const least = program.variable(0, MOST_CENTS);
  program.require(one(least).plus(total, -1), { low: 0 });
  return one(least);
}

/**
 * A non-rolling offer earns nothing where one of its own slips pays.
 * @param {Program} program @param {readonly Filled<RewardOffer>[]} rewards
 * @param {readonly Block[]} blocks @param {readonly ReadonlyMap<string, Sum>[]} ofOffer
 */
function nonRolling(program, rewards, blocks, ofOffer) {
  for (const reward of rewards) {
    if (reward.rolls) continue;
    for (const [place, block] of blocks.entries()) {
      const paying = ofOffer[place].get(reward.id);
      const earned = block.earned.get(reward.id);
      if (paying === undefined || paying.terms.size === 0 || earned === undefined) continue;
      const pays = program.variable(0, 1);
      program.require(paying.plus(one(pays), -10_000), { high: 0 });
      for (const index of reward.tiers.keys()) {
        const times = known(earned, index);
        const most = Math.min(program.upper[times], 10_000);
        program.require(one(times).plus(one(pays), most), { high: most });
      }
    }
  }
}
