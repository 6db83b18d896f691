/**
 * Step 6 of the register: sales tax, with the treatment and basis of the place as settings.
 * Twin of `server/engine/tax.py`, which names the law. Settings, never advice.
 */

import { sum } from './belt.js';
import { roundHalfUp } from './money.js';

/** @import { Belt, Item } from './belt.js' */
/** @import { Adjustment, TaxLine } from './types.js' */

const TREATMENT_IN_WORDS = Object.freeze({
  store_funded: 'Reductions that the store pays lower what is taxed; manufacturer coupons do not.',
  all: 'All coupons lower what is taxed.',
  none: 'No coupon lowers what is taxed.',
});

/**
 * Tax in cents, half up once.
 * @param {number} rate in parts per 100,000 @param {number} taxableCents
 */
export function taxCents(rate, taxableCents) {
  // A rate times a whole trip's cents could pass 2^53; whole hundred thousands need no rounding.
  const rest = taxableCents % 100_000;
  return rate * ((taxableCents - rest) / 100_000) + roundHalfUp(rate * rest, 100_000);
}

/** Per unit, what tax is reckoned on before food benefits; 0 for an untaxed class. @param {Belt} belt */
export function taxableAmounts(belt) {
  const rates = belt.transaction.store.tax.rates;
  return belt.items.map((item) => (Object.hasOwn(rates, item.product.tax_class) ? taxable(belt, item) : 0));
}

/** @param {Belt} belt @param {Item} item */
function taxable(belt, item) {
  const lowered = item.adjustments.filter((adjustment) => lowersTax(belt, adjustment));
  return Math.max(0, item.shelfCents - sum(lowered.map((adjustment) => adjustment.cents)));
}

/** @param {Belt} belt @param {Adjustment} adjustment */
function lowersTax(belt, adjustment) {
  const treatment = belt.transaction.store.tax.treatment;
  if (adjustment.kind === 'sale' || treatment === 'none') return false;
  if (treatment === 'all' || adjustment.kind === 'percent_offer' || adjustment.kind === 'multiplied')
    return true;
  // A coupon's own part, on its units, the basket or as overage: as its issuer's.
  return belt.coupon(adjustment.source).issuer === 'store';
}

/**
 * One line for each tax class on the belt, by the class's name.
 * @param {Belt} belt @param {readonly number[]} taxable cents per unit
 * @returns {TaxLine[]}
 */
export function taxLines(belt, taxable) {
  const tax = belt.transaction.store.tax;
  /** @type {TaxLine[]} */
  const lines = [];
  for (const taxClass of Object.keys(tax.rates).sort(byCodePoint)) {
    const rate = tax.rates[taxClass];
    const amounts = taxable.filter((_, unit) => belt.items[unit].product.tax_class === taxClass);
    if (amounts.length === 0) continue;
    const base = sum(amounts);
    const perItem = tax.basis === 'item';
    const cents = perItem ? sum(amounts.map((amount) => taxCents(rate, amount))) : taxCents(rate, base);
    const rounded = perItem ? 'rounded for each item' : 'rounded once';
    const why = `${rateInWords(rate)} of ${belt.money(base)}, ${rounded}. ${TREATMENT_IN_WORDS[tax.treatment]}`;
    lines.push({ tax_class: taxClass, rate, taxable_cents: base, cents, why });
  }
  return lines;
}

/** Parts per 100,000 for a reader: 8875 is `8.875 %`, 7000 is `7 %`. @param {number} rate */
export function rateInWords(rate) {
  const rest = rate % 1_000;
  const after = rest === 0 ? '' : `.${String(rest).padStart(3, '0').replace(/0+$/, '')}`;
  return `${(rate - rest) / 1_000}${after} %`;
}

// Python sorts by code point, JavaScript by halves of it.
/** @param {string} one @param {string} other */
function byCodePoint(one, other) {
  const [left, right] = [Array.from(one), Array.from(other)];
  for (let place = 0; place < Math.min(left.length, right.length); place += 1) {
    const difference = (left[place].codePointAt(0) ?? 0) - (right[place].codePointAt(0) ?? 0);
    if (difference !== 0) return difference;
  }
  return left.length - right.length;
}
