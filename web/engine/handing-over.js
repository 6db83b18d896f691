/**
 * In which order coupons and offers come to a unit that takes more than one of a kind.
 * Twin of `server/engine/handing_over.py`, which tells why.
 */

import { combinations, permutations } from './choices.js';
import { unitsAsked } from './ways.js';

/** @import { Coupon, Filled } from './types.js' */

/**
 * Every choice of at most `most` of the items, fewest first.
 * @template T
 * @param {readonly T[]} items @param {number} most
 * @returns {T[][]}
 */
export function choicesOf(items, most) {
  return Array.from({ length: most + 1 }, (_, size) => [...combinations(items, size)]).flat();
}

/**
 * Every choice of at most `most` copies on one unit, in every order as far as that matters. A coupon with several
 * requirements is on each unit once.
 * @param {readonly Filled<Coupon>[]} coupons @param {number} most
 * @returns {Filled<Coupon>[][]}
 */
export function handedOver(coupons, most) {
  const copies = coupons.flatMap((coupon) => {
    return Array(coupon.asks.length === 1 ? Math.min(coupon.copies, most) : 1).fill(coupon);
  });
  /** @type {Map<string, Filled<Coupon>[]>} */
  const found = new Map();
  for (const chosen of choicesOf(copies, most)) {
    for (const order of orderMatters(chosen) ? permutations(chosen) : [chosen]) {
      const key = JSON.stringify(order.map(({ id }) => id));
      if (!found.has(key)) found.set(key, order);
    }
  }
  return [...found.values()];
}

/** Whether it may matter which of the coupons, all of an issuer and on one unit, comes first.
 * @param {readonly Filled<Coupon>[]} coupons */
export const orderMatters = (coupons) => coupons.length > 1 && !coupons.every(isPlain);

/** Whether what the coupon takes off a unit does not depend on what was taken off before, but for there being
 * enough left. @param {Filled<Coupon>} coupon */
const isPlain = (coupon) => coupon.gives.kind === 'cents_off' && unitsAsked(coupon) === 1;

/**
 * The papers in the order given, but for those that must come after another. Where they go round in a circle it
 * cannot be done, and the register says what that costs.
 * @template T
 * @param {readonly T[]} papers
 * @param {readonly (readonly [number, number])[]} before places of which the first must come before the second
 * @returns {T[]}
 */
export function inOrder(papers, before) {
  const left = [...papers.keys()];
  /** @type {T[]} */
  const found = [];
  while (left.length > 0) {
    const free = left.find((place) => !before.some(([first, second]) => second === place && left.includes(first)));
    const next = free ?? left[0];
    left.splice(left.indexOf(next), 1);
    found.push(papers[next]);
  }
  return found;
}

/**
 * Each of the items with the one after it.
 * @template T
 * @param {readonly T[]} items
 * @returns {[T, T][]}
 */
export const pairwise = (items) => items.slice(1).map((item, place) => [items[place], item]);
