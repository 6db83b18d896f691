/**
 * Clusters: wants that nothing connects are planned apart.
 * Twin of `server/engine/clusters.py`.
 */

import { sum } from './belt.js';
import { entryOf, known } from './entries.js';
import { compare } from './order.js';
import { counterAt, mostWelcome, tagsAt } from './situation.js';
import { holdsOn } from './shelf.js';
import { isMultiplied, unitsAsked } from './ways.js';

/** @import { Situation } from './situation.js' */
/** @import { Coupon, Filled, ShelfPrice, Want } from './types.js' */
/** @import { Counter } from './ways.js' */

/** The wants that a list of products touches, at one store or anywhere.
 * @typedef {(products: readonly string[], counter?: Counter) => Set<string>} Wanting */

/**
 * The wants in groups that do not touch, each sorted by id, in the order of their first.
 * @param {Situation} situation @param {readonly Filled<Want>[]} wants
 * @returns {Filled<Want>[][]}
 */
export function clusters(situation, wants) {
  const leaders = new Map(wants.map((want) => [want.id, want.id]));
  /** @param {string} want */
  function leader(want) {
    let held = leaders.get(want);
    while (held !== undefined && held !== want) {
      want = held;
      held = leaders.get(want);
    }
    return want;
  }
  for (const group of touching(situation, wants)) {
    const roots = [...new Set([...group].map(leader))].sort(compare);
    for (const other of roots.slice(1)) leaders.set(other, roots[0]);
  }
  /** @type {Map<string, Filled<Want>[]>} */
  const found = new Map();
  for (const want of wants) {
    const first = leader(want.id);
    found.set(first, [...(found.get(first) ?? []), want]);
  }
  return [...found.keys()].sort(compare).map((first) => found.get(first) ?? []);
}

/**
 * Sets of wants that something connects.
 * @param {Situation} situation @param {readonly Filled<Want>[]} wants
 */
function touching(situation, wants) {
  const trip = situation.trip;
  const counters = trip.stores.map((store) => counterAt(trip, store));
  const tags = new Map(trip.stores.map((store) => [store.id, tagsAt(trip, store)]));
  const sold = new Map(
    counters.map(({ store, rainChecks }) => [
      store.id,
      new Set([...known(tags, store.id).keys(), ...rainChecks.map((check) => check.product)]),
    ]),
  );
  const total = sum(wants.map(mostWelcome));
  /** @type {Map<string, number>} */
  const like = new Map();
  for (const { store, coupons } of counters) {
    const most = store.rules.like_coupons_per_transaction;
    if (most === null) continue;
    for (const { id } of coupons) like.set(id, Math.min(most, like.get(id) ?? most));
  }
  /** @type {Map<string, string[]>} */
  const takers = new Map();
  for (const want of wants) {
    for (const product of want.products) entryOf(takers, product, () => []).push(want.id);
  }
  /** @type {Wanting} */
  const wanting = (products, counter) => {
    const place = counter === undefined ? null : known(sold, counter.store.id);
    // An empty list means everything.
    const named = products.length === 0 ? [...takers.keys()] : products;
    const there = named.filter((product) => place === null || place.has(product));
    return new Set(there.flatMap((product) => takers.get(product) ?? []));
  };
  const groups = [...takers.values()].map((each) => new Set(each));
  for (const coupon of trip.coupons) {
    if (holdsOn(trip.day, coupon.from_date, coupon.until) && coupon.copies > 0) {
      if (coupon.gives.kind === 'basket_off') continue;
      const takersOf = together(coupon.asks.map((ask) => wanting(ask.products)));
      const units = sum(wants.filter((want) => takersOf.has(want.id)).map(mostWelcome));
      if (unitsAsked(coupon) > 1 || isScarce(coupon, like.get(coupon.id) ?? null, units)) groups.push(takersOf);
    }
  }
  for (const offer of trip.percent_offers) {
    const limited = offer.units_per_transaction !== null || offer.transactions !== null;
    if (limited && holdsOn(trip.day, offer.from_date, offer.until)) {
      const counter = counters.find((each) => each.store.id === offer.store);
      groups.push(wanting(offer.products, counter));
    }
  }
  for (const reward of trip.rewards) {
    if (holdsOn(trip.day, reward.from_date, reward.until)) {
      const counter = counters.find((each) => each.store.id === reward.store);
      groups.push(wanting(reward.products, counter));
    }
  }
  const byRebate = new Map(trip.rebates.map((rebate) => [rebate.id, wanting(rebate.products)]));
  for (const rebate of trip.rebates) {
    if (rebate.units > 1 || rebate.limit < total) groups.push(wanting(rebate.products));
  }
  for (const bonus of trip.set_bonuses) {
    groups.push(together(bonus.rebates.map((each) => byRebate.get(each) ?? new Set())));
  }
  for (const counter of counters) {
    groups.push(...atTheRegister(counter, known(tags, counter.store.id), wanting));
  }
  return groups;
}

/** @param {readonly Set<string>[]} groups @returns {Set<string>} */
const together = (groups) => new Set(groups.flatMap((group) => [...group]));

/**
 * Whether copies or limits could run out if so many units were bought with the coupon; `like`: as many like
 * coupons some house takes in a transaction.
 * @param {Filled<Coupon>} coupon @param {number | null} like @param {number} units
 */
function isScarce(coupon, like, units) {
  const limits = [coupon.copies, coupon.per_transaction, coupon.per_day, coupon.per_household, like];
  return limits.some((limit) => limit !== null && limit < units);
}

/**
 * Groups that a rule about the whole transaction makes at one store.
 * @param {Counter} counter @param {ReadonlyMap<string, Filled<ShelfPrice>>} tags @param {Wanting} wanting
 */
function atTheRegister(counter, tags, wanting) {
  const rules = counter.store.rules;
  /** @type {Set<string>[]} */
  const groups = [];
  /** @type {Map<string, string[]>} */
  const mixes = new Map();
  for (const [product, { deal }] of tags) {
    if (deal?.kind === 'buy_one_get_one' && deal.mix !== '') {
      mixes.set(deal.mix, [...(mixes.get(deal.mix) ?? []), product]);
    }
  }
  for (const products of mixes.values()) groups.push(wanting(products, counter));
  for (const coupon of counter.coupons) {
    if (coupon.gives.kind === 'basket_off') groups.push(wanting(coupon.asks[0].products, counter));
  }
  if (rules.multiplying !== null && rules.multiplying.per_transaction !== null) {
    const multiplied = counter.coupons.filter((coupon) => isMultiplied(coupon, counter));
    groups.push(
      together(multiplied.flatMap((coupon) => coupon.asks.map((ask) => wanting(ask.products, counter)))),
    );
  }
  if (rules.manufacturer_coupons_per_unit > 1) groups.push(wanting([], counter));
  return groups;
}
