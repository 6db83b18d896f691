/**
 * Shelves: what the wants can buy at a store, and in how many transactions.
 * Twin of `server/engine/shelves.py`.
 */

import { surplusMayMiss } from './basket-rows.js';
import { sum } from './belt.js';
import { clusters } from './clusters.js';
import { known } from './entries.js';
import { compare, sorted } from './order.js';
import { partAt } from './parts.js';
import { counterAt, mostWelcome, productById, spotKey, tagsAt, transactionsDone } from './situation.js';
import { holdsOn } from './shelf.js';
import { asksForAny } from './ways.js';

/** @import { Filled, Store, Want } from './types.js' */
/** @import { Shelf } from './block.js' */
/** @import { Part } from './parts.js' */
/** @import { Situation } from './situation.js' */
/** @import { Counter, Offered } from './ways.js' */

/**
 * `byStore`: what can be bought, per store in the order of the drive; `numbers`: per group of
 * wants, the number of its part at each store.
 * @typedef {{byStore: Map<string, Shelf>, numbers: number[][]}} Shelves
 */

/**
 * What the wants can buy, per store in the order of the drive.
 * @param {Situation} situation @param {readonly Filled<Want>[]} wants
 * @returns {Map<string, Shelf>}
 */
export function shelvesOf(situation, wants) {
  return shelvesInParts(situation, clusters(situation, wants)).byStore;
}

/**
 * What groups of wants that do not touch can buy.
 * @param {Situation} situation @param {readonly Filled<Want>[][]} groups
 * @returns {Shelves}
 */
export function shelvesInParts(situation, groups) {
  /** @type {Map<string, Shelf>} */
  const found = new Map();
  /** @type {number[][]} */
  const numbers = groups.map(() => []);
  for (const store of situation.trip.stores) {
    const [shelf, parts] = shelfAt(situation, store, groups);
    found.set(store.id, shelf);
    for (const [place, part] of parts.entries()) numbers[place].push(part.number);
  }
  return { byStore: found, numbers };
}

/**
 * @param {Situation} situation @param {Filled<Store>} store @param {readonly Filled<Want>[][]} groups
 * @returns {[Shelf, Part[]]}
 */
function shelfAt(situation, store, groups) {
  const trip = situation.trip;
  const counter = counterAt(trip, store);
  const byId = productById(trip);
  const inForce = tagsAt(trip, store);
  const checked = new Set(counter.rainChecks.map((check) => check.product));
  /** @param {string} name */
  function canBeHad(name) {
    const spot = spotKey(store.id, name);
    const sold = inForce.has(name) || checked.has(name);
    return sold && (!situation.empty.has(spot) || (situation.trolley.get(spot) ?? 0) > 0);
  }
  /** @param {string} name @returns {Offered} */
  const offered = (name) => [known(byId, name), inForce.get(name) ?? null];
  /** @type {Part[]} */
  const parts = [];
  /** @type {string[]} */
  const every = [];
  for (const group of groups) {
    const own = [...new Set(group.flatMap((want) => want.products))].filter(canBeHad).sort(compare);
    parts.push(partAt(counterFor(counter, new Set(own)), own.map(offered), group));
    every.push(...own);
  }
  const names = [...new Set(every)].sort(compare);
  // There the program is on the careful side, and its optimum no bound.
  const whole =
    parts.every((part) => part.whole) &&
    !counter.coupons.some((coupon) => surplusMayMiss(coupon, counter, names));
  const shelf = {
    counter,
    tags: new Map(names.map((name) => [name, inForce.get(name) ?? null])),
    products: new Map(names.map((name) => [name, known(byId, name)])),
    columns: sorted(
      parts.flatMap((part) => part.columns),
      (column) => column.key,
    ),
    rewards: trip.rewards.filter(
      (reward) => reward.store === store.id && holdsOn(trip.day, reward.from_date, reward.until),
    ),
    mostUnits: sum(groups.flat().map(mostWelcome)),
    whole,
  };
  return [shelf, parts];
}

/**
 * The counter with only what touches some of these products. A basket coupon may look at all that is in a
 * transaction, so they all stay.
 * @param {Counter} counter @param {ReadonlySet<string>} names
 * @returns {Counter}
 */
function counterFor(counter, names) {
  return {
    ...counter,
    coupons: counter.coupons.filter(({ gives, asks }) => {
      return gives.kind === 'basket_off' || asks.some((ask) => asksForAny(ask.products, names));
    }),
    offers: counter.offers.filter((offer) => asksForAny(offer.products, names)),
    rainChecks: counter.rainChecks.filter((check) => names.has(check.product)),
  };
}

