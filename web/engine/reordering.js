/**
 * Another order on the belt: the one in which the register charges least for the same units.
 * Twin of `server/engine/reordering.py`.
 */

import { sum } from './belt.js';
import { permutations } from './choices.js';
import { known } from './entries.js';
import { priceFilled } from './register.js';

/** @import { Filled, Line, Transaction } from './types.js' */

// Every order of up to so many units is tried; of more, the exchanges of two, again and again.
const MOST_UNITS = 6;
// Rounds of exchanges.
const MOST_ROUNDS = 2;

/**
 * The transaction in its cheapest order, its own where none is cheaper, and whether all were tried.
 * @param {Filled<Transaction>} transaction
 * @returns {[Filled<Transaction>, boolean]}
 */
export function cheapestOrder(transaction) {
  const count = sum(transaction.lines.map((line) => line.units));
  if (count <= MOST_UNITS) return [cheapestOf(transaction, permutations([...Array(count).keys()]))[0], true];
  let held = transaction;
  for (let round = 0; round < MOST_ROUNDS; round += 1) {
    const [best, changed] = cheapestOf(held, exchanges(count));
    if (!changed) break;
    held = best;
  }
  return [held, false];
}

/**
 * The transaction without the coupons that the register does not take as they are handed over.
 * @param {Filled<Transaction>} transaction
 * @returns {Filled<Transaction>}
 */
export function withoutRefused(transaction) {
  let held = transaction;
  while (held.uses.length > 0) {
    const receipt = priceFilled({ ...held, tenders: [{ kind: 'cash', cents: null }] });
    if (!('rule' in receipt)) break;
    const refused = held.uses.findLastIndex(({ coupon }) => coupon === receipt.subject);
    held = { ...held, uses: held.uses.toSpliced(refused, 1) };
  }
  return held;
}

/**
 * @param {Filled<Transaction>} transaction @param {Iterable<readonly number[]>} orders
 * @returns {[Filled<Transaction>, boolean]}
 */
function cheapestOf(transaction, orders) {
  let [best, least] = [transaction, charge(transaction)];
  for (const order of orders) {
    const other = inOrder(transaction, order);
    const cents = charge(other);
    if (cents !== null && (least === null || cents < least)) [best, least] = [other, cents];
  }
  return [best, best !== transaction];
}

/** @param {number} count @returns {Generator<number[]>} */
function* exchanges(count) {
  for (let one = 0; one < count; one += 1) {
    for (let other = one + 1; other < count; other += 1) {
      const order = [...Array(count).keys()];
      [order[one], order[other]] = [other, one];
      yield order;
    }
  }
}

/** What is due less what is earned; null where the register refuses.
 * @param {Filled<Transaction>} transaction */
function charge(transaction) {
  const receipt = priceFilled({ ...transaction, tenders: [{ kind: 'cash', cents: null }] });
  if ('rule' in receipt) return null;
  return receipt.total_cents - sum(receipt.earned.map((earned) => earned.cents));
}

/**
 * The transaction with its units in another order.
 * @param {Filled<Transaction>} transaction @param {readonly number[]} order the present places, first to last
 * @returns {Filled<Transaction>}
 */
export function inOrder(transaction, order) {
  const units = transaction.lines.flatMap((line) => Array.from({ length: line.units }, () => line));
  const place = new Map(order.map((old, now) => [old, now]));
  /** @type {Filled<Line>[]} */
  const lines = [];
  for (const old of order) {
    const { product, rain_check: check } = units[old];
    const last = lines.at(-1);
    if (last !== undefined && last.product === product && last.rain_check === check) last.units += 1;
    else lines.push({ product, units: 1, rain_check: check });
  }
  const asks = new Map(transaction.coupons.map((each) => [each.id, each.asks.map((ask) => ask.units)]));
  return {
    ...transaction,
    lines,
    uses: transaction.uses.map((use) => ({
      ...use,
      units: moved(use.units, known(asks, use.coupon), place),
    })),
    offer_uses: transaction.offer_uses.map((use) => ({
      ...use,
      units: moved(use.units, [use.units.length], place),
    })),
  };
}

/**
 * Claimed units at their new places, requirement by requirement, each in belt order.
 * @param {readonly number[]} units @param {readonly number[]} asks @param {ReadonlyMap<number, number>} place
 */
function moved(units, asks, place) {
  /** @type {number[]} */
  const found = [];
  let start = 0;
  for (const count of asks) {
    const here = units.slice(start, start + count).map((unit) => known(place, unit));
    found.push(...here.sort((one, other) => one - other));
    start += count;
  }
  return found;
}
