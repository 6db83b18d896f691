/**
 * Stacks: what the shopper is shown, "this + this + this = 58 cents".
 * Twin of `server/engine/stacks.py`.
 */

import { sum } from './belt.js';
import { show } from './money.js';
import { compare, sorted } from './order.js';

/** @import { Filled, Receipt, Stack, Transaction, Trip, UnitOnReceipt, Want } from './types.js' */

/**
 * The stacks of a transaction in belt order, equal ones drawn together.
 * @param {Filled<Trip>} trip
 * @param {ReadonlyMap<string, Filled<Want>>} wants per product, the want that it is shown under
 * @param {Filled<Transaction>} transaction @param {Receipt} receipt
 * @returns {Stack[]}
 */
export function stacksOf(trip, wants, transaction, receipt) {
  /** @type {Map<string, Stack>} */
  const found = new Map();
  for (const members of groups(transaction, receipt)) {
    const units = members.map((index) => receipt.units[index]);
    const parts = partsOf(transaction, units);
    const products = units.map((unit) => unit.product);
    const tag = sum(units.map((unit) => unit.tag_cents));
    const paid = sum(units.map((unit) => unit.paid_cents));
    const key = JSON.stringify([products, tag, parts, paid]);
    const held = found.get(key);
    found.set(key, {
      want: wants.get(products[0])?.id ?? products[0],
      products,
      times: held === undefined ? 1 : held.times + 1,
      tag_cents: tag,
      parts,
      paid_cents: paid,
      words: words(trip, tag, parts, paid),
      units: held === undefined ? members : held.units,
    });
  }
  return [...found.values()];
}

/**
 * Indexes of units that share a use of a coupon, directly or by way of others.
 * @param {Filled<Transaction>} transaction @param {Receipt} receipt
 * @returns {number[][]}
 */
function groups(transaction, receipt) {
  const leaders = receipt.units.map((_, index) => index);
  /** @param {number} index */
  function leader(index) {
    while (leaders[index] !== index) index = leaders[index];
    return index;
  }
  for (const use of transaction.uses) {
    const roots = [...new Set(use.units.map(leader))].sort(compare);
    for (const other of roots.slice(1)) leaders[other] = roots[0];
  }
  /** @type {Map<number, number[]>} */
  const found = new Map();
  for (const index of leaders.keys()) {
    const members = found.get(leader(index));
    if (members === undefined) found.set(leader(index), [index]);
    else members.push(index);
  }
  return [...found.values()];
}

// What takes cents off a unit, in the register's order.
const STEPS = [
  'sale',
  'percent_offer',
  'store_coupon',
  'manufacturer_coupon',
  'multiplied',
  'overage',
  'basket_coupon',
];

/**
 * (what, cents off) in the register's order, each paper once.
 * @param {Filled<Transaction>} transaction @param {readonly UnitOnReceipt[]} units
 * @returns {[string, number][]}
 */
function partsOf(transaction, units) {
  const names = new Map(transaction.coupons.map((coupon) => [coupon.id, coupon.description]));
  for (const offer of transaction.percent_offers) names.set(offer.id, offer.description);
  /** @type {Map<string, number>} */
  const cents = new Map();
  const taken = units.flatMap((unit) => unit.adjustments);
  // A sale on the second unit comes before a coupon on the first.
  for (const each of sorted(taken, ({ kind }) => STEPS.indexOf(kind))) {
    let name = names.get(each.source) ?? each.source;
    if (each.kind === 'sale') name = 'sale';
    else if (each.kind === 'multiplied') name = `${name}, multiplied by the house`;
    cents.set(name, (cents.get(name) ?? 0) + each.cents);
  }
  return [...cents];
}

/**
 * One line: the tag, what comes off, what is paid.
 * @param {Filled<Trip>} trip @param {number} tag @param {readonly [string, number][]} parts
 * @param {number} paid
 */
function words(trip, tag, parts, paid) {
  /** @param {number} cents */
  const money = (cents) => show(cents, trip.currency, trip.exponent);
  const off = parts.map(([name, cents]) => ` − ${money(cents)} (${name})`).join('');
  return `${money(tag)}${off} = ${money(paid)}`;
}
