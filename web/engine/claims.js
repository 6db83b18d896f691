/**
 * What the register refuses about single coupons and offers: the units that they claim.
 * Twin of `server/engine/claims.py`.
 */

import { called, counted, sum } from './belt.js';
import { show } from './money.js';
import { say } from './rules.js';
import { holdsOn } from './shelf.js';

/** @import { Coupon, Filled, HouseRules, PercentOffer, Refusal, Transaction, Use } from './types.js' */

/** A transaction with its papers by their ids; `units`: the product of each item. */
export class Case {
  /** @param {Filled<Transaction>} transaction */
  constructor(transaction) {
    this.transaction = transaction;
    this.units = transaction.lines.flatMap((line) => Array(line.units).fill(line.product));
    this.coupons = new Map(transaction.coupons.map((coupon) => [coupon.id, coupon]));
    this.offers = new Map(transaction.percent_offers.map((offer) => [offer.id, offer]));
    this.products = new Map(transaction.products.map((product) => [product.id, product]));
  }

  /** @param {string} id */
  coupon(id) {
    return /** @type {Filled<Coupon>} */ (this.coupons.get(id));
  }

  /** @param {string} id */
  offer(id) {
    return /** @type {Filled<PercentOffer>} */ (this.offers.get(id));
  }

  /** A product in a sentence. @param {string} product */
  named(product) {
    return called(this.products.get(product)?.description ?? '', product);
  }

  /**
   * A refusal that quotes the house rule `field`.
   * @param {keyof HouseRules} field @param {string} subject @param {string} name
   * @returns {Refusal}
   */
  byTheHouse(field, subject, name) {
    const { store, currency, exponent } = this.transaction;
    const house = say(field, store.rules, (cents) => show(cents, currency, exponent));
    return { rule: field, subject, sentence: `${name} is not taken. ${house}` };
  }
}

/** Coupons and offers of another store or day. @param {Case} asked @returns {Refusal | null} */
export function refusePlaceAndDay(asked) {
  const { store, day, uses, offer_uses: offerUses } = asked.transaction;
  for (const use of uses) {
    const coupon = asked.coupon(use.coupon);
    const name = called(coupon.description, coupon.id);
    if (coupon.stores.length > 0 && !coupon.stores.includes(store.id)) {
      return { rule: 'store', subject: coupon.id, sentence: `${name} is not for this store.` };
    }
    if (!holdsOn(day, coupon.from_date, coupon.until)) {
      return { rule: 'dates', subject: coupon.id, sentence: `${name} does not hold on ${day}.` };
    }
  }
  for (const offerUse of offerUses) {
    const offer = asked.offer(offerUse.offer);
    const name = called(offer.description, offer.id);
    if (offer.store !== store.id) {
      return { rule: 'store', subject: offer.id, sentence: `${name} is not of this store.` };
    }
    if (!holdsOn(day, offer.from_date, offer.until)) {
      return { rule: 'dates', subject: offer.id, sentence: `${name} does not hold on ${day}.` };
    }
  }
  return null;
}

/**
 * Coupons on units that are not there, not theirs, claimed twice, too few or too many.
 * @param {Case} asked
 * @returns {Refusal | null}
 */
export function refuseClaims(asked) {
  for (const use of asked.transaction.uses) {
    const coupon = asked.coupon(use.coupon);
    const name = called(coupon.description, coupon.id);
    const units = coupon.gives.kind === 'basket_off' ? 0 : sum(coupon.asks.map((asks) => asks.units));
    if (use.units.length !== units) {
      const sentence = `${name} asks for ${counted(units, 'item')} and claims ${use.units.length}.`;
      return { rule: 'claimed_units', subject: coupon.id, sentence };
    }
    const refusal =
      refuseUnits(asked, coupon.id, name, use.units) ?? refuseProducts(asked, coupon, name, use);
    if (refusal !== null) return refusal;
  }
  return null;
}

/**
 * @param {Case} asked @param {string} subject @param {string} name @param {readonly number[]} units
 * @returns {Refusal | null}
 */
