/**
 * Step 2 of the register: percent offers, then percent store coupons.
 * Twin of `server/engine/percents.py`.
 */

import { called, percent } from './belt.js';
import { roundHalfUp } from './money.js';

/** @import { Belt } from './belt.js' */
/** @import { AdjustmentKind, Filled, PercentOffer } from './types.js' */

/** A unit, and the use that claims it (null for a loyalty offer). @typedef {[number, number | null]} Claim */

/** Loyalty offers, in the order in which they are first named. @param {Belt} belt */
export function takePercentOffers(belt) {
  /** @type {Map<string, Claim[]>} */
  const claims = new Map();
  for (const { offer, units } of belt.transaction.offer_uses) {
    claims.set(offer, [
      ...(claims.get(offer) ?? []),
      ...units.map((unit) => /** @type {Claim} */ ([unit, null])),
    ]);
  }
  for (const [offerId, claimed] of claims) {
    const offer = /** @type {Filled<PercentOffer>} */ (belt.offers.get(offerId));
    const why = `${called(offer.description, offer.id)}: ${percent(offer.bp)} off.`;
    take(belt, 'percent_offer', offer.id, offer.bp, claimed, why);
  }
}

/** Percent store coupons, in handing-over order; copies of one coupon count as one line.
 * @param {Belt} belt */
export function takePercentStoreCoupons(belt) {
  /** @type {Map<string, Claim[]>} */
  const claims = new Map();
  belt.transaction.uses.forEach((use, number) => {
    const coupon = belt.coupon(use.coupon);
    if (coupon.issuer !== 'store' || coupon.gives.kind !== 'percent_off') return;
    const more = use.units.map((unit) => /** @type {Claim} */ ([unit, number]));
    claims.set(coupon.id, [...(claims.get(coupon.id) ?? []), ...more]);
  });
  for (const [couponId, claimed] of claims) {
    const coupon = belt.coupon(couponId);
    if (coupon.gives.kind !== 'percent_off') continue;
    const why = `${called(coupon.description, coupon.id)}: ${percent(coupon.gives.bp)} off.`;
    take(belt, 'store_coupon', coupon.id, coupon.gives.bp, claimed, why);
  }
}

/** The cents that a percentage is taken of: `percent_base` of the house decides.
 * @param {Belt} belt @param {number} unit */
export function percentBase(belt, unit) {
  const item = belt.items[unit];
  return belt.transaction.store.rules.percent_base === 'shelf' ? item.shelfCents : item.left;
}

/**
 * @param {Belt} belt @param {AdjustmentKind} kind @param {string} source @param {number} bp
 * @param {Claim[]} claims @param {string} why
 */
function take(belt, kind, source, bp, claims, why) {
  const perLine = belt.transaction.store.rules.percent_rounding === 'line';
  // Per line: the first k units of a product together are rounded, so that the line's sum is.
  /** @type {Map<string, number>} */
  const soFar = new Map();
  for (const [unit, use] of [...claims].sort(([one], [other]) => one - other)) {
    const product = belt.items[unit].product.id;
    const before = perLine ? (soFar.get(product) ?? 0) : 0;
    const base = before + percentBase(belt, unit);
    const cents = roundHalfUp(base * bp, 10_000) - roundHalfUp(before * bp, 10_000);
    soFar.set(product, base);
    belt.take(unit, kind, source, cents, why, use);
    if (use !== null) belt.note(use, why);
  }
}
