/**
 * Why a need cannot be met: what is in the way, in a plain sentence, never "infeasible".
 * Twin of `server/engine/reasons.py`, which has a case worked by hand.
 */

import { sum } from './belt.js';
import { show } from './money.js';
import { compare } from './order.js';
import { Program, Sum, one } from './program.js';
import { transactionsAllowed } from './shelves.js';
import { bought, cashSpent, counterAt, houseOf, isSold, spotKey, spotOf, tagAt } from './situation.js';
import { minimize } from './solver.js';
import { holdsOn } from './shelf.js';

/** @import { Situation, Spot } from './situation.js' */
/** @import { Solution } from './solver.js' */
/** @import { Filled, Store, Want } from './types.js' */

const NO_LIMIT = 10_000;

/**
 * What is in the way of a want.
 * @param {Situation} situation @param {Filled<Want>} want
 * @param {ReadonlyMap<string, number>} missing units per want that has any in the plan
 */
export function reason(situation, want, missing) {
  const trip = situation.trip;
  const sold = soldAt(situation, want);
  if (sold.length === 0) {
    const dated = trip.prices.filter((tag) => want.products.includes(tag.product));
    if (dated.length > 0) {
      const spans = new Set(dated.map((tag) => `${tag.from_date || '…'} to ${tag.until || '…'}`));
      const held = [...spans].sort(compare).join(', ');
      return `no price holds on ${trip.day} (the tags hold ${held})`;
    }
    return 'no store of this trip has a price for any product that would do';
  }
  /** @param {{store: Filled<Store>, product: string}} spot */
  const isEmpty = ({ store, product }) => situation.empty.has(spotKey(store.id, product));
  const empty = sold.filter(isEmpty).map(({ store }) => store);
  if (empty.length === sold.length) return 'the shelf is empty wherever it is sold';
  const onShelf = sold.filter((spot) => !isEmpty(spot)).map(({ store }) => store);
  const closed = onShelf.filter((store) => transactionsAllowed(situation, store) === 0);
  const besides = [
    ...(closed.length > 0 ? [`no transaction is left at ${names(closed)}`] : []),
    ...(empty.length > 0 ? [`the shelf is empty at ${names(empty)}`] : []),
  ];
  if (closed.length === onShelf.length) return besides.join('; ');
  const alone = fewestMissing(situation, [want], want, missing);
  if (alone > 0) {
    const limits = `the stores' purchase limits leave ${want.need - alone} of ${want.need} units`;
    return [limits, ...besides].join('; ');
  }
  const needed = trip.wants.filter((each) => each.need > 0);
  if (fewestMissing(situation, needed, want, missing) >= (missing.get(want.id) ?? 0)) {
    const others = needed
      .filter(
        (each) => each.id !== want.id && each.products.some((product) => want.products.includes(product)),
      )
      .map((each) => each.name || each.id);
    return [
      `the stores' purchase limits leave too few for it beside ${others.join(', ')}`,
      ...besides,
    ].join('; ');
  }
  const ceilings = ceilingsAt(situation, onShelf);
  if (ceilings.length > 0) return `it would take more cash than the ceiling of ${ceilings.join(', ')}`;
  return 'another want or the house rules of the stores leave no way to buy them';
}

/**
 * Where a product that would do has a price today.
 * @param {Situation} situation @param {Filled<Want>} want
 */
function soldAt(situation, want) {
  const trip = situation.trip;
  return trip.stores.flatMap((store) =>
    want.products
      .filter((product) => isSold(trip, counterAt(trip, store), product))
      .map((product) => ({ store, product })),
  );
}

/** @param {readonly Filled<Store>[]} stores */
const names = (stores) => [...new Set(stores.map((store) => store.name))].join(', ');

/**
 * How many units of a want must stay missing among `wants` if cash were no matter and no other want
 * went without more than in the plan.
 * @param {Situation} situation @param {readonly Filled<Want>[]} wants @param {Filled<Want>} want
 * @param {ReadonlyMap<string, number>} missingNow
 */
