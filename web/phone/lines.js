/**
 * The lines that the Aisle shows: trip + plan + where the trip stands. Pure.
 *
 * A line is one product on one store's shelf. Stores come in the order of the drive, places in
 * the order of their numbers and letters, lines of a place as the plan lists them.
 */

import { keyOf } from './fold.js';

/** @import { Deal, Plan, Product, ShelfPrice, Stack, Store, Trip } from '../engine/types.js' */
/** @import { Standing } from './fold.js' */

/** @typedef {'to find' | 'in the trolley' | 'shelf empty' | 'left' | 'bought'} LineState */

/**
 * @typedef {object} AisleLine
 * @property {string} key
 * @property {string} store
 * @property {string} product
 * @property {string} want '' when no want asks for it any more
 * @property {Product} details
 * @property {ShelfPrice | undefined} price the tag as packed
 * @property {string} place
 * @property {string} placeNote
 * @property {Deal[]} deals the plan's for this product here (one per want)
 * @property {{stack: Stack, transaction: number}[]} stacks that hold this product here
 * @property {string[]} coupons ids of the coupons that its stacks use
 * @property {Map<string, number>} copies how many copies of each the plan hands over for it
 * @property {number} planned units that the plan wants from this shelf, those in the trolley included
 * @property {number} inTrolley
 * @property {Map<string, number>} hands of those in a trolley: units by device
 * @property {number} bought
 * @property {number} toFind
 * @property {number | undefined} seenCents what the tag was seen to show
 * @property {LineState} state
 */

/** @typedef {{place: string, lines: AisleLine[]}} Place */
/** @typedef {{store: Store, places: Place[], toFind: number}} StoreSection */

/**
 * @param {Trip} trip
 * @param {Plan | null} plan
 * @param {Standing} standing
 * @returns {StoreSection[]} stores with at least one line
 */
export function aisleOf(trip, plan, standing) {
  const lines = [...keysToShow(trip, plan, standing)].map((key) => lineOf(trip, plan, standing, key));
  return trip.stores
    .map((store) => {
      const here = lines.filter((line) => line.store === store.id);
      return {
        store,
        places: placesOf(here),
        toFind: here.filter((line) => line.state === 'to find').length,
      };
    })
    .filter((section) => section.places.length > 0);
}

/**
 * The sections of now, with the lines of before in them where they say the same: only what changed is painted anew.
 * @param {readonly StoreSection[]} before @param {readonly StoreSection[]} now @returns {StoreSection[]}
 */
export function withLinesOf(before, now) {
  const known = new Map(linesIn(before).map((line) => [line.key, line]));
  const same = (/** @type {AisleLine} */ line) => {
    const old = known.get(line.key);
    return old && saying(old) === saying(line) ? old : line;
  };
  return now.map((section) => ({
    ...section,
    places: section.places.map(({ place, lines }) => ({ place, lines: lines.map(same) })),
  }));
}

/** @param {readonly StoreSection[]} sections */
export const linesIn = (sections) => sections.flatMap(({ places }) => places).flatMap(({ lines }) => lines);

/** All that a line says, to be compared. @param {AisleLine} line */
const saying = ({ copies, hands, ...line }) => JSON.stringify([line, [...copies], [...hands]]);

/**
 * Everything planned, lying in the trolley, bought, reported empty, or left.
 * @param {Trip} trip @param {Plan | null} plan @param {Standing} standing
 */
function keysToShow(trip, plan, standing) {
  const keys = new Set((plan?.deals ?? []).map((deal) => keyOf(deal.store, deal.product)));
  for (const [key, units] of [...standing.trolley, ...standing.bought]) if (units > 0) keys.add(key);
  for (const key of standing.empty) keys.add(key);
  const shown = new Set([...keys].map((key) => wantOf(trip, key.split(' ')[1])));
  for (const want of trip.wants ?? []) {
    const price = trip.prices.find((other) => want.products.includes(other.product));
    if (isLeft(standing, want.id) && !shown.has(want.id) && price) keys.add(keyOf(price.store, price.product));
  }
  return keys;
}

