/** Step 8 of the register: what it prints or loads at the end. Twin of `server/engine/earning.py`. */

import { TAKEN_OFF, called, counted } from './belt.js';
import { floorDivide } from './money.js';
import { holdsOn } from './shelf.js';

/** @import { Belt } from './belt.js' */
/** @import { Earned, Filled, RewardOffer, Tier } from './types.js' */

/**
 * The rewards of this store and day that the transaction earns, in the order of its offers.
 * @param {Belt} belt
 */
export function rewardsEarned(belt) {
  /** @type {Earned[]} */
  const earned = [];
  for (const offer of belt.transaction.rewards) {
    const inForce = holdsOn(belt.transaction.day, offer.from_date, offer.until);
    if (offer.store !== belt.transaction.store.id || !inForce || !mayEarn(belt, offer)) continue;
    const progress = progressOf(belt, offer);
    const [tier, reached] = tierAndTimes(offer, progress);
    const times = Math.min(reached, roomFor(offer, earnedBefore(belt, offer.id)));
    if (tier === null || times === 0) continue;
    earned.push({
      offer: offer.id,
      kind: offer.kind,
      times,
      each_cents: tier.cents,
      cents: times * tier.cents,
      why: inWords(belt, offer, tier, progress, times),
    });
  }
  return earned;
}

/**
 * Units, or cents of spend by the offer's measure; after all coupons takes basket ones off too.
 * @param {Belt} belt @param {Filled<RewardOffer>} offer
 */
export function progressOf(belt, offer) {
  if (offer.by === 'units') {
    return belt.items.filter(
      ({ product }) => offer.products.length === 0 || offer.products.includes(product.id),
    ).length;
  }
  const without = new Set(TAKEN_OFF[offer.measure]);
  if (offer.measure === 'after_all_coupons') without.add('basket_coupon');
  return belt.spend(offer.products, without);
}

/**
 * The tier that `progress` reaches and how often: one tier repeats, of several the highest once.
 * @param {Filled<RewardOffer>} offer @param {number} progress
 * @returns {[Tier | null, number]}
 */
export function tierAndTimes(offer, progress) {
  if (offer.tiers.length === 1) {
    const times = floorDivide(progress, offer.tiers[0].threshold);
    return times > 0 ? [offer.tiers[0], times] : [null, 0];
  }
  const reached = offer.tiers.filter((tier) => tier.threshold <= progress);
  if (reached.length === 0) return [null, 0];
  return [reached.reduce((best, tier) => (tier.threshold > best.threshold ? tier : best)), 1];
}

/**
 * How often the offer's limits still let it be earned in this transaction.
 * @param {Filled<RewardOffer>} offer @param {number} earnedBefore
 */
export function roomFor(offer, earnedBefore) {
  let room = offer.per_transaction === null ? 2 ** 31 - 1 : offer.per_transaction;
  if (offer.per_household !== null) room = Math.min(room, Math.max(0, offer.per_household - earnedBefore));
  return room;
}

/** @param {Belt} belt @param {string} offer */
function earnedBefore(belt, offer) {
  const before = belt.transaction.earned_before;
  return Object.hasOwn(before, offer) ? before[offer] : 0;
}

/** @param {Belt} belt @param {Filled<RewardOffer>} offer */
function mayEarn(belt, offer) {
  if (offer.rolls) return true;
  return !belt.transaction.tenders.some((tender) => tender.kind === 'slip' && tender.offer === offer.id);
}

/**
 * @param {Belt} belt @param {Filled<RewardOffer>} offer @param {Tier} tier @param {number} progress
 * @param {number} times
 */
function inWords(belt, offer, tier, progress, times) {
  const byUnits = offer.by === 'units';
  const threshold = byUnits ? counted(tier.threshold, 'item') : belt.money(tier.threshold);
  const reached = byUnits ? counted(progress, 'item') : belt.money(progress);
  const name = called(offer.description, offer.id);
  const howOften = times === 1 ? 'once' : `${times} times`;
  return `${name}: ${belt.money(tier.cents)} from ${threshold}; here ${reached}, so ${howOften}.`;
}