/**
 * The shelf with only what some of its wants accept, and the rewards that count it.
 * @param {Shelf} shelf @param {readonly Filled<Want>[]} wants
 * @returns {Shelf}
 */
export function narrowed(shelf, wants) {
  const names = new Set(wants.flatMap((want) => want.products));
  const products = new Map([...shelf.products].filter(([name]) => names.has(name)));
  const sold = new Set(products.keys());
  return {
    counter: counterFor(shelf.counter, sold),
    tags: new Map([...shelf.tags].filter(([name]) => names.has(name))),
    products,
    columns: shelf.columns.filter((column) => column.ways.every((way) => names.has(way.product))),
    rewards: shelf.rewards.filter((reward) => asksForAny(reward.products, sold)),
    mostUnits: sum(wants.map(mostWelcome)),
    whole: shelf.whole,
  };
}

/** How many more transactions the house and the shopper's visit allow.
 * @param {Situation} situation @param {Filled<Store>} store */
export function transactionsAllowed(situation, store) {
  return Math.max(store.rules.transactions_per_visit - transactionsDone(situation, store.id), 0);
}

/**
 * Whether no plan for this shelf gains by a second transaction.
 * @param {Situation} situation @param {Shelf} shelf @param {boolean} apart
 */
export function oneIsEnough(situation, shelf, apart) {
  const { rules, tax } = shelf.counter.store;
  const trip = situation.trip;
  const products = new Set(shelf.products.keys());
  const asksHere = (/** @type {{products: readonly string[]}} */ asking) => asksForAny(asking.products, products);
  const like = rules.like_coupons_per_transaction;
  const couponsFit = shelf.counter.coupons
    .filter((coupon) => coupon.asks.some(asksHere))
    .every((coupon) => {
      const most = Math.min(coupon.copies, shelf.mostUnits);
      return (
        coupon.gives.kind !== 'basket_off' &&
        (coupon.per_transaction === null || coupon.per_transaction >= most) &&
        (like === null || like >= most)
      );
    });
  const rebatesFit =
    apart || !trip.rebates.some((rebate) => rebate.from_receipt_cents !== 0 && asksHere(rebate));
  const taxed =
    tax.basis === 'invoice' &&
    [...shelf.products.values()].some((product) => (tax.rates[product.tax_class] ?? 0) !== 0);
  const percents = [
    ...shelf.counter.offers,
    ...shelf.counter.coupons
      .filter((coupon) => coupon.issuer === 'store' && coupon.gives.kind === 'percent_off')
      .flatMap((coupon) => coupon.asks),
  ];
  const perLine = rules.percent_rounding === 'line' && percents.some(asksHere);
  // Splitting only for a rounding gains less than a cent a transaction.
  const rounding = ((taxed && !apart) || perLine) && trip.settings.further_transaction_cents === 0;
  const limitedOffers = shelf.counter.offers.some(
    (offer) => offer.units_per_transaction !== null && asksHere(offer),
  );
  const limitedTags = [...shelf.tags.values()].some((tag) => tag !== null && tag.per_transaction !== null);
  const multiplied = rules.multiplying !== null && rules.multiplying.per_transaction !== null;
  return (
    couponsFit &&
    rebatesFit &&
    !dealsGainApart(shelf) &&
    !rounding &&
    !limitedOffers &&
    !limitedTags &&
    !multiplied &&
    shelf.rewards.length === 0
  );
}

/**
 * Whether units may be better off in a transaction away from each other's deal.
 *
 * So it is where the house refuses a coupon that a sale price makes too large, where a group's price
 * is above the tags', and where the pairs of several products could fall otherwise.
 * @param {Shelf} shelf
 */
function dealsGainApart(shelf) {
  const tags = [...shelf.tags.values()].filter((tag) => tag !== null && tag.deal !== null);
  const mixes = tags.flatMap((tag) =>
    tag?.deal?.kind === 'buy_one_get_one' && tag.deal.mix ? [tag.deal.mix] : [],
  );
  return (
    (tags.length > 0 && shelf.counter.store.rules.overage === 'refuse') ||
    tags.some((tag) => tag?.deal?.kind === 'n_for_m' && tag.deal.cents > tag.deal.n * tag.cents) ||
    new Set(mixes).size < mixes.length
  );
}
