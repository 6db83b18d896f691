/**
 * Steps 3 and 4 of the register: store coupons, then manufacturer coupons, one by one.
 * Twin of `server/engine/coupons.py`.
 */

import { called, percent, sum } from './belt.js';
import { roundHalfUp, share } from './money.js';
import { percentBase } from './percents.js';
import { say } from './rules.js';

/** @import { Belt } from './belt.js' */
/** @import { AdjustmentKind, CentsOff, Coupon, Filled, FixedPrice, FreeItem } from './types.js' */
/** @import { HouseRules, Issuer, PercentOff, Refusal, Transaction, Use } from './types.js' */

/** The region whose face values count: the trip's, else the store's.
 * @param {Filled<Transaction>} transaction */
export function regionOf(transaction) {
  return transaction.region || transaction.store.region;
}

/** The face value of a cents-off coupon in `region`.
 * @param {Filled<CentsOff>} gives @param {string} region */
export function faceCents(gives, region) {
  return Object.hasOwn(gives.regional_cents, region) ? gives.regional_cents[region] : gives.cents;
}

/**
 * What the house adds to a coupon's face value, in cents; 0 where it does not multiply.
 * @param {Filled<Coupon>} coupon @param {number} face @param {Filled<HouseRules>} rules
 * @param {number} multipliedBefore coupons of this transaction that were multiplied already
 */
export function extraCents(coupon, face, rules, multipliedBefore) {
  const house = rules.multiplying;
  if (house === null || coupon.issuer !== 'manufacturer' || !coupon.may_multiply) return 0;
  if (face > house.up_to_cents) return 0;
  if (house.per_transaction !== null && multipliedBefore >= house.per_transaction) return 0;
  return face * (house.times - 1);
}

/** Step 3: cents off, fixed price and free item of the store's own coupons. @param {Belt} belt */
export function takeStoreCoupons(belt) {
  return takeCoupons(belt, 'store', 'store_coupon');
}

/** Step 4: manufacturer coupons at face value, then the house's extra part. @param {Belt} belt */
export function takeManufacturerCoupons(belt) {
  return takeCoupons(belt, 'manufacturer', 'manufacturer_coupon');
}

/** @param {Belt} belt @param {Issuer} issuer @param {AdjustmentKind} kind @returns {Refusal | null} */
function takeCoupons(belt, issuer, kind) {
  let multiplied = 0;
  for (const [number, use] of belt.transaction.uses.entries()) {
    const coupon = belt.coupon(use.coupon);
    if (coupon.issuer !== issuer) continue;
    const gives = coupon.gives;
    switch (gives.kind) {
      case 'cents_off': {
        const refusal = centsOff(belt, number, coupon, gives, kind);
        if (refusal !== null) return refusal;
        multiplied += multiply(belt, number, coupon, gives, multiplied);
        break;
      }
      case 'fixed_price':
        fixedPrice(belt, number, coupon, gives, kind);
        break;
      case 'free_item':
        freeItem(belt, number, coupon, gives, kind);
        break;
      case 'percent_off':
        // A store's percent coupon was taken in step 2.
        if (issuer === 'manufacturer') percentOff(belt, number, coupon, gives);
        break;
      case 'basket_off':
        // Step 5.
        break;
    }
  }
  return null;
}

/** @param {Belt} belt @param {number} use */
function claimed(belt, use) {
  return [...belt.transaction.uses[use].units].sort((one, other) => one - other);
}

/**
 * Take `value` off the claimed units, evenly, then where there is room; the surplus.
 * @param {Belt} belt @param {number} use @param {AdjustmentKind} kind @param {number} value
 * @param {string} why
 */
function spread(belt, use, kind, value, why) {
  const units = claimed(belt, use);
  const left = units.map((unit) => belt.items[unit].left);
  const off = left.map((room, place) => Math.min(share(value, units.length, place + 1), room));
  let surplus = value - sum(off);
  left.forEach((room, place) => {
    const more = Math.min(surplus, room - off[place]);
    off[place] += more;
    surplus -= more;
  });
  const source = belt.transaction.uses[use].coupon;
  units.forEach((unit, place) => belt.take(unit, kind, source, off[place], why, use));
  return surplus;
}

/**
 * @param {Belt} belt @param {number} number @param {Filled<Coupon>} coupon @param {Filled<CentsOff>} gives
 * @param {AdjustmentKind} kind
 * @returns {Refusal | null}
 */
