/**
 * Between steps 4 and 5, and step 5: what goes to the whole basket.
 * Twin of `server/engine/basket.py`.
 */

import { TAKEN_OFF, called, sum } from './belt.js';
import { floorDivide } from './money.js';

/** @import { Belt } from './belt.js' */
/** @import { Refusal } from './types.js' */

const MEASURED = Object.freeze({
  before_coupons: 'before coupons',
  after_store_coupons: 'after store coupons',
  after_all_coupons: 'after all coupons',
});

/** Each surplus to the other units in belt order, as far as they have room. @param {Belt} belt */
export function giveSurplusToBasket(belt) {
  for (const [number, cents] of belt.surplus) {
    let surplus = cents;
    const coupon = belt.coupon(belt.transaction.uses[number].coupon);
    const why = `What ${called(coupon.description, coupon.id)} is worth beyond its own items.`;
    for (let unit = 0; unit < belt.items.length; unit += 1) {
      surplus -= belt.take(unit, 'overage', coupon.id, surplus, why, number);
    }
  }
}

/**
 * `value` cents spread in proportion to `weights` by largest remainder, ties in order.
 * @param {number} value at most the sum of the weights @param {readonly number[]} weights
 */
export function inProportion(value, weights) {
  const total = sum(weights);
  if (value === 0 || total === 0) return weights.map(() => 0);
  const parts = weights.map((weight) => floorDivide(value * weight, total));
  const remainders = weights.map((weight) => (value * weight) % total);
  const byRemainder = weights
    .map((_, place) => place)
    .sort((one, other) => remainders[other] - remainders[one] || one - other);
  for (const place of byRemainder.slice(0, value - sum(parts))) parts[place] += 1;
  return parts;
}

/**
 * Step 5, in handing-over order. Refused where the spend does not reach the threshold.
 * @param {Belt} belt
 * @returns {Refusal | null}
 */
export function takeBasketCoupons(belt) {
  for (const [number, use] of belt.transaction.uses.entries()) {
    const coupon = belt.coupon(use.coupon);
    const gives = coupon.gives;
    if (gives.kind !== 'basket_off') continue;
    const products = coupon.asks[0].products;
    const name = called(coupon.description, coupon.id);
    // Other basket coupons never count against the threshold: no measure takes them off.
    const spend = belt.spend(products, TAKEN_OFF[gives.measure]);
    const threshold = `from ${belt.money(gives.from_cents)} of goods, ${MEASURED[gives.measure]}`;
    if (spend < gives.from_cents) {
      const sentence = `${name} asks for a spend ${threshold}; here it is ${belt.money(spend)}.`;
      return { rule: 'basket_threshold', subject: coupon.id, sentence };
    }
    const units = belt.items
      .map((_, unit) => unit)
      .filter((unit) => products.length === 0 || products.includes(belt.items[unit].product.id));
    const left = units.map((unit) => belt.items[unit].left);
    const why = `${name}: ${belt.money(gives.cents)} off ${threshold}, spread by what is left of each item.`;
    belt.note(number, why);
    inProportion(Math.min(gives.cents, sum(left)), left).forEach((cents, place) => {
      belt.take(units[place], 'basket_coupon', coupon.id, cents, why, number);
    });
  }
  return null;
}