function refuseUnits(asked, subject, name, units) {
  for (const unit of units) {
    if (unit >= asked.units.length) {
      const sentence = `${name} claims item ${unit + 1}; ${asked.units.length} lie on the belt.`;
      return { rule: 'on_the_belt', subject, sentence };
    }
  }
  if (new Set(units).size < units.length) {
    return { rule: 'claimed_twice', subject, sentence: `${name} claims one item twice.` };
  }
  return null;
}

/**
 * @param {Case} asked @param {Filled<Coupon>} coupon @param {string} name @param {Filled<Use>} use
 * @returns {Refusal | null}
 */
function refuseProducts(asked, coupon, name, use) {
  let place = 0;
  for (const asks of coupon.asks) {
    for (const unit of use.units.slice(place, place + asks.units)) {
      if (asks.products.length > 0 && !asks.products.includes(asked.units[unit])) {
        return {
          rule: 'eligible',
          subject: coupon.id,
          sentence: `${name} is not for ${asked.named(asked.units[unit])}.`,
        };
      }
    }
    place += asks.units;
  }
  return null;
}

/**
 * More manufacturer or store coupons on an item than the house takes, or both kinds together.
 * @param {Case} asked
 * @returns {Refusal | null}
 */
export function refuseCouponsOnOneUnit(asked) {
  const rules = asked.transaction.store.rules;
  const manufacturer = asked.units.map(() => 0);
  const store = asked.units.map(() => 0);
  for (const use of asked.transaction.uses) {
    const coupon = asked.coupon(use.coupon);
    const name = called(coupon.description, coupon.id);
    const onUnit = coupon.issuer === 'manufacturer' ? manufacturer : store;
    for (const unit of use.units) onUnit[unit] += 1;
    for (const unit of use.units) {
      if (manufacturer[unit] > rules.manufacturer_coupons_per_unit) {
        return asked.byTheHouse('manufacturer_coupons_per_unit', coupon.id, name);
      }
      if (store[unit] > rules.store_coupons_per_unit) {
        return asked.byTheHouse('store_coupons_per_unit', coupon.id, name);
      }
      if (!rules.store_with_manufacturer && manufacturer[unit] > 0 && store[unit] > 0) {
        return asked.byTheHouse('store_with_manufacturer', coupon.id, name);
      }
    }
  }
  return null;
}

/**
 * Percent offers on units that are not theirs, on too many units, or too many on one unit.
 * @param {Case} asked
 * @returns {Refusal | null}
 */
export function refusePercentOffers(asked) {
  const onUnit = asked.units.map(() => 0);
  /** @type {Map<string, Set<number>>} */
  const unitsOf = new Map();
  for (const offerUse of asked.transaction.offer_uses) {
    const offer = asked.offer(offerUse.offer);
    const name = called(offer.description, offer.id);
    const claimed = unitsOf.get(offer.id) ?? new Set();
    unitsOf.set(offer.id, claimed);
    const refusal = refuseUnits(asked, offer.id, name, offerUse.units);
    if (refusal !== null) return refusal;
    if (offerUse.units.some((unit) => claimed.has(unit))) {
      return { rule: 'claimed_twice', subject: offer.id, sentence: `${name} claims one item twice.` };
    }
    for (const unit of offerUse.units) claimed.add(unit);
    for (const unit of offerUse.units) {
      if (offer.products.length > 0 && !offer.products.includes(asked.units[unit])) {
        return {
          rule: 'eligible',
          subject: offer.id,
          sentence: `${name} is not for ${asked.named(asked.units[unit])}.`,
        };
      }
    }
    if (offer.units_per_transaction !== null && claimed.size > offer.units_per_transaction) {
      const sentence = `${name} holds for ${counted(offer.units_per_transaction, 'item')} in a transaction.`;
      return { rule: 'offer_units', subject: offer.id, sentence };
    }
    for (const unit of offerUse.units) onUnit[unit] += 1;
    const limit = asked.transaction.store.rules.percent_offers_per_unit;
    if (offerUse.units.some((unit) => onUnit[unit] > limit)) {
      return asked.byTheHouse('percent_offers_per_unit', offer.id, name);
    }
  }
  return null;
}
