/**
 * Step 2 of the planner, remembered: how what is bought at a group of houses lies in transactions.
 * Twin of `server/engine/placing.py`, which tells why.
 */

import { exchanged } from './rounding.js';
import { asText } from './situation.js';
import { byHouses, putInPlace, spread } from './spreading.js';

/** @import { Shelf } from './block.js' */
/** @import { Filling } from './filling.js' */
/** @import { Situation } from './situation.js' */
/** @import { Bought } from './spreading.js' */
/** @import { Filled, Want } from './types.js' */

/** The transactions of a group of houses, and the same with goods exchanged for the rounding of tax.
 * @typedef {{filled: readonly Filling[], other: readonly Filling[]}} Placed */

/** @type {Map<string, Placed | null>} */
const PLACED = new Map();
const MOST_PLACED = 100;

/**
 * What is bought as transactions, per group of houses; null where it cannot be put together.
 * @param {Situation} situation @param {ReadonlyMap<string, Shelf>} shelves
 * @param {readonly Filled<Want>[]} wants @param {Bought} bought
 * @param {boolean} [wholly] as in `spreading.js`
 * @returns {Placed[] | null}
 */
export function placed(situation, shelves, wants, bought, wholly = false) {
  const shared = sharedByAll(situation);
  /** @type {Placed[]} */
  const together = [];
  for (const group of byHouses(situation, bought)) {
    const key = keyOf(shared, wholly, group);
    let found = PLACED.get(key);
    if (found === undefined) {
      const spreading = spread(situation, shelves, wants, group, wholly);
      const filled = putInPlace(spreading);
      found = filled === null ? null : { filled, other: exchanged(situation, spreading, filled) };
    }
    PLACED.delete(key);
    PLACED.set(key, found);
    for (const oldest of PLACED.keys()) {
      if (PLACED.size <= MOST_PLACED) break;
      PLACED.delete(oldest);
    }
    if (found === null) return null;
    together.push(found);
  }
  return together;
}

/** @type {Map<string, number>} numbers of what is shared by all, so that keys stay short */
const SHARED = new Map();
const MOST_SHARED = 100;
let lastShared = 0;

/** What a spread may depend on beside the goods, as a short key. Neither the trolley nor an empty shelf is in
 * it: what is bought is known. @param {Situation} situation */
function sharedByAll(situation) {
  const besides = [situation.done, [...situation.used], [...situation.earned], [...situation.offerTransactions]];
  const text = asText(situation.trip) + JSON.stringify(besides);
  const number = SHARED.get(text) ?? (lastShared += 1);
  if (SHARED.size >= MOST_SHARED) SHARED.clear(); // a number is never given twice
  SHARED.set(text, number);
  return number;
}

/** @param {number} shared @param {boolean} wholly @param {Bought} bought */
function keyOf(shared, wholly, bought) {
  return JSON.stringify([shared, wholly, [...bought].map(([spot, { count }]) => [spot, count]).sort()]);
}

/** No transaction is remembered: for benches. */
export function forget() {
  PLACED.clear();
  SHARED.clear();
}
