/**
 * Why a need cannot be met: what is in the way, in a plain sentence, never "infeasible".
 * Twin of `server/engine/reasons.py`.
 */

import { sum } from './belt.js';
import { show } from './money.js';
import { compare } from './order.js';
import { bought, counterAt, isSold, spotKey, tagAt, transactionsDone } from './situation.js';
import { holdsOn } from './ways.js';

/** @import { Situation } from './situation.js' */
/** @import { Filled, Store, Want } from './types.js' */

/**
 * The first thing in the way of a want that some units are missing of.
 * @param {Situation} situation @param {Filled<Want>} want
 */
export function reason(situation, want) {
  const trip = situation.trip;
  const counters = trip.stores.map((store) => counterAt(trip, store));
  const sold = counters.flatMap((counter) =>
    want.products
      .filter((product) => isSold(trip, counter, product))
      .map((product) => ({ store: counter.store, product })),
  );
  if (sold.length === 0) {
    const dated = trip.prices.filter((tag) => want.products.includes(tag.product));
    if (dated.length > 0) {
      const spans = new Set(dated.map((tag) => `${tag.from_date || '…'} to ${tag.until || '…'}`));
      const held = [...spans].sort(compare).join(', ');
      return `no price holds on ${trip.day} (the tags hold ${held})`;
    }
    return 'no store of this trip has a price for any product that would do';
  }
  const onShelf = sold.filter(({ store, product }) => !situation.empty.has(spotKey(store.id, product)));
  if (onShelf.length === 0) return 'the shelf is empty wherever it is sold';
  const room = sum(onShelf.map(({ store, product }) => most(situation, store, product)));
  if (room < want.need) {
    return `the stores' purchase limits leave ${room} of ${want.need} units`;
  }
  const ceilings = onShelf.flatMap(({ store }) =>
    store.cash_ceiling_cents === null
      ? []
      : [`${show(store.cash_ceiling_cents, trip.currency, trip.exponent)} at ${store.name}`],
  );
  if (trip.wallet.cash_cents !== null) {
    ceilings.unshift(`${show(trip.wallet.cash_cents, trip.currency, trip.exponent)} on the trip`);
  }
  if (ceilings.length > 0) {
    return `it would take more cash than the ceiling of ${[...new Set(ceilings)].join(', ')}`;
  }
  const closed = onShelf
    .filter(({ store }) => transactionsDone(situation, store.id) >= store.rules.transactions_per_visit)
    .map(({ store }) => store.name);
  if (closed.length > 0) return `no transaction is left at ${[...new Set(closed)].join(', ')}`;
  return 'another want or the house rules of the stores leave no way to buy them';
}

/**
 * How many units the tag's limits still let one have at a store.
 * @param {Situation} situation @param {Filled<Store>} store @param {string} product
 */
function most(situation, store, product) {
  const trip = situation.trip;
  const tag = tagAt(trip, store, product);
  if (tag === null) {
    return sum(
      trip.wallet.rain_checks
        .filter(
          (check) =>
            check.store === store.id && check.product === product && holdsOn(trip.day, null, check.until),
        )
        .map((check) => check.units),
    );
  }
  /** @type {number[]} */
  const limits = [];
  if (tag.per_visit !== null) limits.push(tag.per_visit - bought(situation, store.id, product));
  if (tag.per_transaction !== null) {
    const left = store.rules.transactions_per_visit - transactionsDone(situation, store.id);
    limits.push(tag.per_transaction * Math.max(left, 0));
  }
  return limits.length > 0 ? Math.max(Math.min(...limits), 0) : 10_000;
}
