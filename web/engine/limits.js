/**
 * Limits that span transactions: needs and ceilings of wants, copies, limits of the day, the
 * household and the visit, rain checks, what lies in the trolley. Twin of `server/engine/limits.py`.
 */

import { entryOf, known } from './entries.js';
import { Sum, added, one } from './program.js';
import { bought, houseOf, mostWelcome, spotKey, spotOf } from './situation.js';

/** @import { Filled, Want } from './types.js' */
/** @import { Blocks, Shelf } from './block.js' */
/** @import { Program } from './program.js' */
/** @import { Situation, Spot } from './situation.js' */

/**
 * Units per store and product, over the store's transactions.
 * @param {Blocks} blocks @param {boolean} atTag without rain checks'
 * @returns {Map<Spot, Sum>}
 */
export function spotSums(blocks, atTag = false) {
  /** @type {Map<Spot, Sum>} */
  const totals = new Map();
  for (const [store, each] of blocks) {
    for (const block of each) {
      for (const [product, units] of atTag ? block.atTag : block.units) {
        const spot = spotKey(store, product);
        totals.set(spot, totals.get(spot)?.plus(units) ?? units);
      }
    }
  }
  return totals;
}

/**
 * Needs and ceilings; a product that several wants accept is shared out among them.
 * @param {Program} program @param {readonly Filled<Want>[]} wants @param {Blocks} blocks
 * @param {ReadonlyMap<string, number>} missing
 * @returns {Map<string, Sum>} units by `spotKey` of want and product
 */
export function shareOut(program, wants, blocks, missing) {
  /** @type {Map<string, Sum>} */
  const perProduct = new Map();
  for (const [spot, units] of spotSums(blocks)) {
    const product = spotOf(spot)[1];
    perProduct.set(product, perProduct.get(product)?.plus(units) ?? units);
  }
  /** @type {Map<string, Sum>} */
  const assigned = new Map();
  for (const [product, units] of perProduct) {
    const takers = wants.filter((want) => want.products.includes(product));
    if (takers.length === 1) {
      assigned.set(spotKey(takers[0].id, product), units);
      continue;
    }
    const shares = new Sum();
    for (const want of takers) {
      const variable = program.variable(0, mostWelcome(want));
      assigned.set(spotKey(want.id, product), one(variable));
      shares.add(variable, 1);
    }
    program.require(units.plus(shares, -1), { low: 0, high: 0 });
  }
  for (const want of wants) {
    const got = added(
      want.products
        .map((product) => assigned.get(spotKey(want.id, product)))
        .filter((units) => units !== undefined),
    );
    program.require(got.plus(one(known(missing, want.id))), { low: want.need });
    program.require(got, { high: mostWelcome(want) });
  }
  return assigned;
}

/**
 * Copies, limits of the day and the household, purchase limits of the visit, rain checks,
 * percent offers' transactions, and what lies in the trolley.
 * @param {Program} program @param {Situation} situation
 * @param {ReadonlyMap<string, Shelf>} shelves @param {Blocks} blocks
 */
export function keepLimits(program, situation, shelves, blocks) {
  const trip = situation.trip;
  const everyBlock = [...blocks.values()].flat();
  keepCopies(program, situation, blocks);
  keepOfferTransactions(program, situation, blocks);
  keepRewardTimes(program, situation, blocks);
  for (const check of trip.wallet.rain_checks) {
    const units = added(
      everyBlock.map((block) => block.rainChecks.get(check.id)).filter((each) => each !== undefined),
    );
    if (units.terms.size > 0) program.require(units, { high: check.units });
  }
  visitLimits(program, situation, shelves, blocks);
  for (const [spot, units] of spotSums(blocks)) {
    const held = situation.trolley.get(spot) ?? 0;
    if (held) program.require(units, { low: held });
    if (situation.empty.has(spot)) program.require(units, { high: held });
  }
}

/** Copies of each coupon in hand, and its limits of the day and the household.
 * @param {Program} program @param {Situation} situation @param {Blocks} blocks */
export function keepCopies(program, situation, blocks) {
  const everyBlock = [...blocks.values()].flat();
  for (const coupon of situation.trip.coupons) {
    const uses = added(
      everyBlock.map((block) => block.uses.get(coupon.id)).filter((each) => each !== undefined),
    );
    if (uses.terms.size === 0) continue;
    const spent = situation.used.get(coupon.id) ?? 0;
    const ofDay = coupon.per_day === null ? Infinity : coupon.per_day - spent;
    const ofHousehold = coupon.per_household === null ? Infinity : coupon.per_household - spent;
    program.require(uses, { high: Math.max(Math.min(coupon.copies, ofDay, ofHousehold), 0) });
  }
}

/** In how many transactions of the visit each percent offer may be used.
 * @param {Program} program @param {Situation} situation @param {Blocks} blocks */
export function keepOfferTransactions(program, situation, blocks) {
  const everyBlock = [...blocks.values()].flat();
  for (const offer of situation.trip.percent_offers) {
    if (offer.transactions === null) continue;
    const places = new Sum();
    for (const block of everyBlock) {
      const units = block.offers.get(offer.id);
      if (units !== undefined && units.terms.size > 0) {
        const here = program.variable(0, 1);
        places.add(here, 1);
        const most = offer.units_per_transaction || 10_000;
        program.require(units.plus(one(here), -most), { high: 0 });
      }
    }
    const left = Math.max(offer.transactions - (situation.offerTransactions.get(offer.id) ?? 0), 0);
    program.require(places, { high: left });
  }
}

/** How often the household may earn each reward.
 * @param {Program} program @param {Situation} situation @param {Blocks} blocks */
export function keepRewardTimes(program, situation, blocks) {
  const everyBlock = [...blocks.values()].flat();
  for (const reward of situation.trip.rewards) {
    const times = new Sum();
    for (const block of everyBlock) {
      for (const [offer, tiers] of block.earned) {
        for (const variable of tiers.values()) times.add(variable, Number(offer === reward.id));
      }
    }
    if (reward.per_household !== null && times.terms.size > 0) {
      const left = reward.per_household - (situation.earned.get(reward.id) ?? 0);
      program.require(times, { high: Math.max(left, 0) });
    }
  }
}

/**
 * Purchase limits of a visit; a store and its channels share one limit. They are the tag's: what
 * a rain check pays for is not counted.
 * @param {Program} program @param {Situation} situation
 * @param {ReadonlyMap<string, Shelf>} shelves @param {Blocks} blocks
 */
function visitLimits(program, situation, shelves, blocks) {
  /** @type {Map<string, {left: number, units: Sum}[]>} */
  const families = new Map();
  for (const [spot, units] of spotSums(blocks, true)) {
    const [store, product] = spotOf(spot);
    const shelf = known(shelves, store);
    const limit = known(shelf.tags, product)?.per_visit ?? null;
    if (limit !== null) {
      const house = houseOf(shelf.counter.store);
      const left = limit - bought(situation, store, product);
      entryOf(families, spotKey(house, product), () => []).push({ left, units });
    }
  }
  for (const members of families.values()) {
    const least = Math.min(...members.map(({ left }) => left));
    program.require(added(members.map(({ units }) => units)), { high: Math.max(least, 0) });
  }
}
