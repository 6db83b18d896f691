/**
 * Why the register shows another total: the transaction is priced again with each single thing that may
 * have gone otherwise, and what meets the register's total comes first. Pure.
 */

import { filledTransaction } from '../engine/papers.js';
import { isRefusal, priceFilled } from '../engine/register.js';
import { couponName, money, productName } from '../phone/report-words.js';

/** @import { Filled, Transaction, Trip } from '../engine/types.js' */

/**
 * @typedef {object} Cause
 * @property {string} words what may have gone otherwise
 * @property {number} total what the register would show then
 * @property {boolean} exact it is what the register shows
 * @property {Transaction} transaction as it would have gone
 * @property {string[]} coupons ids of coupons that were not taken
 */

/** Causes that do not meet the total and are shown all the same, nearest first. */
const NEAREST = 3;

/**
 * The likely causes, exact ones first, in the order in which mishaps are likely.
 * @param {Trip} trip @param {Transaction} planned
 * @param {number} shown the register's total, in cents
 * @returns {Cause[]}
 */
export function likelyCauses(trip, planned, shown) {
  const transaction = filledTransaction(planned);
  const usual = totalOf(transaction);
  const causes = otherwise(trip, transaction).flatMap(({ words, changed, coupons = [] }) => {
    const total = totalOf(changed);
    if (total === null || total === usual) return [];
    return [{ words, total, exact: total === shown, transaction: changed, coupons }];
  });
  const off = (/** @type {Cause} */ cause) => Math.abs(cause.total - shown);
  const exact = causes.filter((cause) => cause.exact);
  // What would move the total the other way explains nothing.
  const towards = causes.filter((cause) => !cause.exact && usual !== null && (cause.total > usual) === (shown > usual));
  return [...exact, ...towards.sort((a, b) => off(a) - off(b)).slice(0, exact.length > 0 ? 0 : NEAREST)];
}

/** @param {Filled<Transaction>} transaction */
function totalOf(transaction) {
  // Whatever she pays with: a slip that would be more than is due must not hide the cause.
  const receipt = priceFilled({ ...transaction, tenders: [{ kind: 'cash', cents: null }] });
  return isRefusal(receipt) ? null : receipt.total_cents;
}

/** @typedef {{words: string, changed: Filled<Transaction>, coupons?: string[]}} Otherwise */

/** @param {Trip} trip @param {Filled<Transaction>} transaction @returns {Otherwise[]} */
function otherwise(trip, transaction) {
  return [
    ...couponsNotTaken(trip, transaction),
    ...offersNotApplied(transaction),
    ...accountNotGiven(transaction),
    ...otherMultiplying(transaction),
    ...otherTax(transaction),
    ...otherCounts(trip, transaction),
  ];
}

/** @param {Trip} trip @param {Filled<Transaction>} transaction @returns {Otherwise[]} */
function couponsNotTaken(trip, transaction) {
  const ids = [...new Set(transaction.uses.map((use) => use.coupon))];
  return ids.flatMap((id) => {
    const places = transaction.uses.flatMap((use, place) => (use.coupon === id ? [place] : []));
    return places.map((_, k) => {
      const without = new Set(places.slice(places.length - 1 - k));
      const copies = places.length > 1 ? `${k + 1} of ${places.length} copies of ` : '';
      return {
        words: `Not taken: ${copies}${couponName(trip, id)}`,
        changed: { ...transaction, uses: transaction.uses.filter((_use, place) => !without.has(place)) },
        coupons: Array(k + 1).fill(id),
      };
    });
  });
}

/** @param {Filled<Transaction>} transaction @returns {Otherwise[]} */
const offersNotApplied = (transaction) =>
  transaction.offer_uses.map((use) => ({
    words: `Not applied: ${transaction.percent_offers.find((offer) => offer.id === use.offer)?.description ?? use.offer}`,
    changed: { ...transaction, offer_uses: transaction.offer_uses.filter((other) => other !== use) },
  }));

/** Without the account, everything that hangs on it is missing at once. @param {Filled<Transaction>} transaction @returns {Otherwise[]} */
function accountNotGiven(transaction) {
  const digital = new Set(transaction.coupons.filter((coupon) => coupon.form === 'digital').map((coupon) => coupon.id));
  const uses = transaction.uses.filter((use) => !digital.has(use.coupon));
  const gone = transaction.uses.length - uses.length + transaction.offer_uses.length;
  if (gone < 2) return [];
  return [{
    words: 'The account was not given: no offer and no loaded coupon counted',
    changed: { ...transaction, uses, offer_uses: [] },
  }];
}

/** @param {Filled<Transaction>} transaction @returns {Otherwise[]} */
function otherMultiplying(transaction) {
  const { store } = transaction;
  const withRule = (/** @type {Filled<Transaction>['store']['rules']['multiplying']} */ multiplying) =>
    ({ ...transaction, store: { ...store, rules: { ...store.rules, multiplying } } });
  if (store.rules.multiplying) return [{ words: 'Coupons were not multiplied', changed: withRule(null) }];
  if (transaction.uses.length === 0) return [];
  return [{
    words: 'Coupons were doubled',
    changed: withRule({ times: 2, up_to_cents: 100, per_transaction: null }),
  }];
}

/** @param {Filled<Transaction>} transaction @returns {Otherwise[]} */
function otherTax(transaction) {
  const { store } = transaction;
  const withTax = (/** @type {Partial<Filled<Transaction>['store']['tax']>} */ tax) =>
    ({ ...transaction, store: { ...store, tax: { ...store.tax, ...tax } } });
  const treatments = /** @type {const} */ ({
    none: 'Tax was reckoned before every coupon',
    store_funded: 'Tax was reckoned after the store\'s own discounts only',
    all: 'Tax was reckoned after all coupons',
  });
  const kinds = /** @type {(keyof typeof treatments)[]} */ (Object.keys(treatments))
    .filter((treatment) => treatment !== store.tax.treatment)
    .map((treatment) => ({ words: treatments[treatment], changed: withTax({ treatment }) }));
  const basis = store.tax.basis === 'item' ? 'invoice' : 'item';
  const untaxed = Object.keys(store.tax.rates).map((name) => ({
    words: `No tax was taken on “${name}”`,
    changed: withTax({ rates: { ...store.tax.rates, [name]: 0 } }),
  }));
  return [
    ...kinds, ...untaxed,
    { words: basis === 'item' ? 'Tax was rounded item by item' : 'Tax was rounded once over all items', changed: withTax({ basis }) },
  ];
}

/** An item scanned once too often. @param {Trip} trip @param {Filled<Transaction>} transaction @returns {Otherwise[]} */
const otherCounts = (trip, transaction) =>
  transaction.lines.map((line, place) => ({
    // At the end of the belt, so that the coupons still claim the units that they name.
    words: `Scanned once too often: ${productName(trip, line.product)}`,
    changed: { ...transaction, lines: [...transaction.lines, { ...transaction.lines[place], units: 1, rain_check: null }] },
  }));

/** What stands beside a cause: how far it explains the total. @param {Trip} trip @param {Cause} cause */
export const causeWords = (trip, cause) =>
  cause.exact ? `explains it: ${money(trip, cause.total)}` : `would be ${money(trip, cause.total)}`;
