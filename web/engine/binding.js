/**
 * One use of a cents-off coupon whose share is more than one of its units costs: what each unit has left.
 * Twin of `server/engine/binding.py`.
 */

import { sum } from './belt.js';
import { permutations } from './choices.js';
import { faceCents } from './coupons.js';
import { share } from './money.js';
import { sorted } from './order.js';
import { takeOff, unitCoupons } from './unit-states.js';
import { slotIn } from './ways.js';

/** @import { Member } from './room.js' */
/** @import { CentsOff, Coupon, Filled } from './types.js' */
/** @import { Counter, WholeUse } from './ways.js' */

/** A unit and the requirement that it fills. @typedef {readonly [number, Member]} Claimed */

/** Units after a coupon bound them. @typedef {{members: readonly Member[], use: WholeUse}} Bound */

/**
 * The units after one use of a cents-off coupon on exactly these, for each order on the belt that leaves them
 * otherwise; nothing where plain slots do as well or the house refuses.
 *
 * First comes the order by product, cheapest first. The others are of interest where a manufacturer coupon may
 * follow, or a tax rounded per unit, and else only if another product is left with less.
 * @param {Filled<Coupon>} coupon @param {readonly Claimed[]} group @param {Counter} counter
 * @param {boolean} multiplied @param {number} mostOrdered
 * @returns {Bound[]}
 */
export function bind(coupon, group, counter, multiplied, mostOrdered) {
  const first = sorted(group, ([, member]) => [member.product, member.unit.left]);
  const members = first.map(([, member]) => member);
  const makers = members.some(({ product }) => unitCoupons(counter, 'manufacturer', product).length > 0);
  const eachCounts = (makers && coupon.issuer === 'store') || counter.store.tax.basis === 'item';
  const kinds = members.map((member) => (eachCounts ? JSON.stringify(member) : member.product));
  const alike = kinds.map((kind) => kinds.indexOf(kind));
  const every = [...members.keys()];
  const isOrdered = members.length <= mostOrdered && new Set(alike).size > 1;
  /** @type {Bound[]} */
  const found = [];
  /** @type {Set<string>} */
  const outcomes = new Set();
  for (const order of isOrdered ? permutations(every) : [every]) {
    const taken = takenOff(coupon, order.map((place) => members[place].unit.left), counter, multiplied);
    if (taken === null) return [];
    const byKind = order.map((place, k) => /** @type {const} */ ([alike[place], ...taken[k]]));
    const outcome = (eachCounts ? byKind : summed(byKind)).map((each) => each.join()).sort().join(';');
    if (outcomes.has(outcome)) continue;
    outcomes.add(outcome);
    found.push(boundBy(coupon, order.map((place) => first[place]), taken, multiplied));
  }
  return found;
}

/**
 * What is taken off all units of a kind together.
 * @param {readonly (readonly [number, number, number, number])[]} byKind
 * @returns {number[][]}
 */
function summed(byKind) {
  /** @type {Map<number, number[]>} */
  const sums = new Map();
  for (const [kind, ...cents] of byKind) {
    const before = sums.get(kind) ?? [0, 0, 0];
    sums.set(kind, cents.map((each, k) => each + before[k]));
  }
  return [...sums].map(([kind, cents]) => [kind, ...cents]);
}

/**
 * @param {Filled<Coupon>} coupon @param {readonly Claimed[]} claimed in belt order
 * @param {readonly (readonly [number, number, number])[]} taken @param {boolean} multiplied
 * @returns {Bound}
 */
function boundBy(coupon, claimed, taken, multiplied) {
  const members = claimed.map(([leg, { product, level, unit }], k) => {
    const slot = slotIn(coupon.id, leg, -1, multiplied, false, unit.left);
    return { product, level, unit: takeOff(unit, coupon, ...taken[k], slot) };
  });
  return { members, use: [coupon.id, multiplied] };
}

/**
 * What a use takes off each unit, in belt order: of its face, by multiplying it, and of overage that is kept;
 * null where plain slots do as well or the house refuses.
 * @param {Filled<Coupon>} coupon @param {readonly number[]} lefts @param {Counter} counter
 * @param {boolean} multiplied
 * @returns {(readonly [number, number, number])[] | null}
 */
function takenOff(coupon, lefts, counter, multiplied) {
  const rules = counter.store.rules;
  const face = faceCents(centsOffOf(coupon), counter.region);
  const asked = lefts.length;
  const shares = lefts.map((_, k) => share(face, asked, k + 1));
  const extra = multiplied && rules.multiplying !== null ? face * (rules.multiplying.times - 1) : 0;
  const extras = lefts.map((_, k) => share(extra, asked, k + 1));
  if (lefts.every((left, k) => shares[k] + extras[k] <= left)) return null;
  const surplus = Math.max(face - sum(lefts), 0);
  if (surplus && rules.overage === 'refuse') return null;
  const taken = spreadShares(shares, lefts);
  const more = spreadShares(extras, lefts.map((left, k) => left - taken[k]));
  const kept = rules.overage === 'basket' ? surplus : 0;
  if (sum(taken) + sum(more) + kept === 0) return null;
  return lefts.map((_, k) => [taken[k], more[k], k === 0 ? kept : 0]);
}

/** What a cents-off coupon gives. @param {Filled<Coupon>} coupon @returns {Filled<CentsOff>} */
export function centsOffOf(coupon) {
  if (coupon.gives.kind !== 'cents_off') throw new Error(`${coupon.id} takes no cents off`);
  return coupon.gives;
}

/**
 * What each unit takes of its share; what one cannot take passes to the others in belt order.
 * @param {readonly number[]} shares cents per unit, in belt order
 * @param {readonly number[]} rooms
 */
export function spreadShares(shares, rooms) {
  const taken = shares.map((cents, k) => Math.min(cents, rooms[k]));
  let surplus = sum(shares) - sum(taken);
  for (const [k, room] of rooms.entries()) {
    const passed = Math.min(surplus, room - taken[k]);
    taken[k] += passed;
    surplus -= passed;
  }
  return taken;
}