function fewestMissing(situation, wants, want, missingNow) {
  const program = new Program();
  /** @type {Map<Spot, Sum>} */
  const spots = new Map();
  /** @type {Map<Spot, {most: number, units: Sum}>} */
  const families = new Map();
  /** @type {Map<string, number>} */
  const missing = new Map();
  for (const each of wants) {
    const got = new Sum();
    for (const { store, product } of soldAt(situation, each)) {
      const units = program.variable(0, each.need);
      got.add(units, 1);
      const spot = spotKey(store.id, product);
      spots.set(spot, (spots.get(spot) ?? new Sum()).plus(one(units)));
      // A store and its channels share the limit of a visit.
      const family = spotKey(houseOf(store), product);
      const { most: least, units: ofVisit } = families.get(family) ?? { most: NO_LIMIT, units: new Sum() };
      families.set(family, {
        most: Math.min(least, mostOfVisit(situation, store, product)),
        units: ofVisit.plus(one(units)),
      });
    }
    const mostMissing = each.id === want.id ? each.need : (missingNow.get(each.id) ?? 0);
    const short = program.variable(0, mostMissing);
    missing.set(each.id, short);
    program.require(got.plus(one(short)), { low: each.need });
  }
  for (const [spot, units] of spots) {
    const [name, product] = spotOf(spot);
    const store = /** @type {Filled<Store>} */ (situation.trip.stores.find((each) => each.id === name));
    program.require(units, { high: most(situation, store, product) });
  }
  for (const [family, { most: limit, units }] of families) {
    const [house, product] = spotOf(family);
    const own = situation.trip.stores.filter((store) => houseOf(store) === house);
    const checks = sum(own.map((store) => onRainChecks(situation, store, product)));
    program.require(units, { high: limit + checks });
  }
  const short = /** @type {number} */ (missing.get(want.id));
  // What the plan buys satisfies the rows.
  const fewest = /** @type {Solution} */ (minimize(program, one(short)));
  return fewest.values[short];
}

/**
 * How many units the shelf, the transactions left and the tag still let one have at a store.
 * @param {Situation} situation @param {Filled<Store>} store @param {string} product
 */
function most(situation, store, product) {
  const left = transactionsAllowed(situation, store);
  const spot = spotKey(store.id, product);
  if (situation.empty.has(spot)) return left > 0 ? (situation.trolley.get(spot) ?? 0) : 0;
  const tag = tagAt(situation.trip, store, product);
  const checks = onRainChecks(situation, store, product);
  if (left === 0 || tag === null) return left > 0 ? checks : 0;
  return tag.per_transaction === null ? NO_LIMIT : tag.per_transaction * left + checks;
}

/**
 * How many units the tag's limit of a visit still lets one have, apart from rain checks.
 * @param {Situation} situation @param {Filled<Store>} store @param {string} product
 */
function mostOfVisit(situation, store, product) {
  const tag = tagAt(situation.trip, store, product);
  if (tag === null || tag.per_visit === null) return NO_LIMIT;
  return Math.max(tag.per_visit - bought(situation, store.id, product), 0);
}

/** @param {Situation} situation @param {Filled<Store>} store @param {string} product */
function onRainChecks(situation, store, product) {
  const trip = situation.trip;
  return sum(
    trip.wallet.rain_checks
      .filter(
        (check) =>
          check.store === store.id && check.product === product && holdsOn(trip.day, null, check.until),
      )
      .map((check) => check.units),
  );
}

/**
 * The cash ceilings that can be in the way at these stores. One that leaves as much as the trip's is
 * not.
 * @param {Situation} situation @param {readonly Filled<Store>[]} stores
 */
function ceilingsAt(situation, stores) {
  const trip = situation.trip;
  /** @type {string[]} */
  const found = [];
  const ofTrip = trip.wallet.cash_cents;
  if (ofTrip !== null) found.push(`${show(ofTrip, trip.currency, trip.exponent)} on the trip`);
  for (const store of stores) {
    if (store.cash_ceiling_cents === null) continue;
    const left = store.cash_ceiling_cents - cashSpent(situation, store.id);
    if (ofTrip === null || left < ofTrip - cashSpent(situation)) {
      found.push(`${show(store.cash_ceiling_cents, trip.currency, trip.exponent)} at ${store.name}`);
    }
  }
  return [...new Set(found)];
}