function centsOff(belt, number, coupon, gives, kind) {
  const face = faceCents(gives, regionOf(belt.transaction));
  const units = belt.transaction.uses[number].units.length;
  const over = units > 1 ? ` over ${units} items, evenly, odd cents on the first` : '';
  const why = belt.note(number, `${called(coupon.description, coupon.id)}: ${belt.money(face)} off${over}.`);
  const surplus = spread(belt, number, kind, face, why);
  if (surplus === 0) return null;
  const rules = belt.transaction.store.rules;
  const house = say('overage', rules, belt.money);
  if (rules.overage === 'refuse') {
    const more = `${called(coupon.description, coupon.id)} is worth ${belt.money(surplus)} more than is left`;
    return { rule: 'overage', subject: coupon.id, sentence: `${more}. ${house}` };
  }
  if (rules.overage === 'basket') belt.surplus.push([number, surplus]);
  belt.note(number, house);
  return null;
}

/**
 * Take the house's extra part, cut to what is left; 1 if the coupon used up a count, else 0.
 * @param {Belt} belt @param {number} number @param {Filled<Coupon>} coupon @param {Filled<CentsOff>} gives
 * @param {number} multipliedBefore
 */
function multiply(belt, number, coupon, gives, multipliedBefore) {
  const face = faceCents(gives, regionOf(belt.transaction));
  const extra = extraCents(coupon, face, belt.transaction.store.rules, multipliedBefore);
  if (extra === 0) return 0;
  const why = belt.note(number, `The house multiplies it: ${belt.money(extra)} more, at its own expense.`);
  spread(belt, number, 'multiplied', extra, why);
  return 1;
}

/**
 * @param {Belt} belt @param {number} number @param {Filled<Coupon>} coupon @param {Filled<FixedPrice>} gives
 * @param {AdjustmentKind} kind
 */
function fixedPrice(belt, number, coupon, gives, kind) {
  const units = claimed(belt, number);
  const together = units.length > 1 ? ` for ${units.length} items together` : '';
  const name = called(coupon.description, coupon.id);
  const why = belt.note(number, `${name}: the price is ${belt.money(gives.cents)}${together}.`);
  units.forEach((unit, place) => {
    const price = share(gives.cents, units.length, place + 1);
    belt.take(unit, kind, coupon.id, Math.max(0, belt.items[unit].left - price), why, number);
  });
}

/**
 * The claimed units that a free-item coupon may reduce: those of its leg, else all.
 * @param {Filled<Coupon>} coupon @param {Filled<FreeItem>} gives @param {Filled<Use>} use
 */
export function freeItemCandidates(coupon, gives, use) {
  if (gives.leg === null || gives.leg >= coupon.asks.length) return use.units;
  const start = sum(coupon.asks.slice(0, gives.leg).map((asks) => asks.units));
  return use.units.slice(start, start + coupon.asks[gives.leg].units);
}

/**
 * @param {Belt} belt @param {number} number @param {Filled<Coupon>} coupon @param {Filled<FreeItem>} gives
 * @param {AdjustmentKind} kind
 */
function freeItem(belt, number, coupon, gives, kind) {
  const candidates = freeItemCandidates(coupon, gives, belt.transaction.uses[number]);
  // The least left; of equals the last on the belt.
  const [unit] = [...candidates].sort(
    (one, other) => belt.items[one].left - belt.items[other].left || other - one,
  );
  let off = roundHalfUp(belt.items[unit].left * gives.off_bp, 10_000);
  const what = gives.off_bp === 10_000 ? 'free' : `${percent(gives.off_bp)} off`;
  let limit = '';
  if (gives.up_to_cents !== null) {
    off = Math.min(off, gives.up_to_cents);
    limit = `, at most ${belt.money(gives.up_to_cents)}`;
  }
  const which = candidates.length > 1 ? 'the cheapest item that it may take is ' : 'the item is ';
  const why = belt.note(number, `${called(coupon.description, coupon.id)}: ${which}${what}${limit}.`);
  belt.take(unit, kind, coupon.id, off, why, number);
}

/**
 * @param {Belt} belt @param {number} number @param {Filled<Coupon>} coupon
 * @param {Filled<PercentOff>} gives
 */
function percentOff(belt, number, coupon, gives) {
  const why = belt.note(number, `${called(coupon.description, coupon.id)}: ${percent(gives.bp)} off.`);
  for (const unit of claimed(belt, number)) {
    const off = roundHalfUp(percentBase(belt, unit) * gives.bp, 10_000);
    belt.take(unit, 'manufacturer_coupon', coupon.id, off, why, number);
  }
}
