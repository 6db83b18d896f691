/**
 * What the register refuses before it counts a cent: the rule, the paper, a sentence.
 * Twin of `server/engine/legality.py`, which lists the rules.
 */

import { called, counted } from './belt.js';
import {
  Case,
  refuseClaims,
  refuseCouponsOnOneUnit,
  refusePercentOffers,
  refusePlaceAndDay,
} from './claims.js';
import { tagInForce } from './shelf.js';

/** @import { Filled, Refusal, Transaction } from './types.js' */

/**
 * The first rule that the transaction breaks before prices matter, or null.
 * @param {Filled<Transaction>} transaction
 * @returns {Refusal | null}
 */
export function refuse(transaction) {
  const asked = new Case(transaction);
  for (const check of [
    refuseUnknownPapers,
    refuseLines,
    refusePurchaseLimits,
    refusePlaceAndDay,
    refuseClaims,
    refuseCouponsOnOneUnit,
    refusePercentOffers,
    refuseCounts,
    refuseCouponsBeyondItems,
  ]) {
    const refusal = check(asked);
    if (refusal !== null) return refusal;
  }
  return null;
}

/** Names that the transaction does not explain. @param {Case} asked @returns {Refusal | null} */
export function refuseUnknownPapers(asked) {
  const { transaction } = asked;
  const known = new Set(transaction.products.map((product) => product.id));
  const checks = new Set(transaction.rain_checks.map((check) => check.id));
  for (const line of transaction.lines) {
    if (!known.has(line.product)) return unknown(line.product, 'products');
    if (line.rain_check !== null && !checks.has(line.rain_check))
      return unknown(line.rain_check, 'rain_checks');
  }
  for (const use of transaction.uses) {
    if (!asked.coupons.has(use.coupon)) return unknown(use.coupon, 'coupons');
  }
  for (const offerUse of transaction.offer_uses) {
    if (!asked.offers.has(offerUse.offer)) return unknown(offerUse.offer, 'percent_offers');
  }
  return null;
}

/** @param {string} subject @param {string} place @returns {Refusal} */
function unknown(subject, place) {
  const sentence = `${subject} is not among the transaction's ${place}; add it there.`;
  return { rule: 'unknown', subject, sentence };
}

/**
 * Lines without a tag in force, or with a rain check that does not pay for them.
 * @param {Case} asked
 * @returns {Refusal | null}
 */
export function refuseLines(asked) {
  const { store, day, prices, lines, rain_checks: rainChecks } = asked.transaction;
  const checks = new Map(rainChecks.map((check) => [check.id, check]));
  /** @type {Map<string, number>} */
  const onCheck = new Map();
  for (const line of lines) {
    const check = line.rain_check === null ? undefined : checks.get(line.rain_check);
    if (check === undefined) {
      if (tagInForce(prices, store.id, line.product, day) === null) {
        const sentence = `No shelf tag for ${asked.named(line.product)} holds here on ${day}.`;
        return { rule: 'no_tag', subject: line.product, sentence };
      }
      continue;
    }
    const units = (onCheck.get(check.id) ?? 0) + line.units;
    onCheck.set(check.id, units);
    let sentence;
    if (check.store !== store.id || check.product !== line.product) {
      sentence = `The rain check is for ${check.product} at ${check.store}.`;
    } else if (check.until !== null && day > check.until) {
      sentence = `The rain check held until ${check.until}.`;
    } else if (units > check.units) {
      sentence = `The rain check is for ${counted(check.units, 'item')}.`;
    } else {
      continue;
    }
    return { rule: 'rain_check', subject: check.id, sentence };
  }
  return null;
}

/**
 * More units of a product than its tag allows; units of a rain check are apart.
 * @param {Case} asked
 * @returns {Refusal | null}
 */
export function refusePurchaseLimits(asked) {
  const { store, day, prices, lines } = asked.transaction;
  /** @type {Map<string, number>} */
  const atTag = new Map();
  for (const line of lines) {
    if (line.rain_check === null) atTag.set(line.product, (atTag.get(line.product) ?? 0) + line.units);
  }
  for (const [product, units] of atTag) {
    const tag = tagInForce(prices, store.id, product, day);
    for (const [limit, where] of /** @type {const} */ ([
      [tag?.per_transaction ?? null, 'transaction'],
      [tag?.per_visit ?? null, 'visit'],
    ])) {
      if (limit !== null && units > limit) {
        const sentence = `The tag of ${asked.named(product)} allows ${limit} in a ${where}; ${units} lie on the belt.`;
        return { rule: 'purchase_limit', subject: product, sentence };
      }
    }
  }
  return null;
}

/**
 * More copies of a coupon than she has, than its limits allow or than the house takes.
 * @param {Case} asked
 * @returns {Refusal | null}
 */
export function refuseCounts(asked) {
  const rules = asked.transaction.store.rules;
  const like = rules.like_coupons_per_transaction;
  /** @type {Map<string, number>} */
  const handed = new Map();
  let onBasket = 0;
  for (const use of asked.transaction.uses) {
    const coupon = asked.coupon(use.coupon);
    const name = called(coupon.description, coupon.id);
    const times = (handed.get(coupon.id) ?? 0) + 1;
    handed.set(coupon.id, times);
    for (const [field, limit, words] of /** @type {const} */ ([
      ['copies', coupon.copies, 'in hand'],
      ['per_transaction', coupon.per_transaction, 'in a transaction'],
      ['per_day', coupon.per_day, 'a day'],
      ['per_household', coupon.per_household, 'for a household'],
    ])) {
      if (limit !== null && times > limit) {
        const sentence = `${name}: ${limit} ${words}, ${times} handed over.`;
        return { rule: field, subject: coupon.id, sentence };
      }
    }
    if (like !== null && times > like)
      return asked.byTheHouse('like_coupons_per_transaction', coupon.id, name);
    onBasket += coupon.gives.kind === 'basket_off' ? 1 : 0;
    if (onBasket > rules.basket_coupons_per_transaction) {
      return asked.byTheHouse('basket_coupons_per_transaction', coupon.id, name);
    }
  }
  return null;
}

/**
 * More manufacturer coupons than items; slips count among them where the house says so.
 * @param {Case} asked
 * @returns {Refusal | null}
 */
export function refuseCouponsBeyondItems(asked) {
  const rules = asked.transaction.store.rules;
  if (!rules.coupons_no_more_than_items) return null;
  let counted = 0;
  for (const use of asked.transaction.uses) {
    const coupon = asked.coupon(use.coupon);
    counted += coupon.issuer === 'manufacturer' ? 1 : 0;
    if (counted > asked.units.length) {
      const name = called(coupon.description, coupon.id);
      return asked.byTheHouse('coupons_no_more_than_items', coupon.id, name);
    }
  }
  if (rules.slip_counts_as_manufacturer_coupon) {
    for (const tender of asked.transaction.tenders) {
      if (tender.kind !== 'slip') continue;
      counted += 1;
      if (counted > asked.units.length) {
        return asked.byTheHouse('slip_counts_as_manufacturer_coupon', tender.id, 'The slip');
      }
    }
  }
  return null;
}
