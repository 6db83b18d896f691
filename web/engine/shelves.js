/**
 * Shelves: what the wants can buy at a store, and in how many transactions.
 * Twin of `server/engine/shelves.py`.
 */

import { surplusMayMiss } from './block.js';
import { sum } from './belt.js';
import { columns } from './bundles.js';
import { known } from './entries.js';
import { compare } from './order.js';
import {
  counterAt,
  isSold,
  mostWelcome,
  productById,
  spotKey,
  tagAt,
  transactionsDone,
} from './situation.js';
import { holdsOn } from './shelf.js';
import { asksFor } from './ways.js';

/** @import { Filled, Store, Want } from './types.js' */
/** @import { Shelf } from './block.js' */
/** @import { Situation } from './situation.js' */

/**
 * What the wants can buy, per store in the order of the drive.
 * @param {Situation} situation @param {readonly Filled<Want>[]} wants
 * @returns {Map<string, Shelf>}
 */
export function shelvesOf(situation, wants) {
  return new Map(situation.trip.stores.map((store) => [store.id, shelfAt(situation, store, wants)]));
}

/**
 * What the wants can buy at a store.
 * @param {Situation} situation @param {Filled<Store>} store @param {readonly Filled<Want>[]} wants
 * @returns {Shelf}
 */
export function shelfAt(situation, store, wants) {
  const trip = situation.trip;
  const counter = counterAt(trip, store);
  const byId = productById(trip);
  const names = [...new Set(wants.flatMap((want) => want.products))].sort(compare).filter((name) => {
    const spot = spotKey(store.id, name);
    return isSold(trip, counter, name) && (!situation.empty.has(spot) || situation.trolley.get(spot));
  });
  const tags = new Map(names.map((name) => [name, tagAt(trip, store, name)]));
  const [found, allListed] = columns(
    names.map((name) => [known(byId, name), known(tags, name)]),
    counter,
    wants,
  );
  // There the program is on the careful side, and its optimum no bound.
  const whole = allListed && !counter.coupons.some((coupon) => surplusMayMiss(coupon, counter, names));
  return {
    counter,
    tags,
    products: new Map(names.map((name) => [name, known(byId, name)])),
    columns: found,
    rewards: trip.rewards.filter(
      (reward) => reward.store === store.id && holdsOn(trip.day, reward.from_date, reward.until),
    ),
    mostUnits: sum(wants.map(mostWelcome)),
    whole,
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
  return {
    counter: shelf.counter,
    tags: new Map([...shelf.tags].filter(([name]) => names.has(name))),
    products,
    columns: shelf.columns.filter((column) => column.ways.every((way) => names.has(way.product))),
    rewards: shelf.rewards.filter((reward) =>
      [...products.keys()].some((name) => asksFor(reward.products, name)),
    ),
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
  const products = [...shelf.products.keys()];
  const asksForAny = (/** @type {{products: string[]}} */ asking) =>
    products.some((product) => asksFor(asking.products, product));
  const like = rules.like_coupons_per_transaction;
  const couponsFit = shelf.counter.coupons
    .filter((coupon) => coupon.asks.some(asksForAny))
    .every((coupon) => {
      const most = Math.min(coupon.copies, shelf.mostUnits);
      return (
        coupon.gives.kind !== 'basket_off' &&
        (coupon.per_transaction === null || coupon.per_transaction >= most) &&
        (like === null || like >= most)
      );
    });
  const rebatesFit =
    apart || !trip.rebates.some((rebate) => rebate.from_receipt_cents !== 0 && asksForAny(rebate));
  const taxed =
    tax.basis === 'invoice' &&
    [...shelf.products.values()].some((product) => (tax.rates[product.tax_class] ?? 0) !== 0);
  const percents = [
    ...shelf.counter.offers,
    ...shelf.counter.coupons
      .filter((coupon) => coupon.issuer === 'store' && coupon.gives.kind === 'percent_off')
      .flatMap((coupon) => coupon.asks),
  ];
  const perLine = rules.percent_rounding === 'line' && percents.some(asksForAny);
  // Splitting only for a rounding gains less than a cent a transaction.
  const rounding = ((taxed && !apart) || perLine) && trip.settings.further_transaction_cents === 0;
  const limitedOffers = shelf.counter.offers.some(
    (offer) => offer.units_per_transaction !== null && asksForAny(offer),
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
