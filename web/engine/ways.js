/**
 * Ways: what a legal way to buy one unit is. `unit-states.js` finds them all, priced exactly.
 * Twin of `server/engine/ways.py`, which says what a way and a slot are.
 */

import { sum } from './belt.js';
import { faceCents } from './coupons.js';
import { share } from './money.js';

/** @import { Coupon, Filled, PercentOffer, Product } from './types.js' */
/** @import { RainCheck, ShelfPrice, Store } from './types.js' */

/**
 * The price of one unit after step 1, and which part of its tag's deal it plays.
 * @typedef {object} Level
 * @property {'plain' | 'first' | 'group' | 'rest' | 'full' | 'reduced' | 'rain_check'} role
 * @property {number} cents
 * @property {string} rainCheck '' for none
 */

/**
 * A unit's place in a use of a coupon.
 * @typedef {object} Slot
 * @property {string} coupon
 * @property {number} leg the requirement it fills
 * @property {number} part which share of the value it takes
 * @property {boolean} multiplied
 * @property {boolean} free
 * @property {number} leftBefore what the unit cost when the coupon came to it
 */

/** One kind of slot of a coupon: `count` of them in each use, each with this share.
 * @typedef {{count: number, cents: number, extra: number, free: boolean}} Part */

/** A percent offer (or percent store coupon) on a unit: the base it is reckoned on and the cents.
 * `capped`: no more was left of the unit, so how the register rounds is not seen here.
 * @typedef {{source: string, bp: number, base: number, cents: number, capped: boolean}} OfferOn */

/**
 * One unit with all that touches it. `cost` is paid before tax (negative: overage that goes to the
 * basket); `spends` its spend by the three measures; `key` a name that is the same in both twins.
 * @typedef {object} Way
 * @property {string} key
 * @property {string} store
 * @property {string} product
 * @property {Level} level
 * @property {readonly OfferOn[]} percents
 * @property {readonly Slot[]} slots
 * @property {number} cost
 * @property {number} taxable
 * @property {readonly [number, number, number]} spends
 * @property {boolean} surplusLowersTax
 */

/** A coupon and whether it is multiplied. @typedef {readonly [string, boolean]} WholeUse */

/** What the program counts: one way, or a bundle of ways that together use whole coupons, one of each.
 * @typedef {{key: string, ways: readonly Way[], wholeUses: readonly WholeUse[]}} Column */

/**
 * All that holds at one store on the day: what the ways are made of.
 * @typedef {object} Counter
 * @property {Filled<Store>} store
 * @property {string} day
 * @property {string} region
 * @property {readonly Filled<Coupon>[]} coupons
 * @property {readonly Filled<PercentOffer>[]} offers
 * @property {readonly Filled<RainCheck>[]} rainChecks
 */

/** @typedef {readonly [Filled<Product>, Filled<ShelfPrice> | null]} Offered a product with its tag */

/**
 * @param {string} coupon @param {number} leg @param {number} part @param {boolean} multiplied
 * @param {boolean} free @param {number} leftBefore
 * @returns {Slot}
 */
export const slotIn = (coupon, leg, part, multiplied, free, leftBefore) => ({
  coupon,
  leg,
  part,
  multiplied,
  free,
  leftBefore,
});

/** A name that is the same in both twins and in any order of input.
 * @param {Pick<Way, 'store' | 'product' | 'level' | 'percents' | 'slots'>} way */
export function keyOf(way) {
  const percents = way.percents.map((each) => `${each.source}:${each.cents}`).join(',');
  const slots = way.slots
    .map((slot) => `${slot.coupon}:${slot.leg}:${slot.part}:${Number(slot.multiplied)}`)
    .join(',');
  const level = `${way.level.role}${way.level.rainCheck}`;
  return `${way.store}|${way.product}|${level}:${way.level.cents}|${percents}|${slots}`;
}

/** Whether a list of products has this one; an empty list means everything.
 * @param {readonly string[]} products @param {string} product */
export const asksFor = (products, product) => products.length === 0 || products.includes(product);

/** Whether a list of products has one of these; an empty list means everything.
 * @param {readonly string[]} products @param {ReadonlySet<string>} names */
export const asksForAny = (products, names) =>
  products.length === 0 ? names.size > 0 : products.some((product) => names.has(product));

/** How many units one use of the coupon claims. @param {Filled<Coupon>} coupon */
export const unitsAsked = (coupon) => sum(coupon.asks.map((ask) => ask.units));

/** Whether the house multiplies this coupon at all.
 * @param {Filled<Coupon>} coupon @param {Counter} counter */
export function isMultiplied(coupon, counter) {
  const rule = counter.store.rules.multiplying;
  return (
    rule !== null &&
    coupon.issuer === 'manufacturer' &&
    coupon.may_multiply &&
    coupon.gives.kind === 'cents_off' &&
    faceCents(coupon.gives, counter.region) <= rule.up_to_cents
  );
}

/**
 * The kinds of slot in one use of a coupon, equal shares drawn together.
 * @param {Filled<Coupon>} coupon @param {Counter} counter @param {boolean} multiplied
 * @returns {Part[]}
 */
export function parts(coupon, counter, multiplied) {
  const asked = unitsAsked(coupon);
  const gives = coupon.gives;
  switch (gives.kind) {
    case 'cents_off': {
      const face = faceCents(gives, counter.region);
      const rule = counter.store.rules.multiplying;
      const extra = multiplied && rule !== null ? face * (rule.times - 1) : 0;
      return counted(asked, (k) => [share(face, asked, k), share(extra, asked, k)]);
    }
    case 'fixed_price':
      return counted(asked, (k) => [share(gives.cents, asked, k), 0]);
    case 'percent_off':
      return [{ count: asked, cents: 0, extra: 0, free: false }];
    case 'free_item': {
      const free = { count: 1, cents: 0, extra: 0, free: true };
      return asked > 1 ? [free, { count: asked - 1, cents: 0, extra: 0, free: false }] : [free];
    }
    case 'basket_off':
      return [];
  }
}

/**
 * The k-th units' cents and extra cents, equal ones drawn together.
 * @param {number} asked @param {(k: number) => [number, number]} shares
 * @returns {Part[]}
 */
function counted(asked, shares) {
  /** @type {Map<string, Part>} */
  const found = new Map();
  for (let k = 1; k <= asked; k += 1) {
    const [cents, extra] = shares(k);
    const pair = `${cents},${extra}`;
    found.set(pair, { count: (found.get(pair)?.count ?? 0) + 1, cents, extra, free: false });
  }
  return [...found.values()];
}
