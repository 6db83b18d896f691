/** Step 1 of the register: what the shelf tags ask. Twin of `server/engine/shelf.py`. */

import { roundHalfUp, share } from './money.js';

/** @import { BuyOneGetOne, Filled, NForM, ShelfPrice } from './types.js' */
/** @typedef {Filled<ShelfPrice>} Tag */

/**
 * Whether `day` lies in a range of dates that includes both of its ends (null: open).
 * @param {string} day @param {string | null} fromDate @param {string | null} until
 */
export function holdsOn(day, fromDate, until) {
  return (fromDate === null || fromDate <= day) && (until === null || day <= until);
}

/**
 * The tag that holds for `product` at `store` on `day`; null if there is none.
 * @param {readonly Tag[]} prices @param {string} store @param {string} product @param {string} day
 * @returns {Tag | null}
 */
export function tagInForce(prices, store, product, day) {
  /** @type {Tag | null} */
  let best = null;
  for (const tag of prices) {
    if (tag.store !== store || tag.product !== product || !holdsOn(day, tag.from_date, tag.until)) continue;
    if (best === null || ranksBefore(tag, best)) best = tag;
  }
  return best;
}

/**
 * The price of each unit after step 1, in cents.
 * @param {readonly Tag[]} tags one per physical item at one store, in belt order
 */
export function unitPricesAfterShelf(tags) {
  const prices = tags.map((tag) => tag.cents);
  for (const units of groups(tags, 'n_for_m').values()) nForM(tags, units, prices);
  for (const units of groups(tags, 'buy_one_get_one').values()) inPairs(tags, units, prices);
  return prices;
}

/** @param {Tag} tag @param {Tag} other */
function ranksBefore(tag, other) {
  return tag.cents < other.cents || (tag.cents === other.cents && tag.deal !== null && other.deal === null);
}

/**
 * Units that one deal looks at together: those of a product, or of a `mix` word.
 * @param {readonly Tag[]} tags @param {'n_for_m' | 'buy_one_get_one'} kind
 */
function groups(tags, kind) {
  /** @type {Map<string, number[]>} */
  const found = new Map();
  tags.forEach((tag, unit) => {
    if (tag.deal?.kind !== kind) return;
    const mixed = tag.deal.kind === 'buy_one_get_one' && tag.deal.mix !== '';
    const word = tag.deal.kind === 'buy_one_get_one' && mixed ? `mix ${tag.deal.mix}` : `of ${tag.product}`;
    const units = found.get(word);
    if (units === undefined) found.set(word, [unit]);
    else units.push(unit);
  });
  return found;
}

/** @param {readonly Tag[]} tags @param {number[]} units @param {number[]} prices */
function nForM(tags, units, prices) {
  const deal = /** @type {Filled<NForM>} */ (tags[units[0]].deal);
  const priced = deal.must_buy ? units.length - (units.length % deal.n) : units.length;
  units.slice(0, priced).forEach((unit, place) => {
    prices[unit] = share(deal.cents, deal.n, place + 1);
  });
}

/** @param {readonly Tag[]} tags @param {number[]} units @param {number[]} prices */
function inPairs(tags, units, prices) {
  const dearestFirst = [...units].sort((one, other) => tags[other].cents - tags[one].cents || one - other);
  for (const second of dearestFirst.filter((_, place) => place % 2 === 1)) {
    const deal = /** @type {Filled<BuyOneGetOne>} */ (tags[second].deal);
    prices[second] -= roundHalfUp(tags[second].cents * deal.off_bp, 10_000);
  }
}