/**
 * @param {Trip} trip @param {Plan | null} plan @param {Standing} standing @param {string} key
 * @returns {AisleLine}
 */
function lineOf(trip, plan, standing, key) {
  const [store, product] = key.split(' ');
  const deals = (plan?.deals ?? []).filter((deal) => deal.store === store && deal.product === product);
  const stacks = (plan?.transactions ?? [])
    .filter((transaction) => transaction.store === store)
    .flatMap(({ stacks: all, number }) => all.map((stack) => ({ stack, transaction: number })))
    .filter(({ stack }) => stack.products.includes(product));
  const price = trip.prices.find((other) => other.store === store && other.product === product);
  const planned = deals.reduce((sum, deal) => sum + deal.units, 0);
  const inTrolley = standing.trolley.get(key) ?? 0;
  const bought = standing.bought.get(key) ?? 0;
  const toFind = Math.max(0, planned - inTrolley);
  const copies = copiesOf(plan, store, product);
  const want = deals[0]?.want ?? wantOf(trip, product);
  return {
    key, store, product, want, deals, stacks, price, planned, inTrolley, bought, toFind,
    details: trip.products.find((other) => other.id === product) ?? unknownProduct(product),
    place: price?.place ?? '',
    placeNote: price?.place_note ?? '',
    hands: new Map([...standing.hands.get(key) ?? []].filter(([, units]) => units > 0)),
    coupons: [...copies.keys()],
    copies,
    seenCents: standing.seen.get(key),
    state: stateOf({ toFind, inTrolley, bought, left: isLeft(standing, want) }),
  };
}

/**
 * @param {{toFind: number, inTrolley: number, bought: number, left: boolean}} line
 * @returns {LineState}
 */
function stateOf({ toFind, inTrolley, bought, left }) {
  if (toFind > 0) return 'to find';
  if (inTrolley > 0) return 'in the trolley';
  if (bought > 0) return 'bought';
  return left ? 'left' : 'shelf empty';
}

/**
 * Coupons that the plan claims units of this product with, in handing-over order, with their copies.
 * @param {Plan | null} plan @param {string} store @param {string} product
 */
function copiesOf(plan, store, product) {
  /** @type {Map<string, number>} */
  const copies = new Map();
  for (const { store: where, transaction } of plan?.transactions ?? []) {
    if (where !== store) continue;
    const belt = transaction.lines.flatMap((line) => Array(line.units).fill(line.product));
    for (const use of transaction.uses ?? []) {
      if ((use.units ?? []).some((unit) => belt[unit] === product)) {
        copies.set(use.coupon, (copies.get(use.coupon) ?? 0) + 1);
      }
    }
  }
  return copies;
}

/** @param {AisleLine[]} lines @returns {Place[]} */
function placesOf(lines) {
  const names = [...new Set(lines.map((line) => line.place))].sort(inWalkingOrder);
  return names.map((place) => ({ place, lines: lines.filter((line) => line.place === place) }));
}

/** "Aisle 2" before "Aisle 10"; a shelf without a place comes last. @param {string} a @param {string} b */
function inWalkingOrder(a, b) {
  if (a === '' || b === '') return a === b ? 0 : a === '' ? 1 : -1;
  return a.localeCompare(b, 'en', { numeric: true });
}

/** @param {Trip} trip @param {string} product */
const wantOf = (trip, product) => trip.wants?.find((want) => want.products.includes(product))?.id ?? '';

/** @param {Standing} standing @param {string} want */
function isLeft(standing, want) {
  const now = standing.needs.get(want);
  return now !== undefined && now.need === 0 && now.welcome === 0;
}

/** @param {string} id @returns {Product} */
const unknownProduct = (id) => ({ id, description: id });
