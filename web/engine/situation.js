/**
 * The situation: a trip as it stands after what happened, in one fixed order.
 * Twin of `server/engine/situation.py`.
 */

import { sum } from './belt.js';
import { entryOf } from './entries.js';
import { sorted } from './order.js';
import { holdsOn, tagInForce } from './shelf.js';
import { asksFor } from './ways.js';

/** @import { Coupon, Filled, Product, Receipt, ShelfPrice, Store } from './types.js' */
/** @import { Transaction, Trip, Want } from './types.js' */
/** @import { Counter } from './ways.js' */

/** A store and a product as the key of a map: made by `spotKey`, read by `spotOf`.
 * @typedef {string} Spot */

const BETWEEN = '\u0000';

/** The key of a store and a product. @param {string} store @param {string} product @returns {Spot} */
export const spotKey = (store, product) => `${store}${BETWEEN}${product}`;

/**
 * The store and the product of a key.
 * @param {Spot} spot
 * @returns {[string, string]}
 */
export function spotOf(spot) {
  const [store, product] = spot.split(BETWEEN);
  return [store, product];
}

/**
 * A transaction that went through the register (reported by `event`), and what it cost by the
 * register's own total where the shopper typed it in. `lost`: rewards that did not print.
 * @typedef {object} Done
 * @property {string} event
 * @property {Filled<Transaction>} transaction
 * @property {Receipt} receipt
 * @property {number} paidCents
 * @property {number} outOfPocketCents
 * @property {readonly string[]} lost
 */

/**
 * What a plan is made from; each part is explained in `situation.py`.
 * @typedef {object} Situation
 * @property {Filled<Trip>} trip
 * @property {ReadonlyMap<Spot, number>} trolley
 * @property {ReadonlySet<Spot>} empty
 * @property {readonly Done[]} done
 * @property {ReadonlyMap<string, number>} used
 * @property {ReadonlyMap<string, number>} earned
 * @property {ReadonlyMap<string, number>} offerTransactions
 * @property {ReadonlyMap<Spot, number> | null} home
 * @property {readonly string[]} notes
 */

/**
 * A situation from what is known of it; the rest stands at nothing.
 * @param {Pick<Situation, 'trip'> & Partial<Situation>} known
 * @returns {Situation}
 */
export function situationOf(known) {
  return {
    trolley: new Map(),
    empty: new Set(),
    done: [],
    used: new Map(),
    earned: new Map(),
    offerTransactions: new Map(),
    home: null,
    notes: [],
    ...known,
  };
}

/** How many transactions this store's register has seen on this trip.
 * @param {Situation} situation @param {string} store */
export function transactionsDone(situation, store) {
  return situation.done.filter((done) => done.transaction.store.id === store).length;
}

/** Cash put down so far, at one store or (null) on the trip.
 * @param {Situation} situation @param {string | null} [store] */
export function cashSpent(situation, store = null) {
  return sum(
    situation.done
      .filter((done) => store === null || done.transaction.store.id === store)
      .map((done) => done.outOfPocketCents),
  );
}

/** Units of the product bought at the store so far.
 * @param {Situation} situation @param {string} store @param {string} product */
export function bought(situation, store, product) {
  return sum(
    situation.done
      .filter((done) => done.transaction.store.id === store)
      .flatMap((done) => done.transaction.lines)
      .filter((line) => line.product === product)
      .map((line) => line.units),
  );
}

/**
 * The trip with everything sorted whose order means nothing.
 * @param {Filled<Trip>} trip
 * @returns {Filled<Trip>}
 */
export function settleOrder(trip) {
  const wallet = trip.wallet;
  return {
    ...trip,
    products: sorted(trip.products, (each) => each.id),
    prices: sorted(trip.prices, (each) => [each.store, each.product, each.from_date ?? '']),
    wants: sorted(trip.wants, (each) => each.id),
    coupons: sorted(trip.coupons, (each) => each.id).map(settled),
    percent_offers: sorted(trip.percent_offers, (each) => each.id).map((each) => ({
      ...each,
      products: inOrder(each.products),
    })),
    rewards: sorted(trip.rewards, (each) => each.id).map((each) => ({
      ...each,
      products: inOrder(each.products),
    })),
    rebates: sorted(trip.rebates, (each) => each.id).map((each) => ({
      ...each,
      products: inOrder(each.products),
      stores: inOrder(each.stores),
    })),
    set_bonuses: sorted(trip.set_bonuses, (each) => each.id).map((each) => ({
      ...each,
      rebates: inOrder(each.rebates),
    })),
    wallet: {
      ...wallet,
      slips: sorted(wallet.slips, (each) => each.id),
      gift_cards: sorted(wallet.gift_cards, (each) => each.id),
      rain_checks: sorted(wallet.rain_checks, (each) => each.id),
    },
  };
}

/** Ids in one fixed order. @param {readonly string[]} ids @returns {string[]} */
const inOrder = (ids) => sorted(ids, (each) => each);

/** @param {Filled<Coupon>} coupon @returns {Filled<Coupon>} */
const settled = (coupon) => ({
  ...coupon,
  stores: inOrder(coupon.stores),
  asks: coupon.asks.map((asks) => ({ ...asks, products: inOrder(asks.products) })),
});

/** Up to how many units of a want may come home; never fewer than are needed.
 * @param {Filled<Want>} want */
export const mostWelcome = (want) => Math.max(want.need, want.welcome);

/** The store whose slips and gift cards pay here: itself, or the one it is a channel of.
 * @param {Filled<Store>} store */
export const houseOf = (store) => store.channel_of || store.id;

/** Whether she set a most of cash to put down on the trip or at a store. @param {Filled<Trip>} trip */
export const hasCeilings = (trip) =>
  trip.wallet.cash_cents !== null || trip.stores.some((store) => store.cash_ceiling_cents !== null);

/**
 * The trip as if any cash would do.
 * @param {Filled<Trip>} trip
 * @returns {Filled<Trip>}
 */
export function withoutCeilings(trip) {
  const stores = trip.stores.map((store) => ({ ...store, cash_ceiling_cents: null }));
  return { ...trip, stores, wallet: { ...trip.wallet, cash_cents: null } };
}

/** Whether a store takes the coupon; a channel is named by itself.
 * @param {Filled<Coupon>} coupon @param {Filled<Store>} store */
export const takenAt = (coupon, store) => coupon.stores.length === 0 || coupon.stores.includes(store.id);

/** The region that decides regional face values at a store.
 * @param {Filled<Trip>} trip @param {Filled<Store>} store */
export const regionOf = (trip, store) => store.region || trip.region;

/**
 * The tag that holds on the day; a channel without one of its own has its parent's.
 * @param {Filled<Trip>} trip @param {Filled<Store>} store @param {string} product
 * @returns {Filled<ShelfPrice> | null}
 */
export function tagAt(trip, store, product) {
  return tagAmong(trip.prices, store, product, trip.day);
}

/**
 * The tag that holds on the day for each product that has one.
 * @param {Filled<Trip>} trip @param {Filled<Store>} store
 * @returns {Map<string, Filled<ShelfPrice>>}
 */
export function tagsAt(trip, store) {
  /** @type {Map<string, Filled<ShelfPrice>[]>} */
  const near = new Map();
  for (const tag of trip.prices) {
    if (tag.store === store.id || tag.store === store.channel_of) {
      entryOf(near, tag.product, () => []).push(tag);
    }
  }
  /** @type {Map<string, Filled<ShelfPrice>>} */
  const found = new Map();
  for (const [product, tags] of near) {
    const tag = tagAmong(tags, store, product, trip.day);
    if (tag !== null) found.set(product, tag);
  }
  return found;
}

/**
 * @param {readonly Filled<ShelfPrice>[]} tags @param {Filled<Store>} store @param {string} product
 * @param {string} day
 * @returns {Filled<ShelfPrice> | null}
 */
function tagAmong(tags, store, product, day) {
  for (const owner of [store.id, store.channel_of]) {
    const tag = owner === null ? null : tagInForce(tags, owner, product, day);
    if (tag !== null) return owner === store.id ? tag : { ...tag, store: store.id };
  }
  return null;
}

/**
 * Everything that holds at a store on the day of the trip.
 * @param {Filled<Trip>} trip @param {Filled<Store>} store
 * @returns {Counter}
 */
export function counterAt(trip, store) {
  return {
    store,
    day: trip.day,
    region: regionOf(trip, store),
    coupons: trip.coupons.filter(
      (coupon) =>
        takenAt(coupon, store) && coupon.copies > 0 && holdsOn(trip.day, coupon.from_date, coupon.until),
    ),
    offers: trip.percent_offers.filter(
      (offer) => offer.store === store.id && holdsOn(trip.day, offer.from_date, offer.until),
    ),
    rainChecks: trip.wallet.rain_checks.filter(
      (check) => check.store === store.id && check.units > 0 && holdsOn(trip.day, null, check.until),
    ),
  };
}

/** Whether the product can be bought at the store at all.
 * @param {Filled<Trip>} trip @param {Counter} counter @param {string} product */
export function isSold(trip, counter, product) {
  return (
    tagAt(trip, counter.store, product) !== null ||
    counter.rainChecks.some((check) => check.product === product)
  );
}

/** Whether some reward of the store counts the product today.
 * @param {Filled<Trip>} trip @param {string} store @param {string} product */
export function rewardHolds(trip, store, product) {
  return trip.rewards.some(
    (reward) =>
      reward.store === store &&
      asksFor(reward.products, product) &&
      holdsOn(trip.day, reward.from_date, reward.until),
  );
}

// What is made of a trip again and again: a trip is never changed, a report makes another one.
/** @type {WeakMap<Filled<Trip>, Map<string, Filled<Product>>>} */
const GOODS = new WeakMap();
/** @type {WeakMap<Filled<Trip>, string>} */
const TEXTS = new WeakMap();

/**
 * The trip's products by id.
 * @param {Filled<Trip>} trip
 * @returns {ReadonlyMap<string, Filled<Product>>}
 */
export function productById(trip) {
  const goods = GOODS.get(trip) ?? new Map(trip.products.map((product) => [product.id, product]));
  GOODS.set(trip, goods);
  return goods;
}

/** A trip as text, to know it again by. @param {Filled<Trip>} trip */
export function asText(trip) {
  const text = TEXTS.get(trip) ?? JSON.stringify(trip);
  TEXTS.set(trip, text);
  return text;
}
