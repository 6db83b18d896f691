/**
 * Money: integer minor units, one way in, one way out, one way to round.
 * Twin of `server/engine/money.py`, which explains the figures.
 */

// Digits after the point where they are not two (ISO 4217).
/** @type {Readonly<Record<string, number>>} */
export const EXPONENTS = Object.freeze({
  ...Object.fromEntries(
    [
      ...['BIF', 'CLP', 'DJF', 'GNF', 'ISK', 'JPY', 'KMF', 'KRW', 'PYG', 'RWF', 'UGX', 'UYI'],
      ...['VND', 'VUV', 'XAF', 'XOF', 'XPF'],
    ].map((currency) => [currency, 0]),
  ),
  ...Object.fromEntries(['BHD', 'IQD', 'JOD', 'KWD', 'LYD', 'OMR', 'TND'].map((currency) => [currency, 3])),
  ...Object.fromEntries(['CLF', 'UYW'].map((currency) => [currency, 4])),
});

// Only where one symbol is commonly read as one currency; every other currency shows its code.
/** @type {Readonly<Record<string, string>>} */
export const SYMBOLS = Object.freeze({ USD: '$', EUR: '€', GBP: '£', JPY: '¥', INR: '₹' });

const WRITTEN = /^([0-9]{0,9})(?:\.([0-9]*))?$/;
const TOO_LONG = /^[0-9]{10,}(?:\.[0-9]*)?$/;

/** A text that is no amount of money: `value` as it was given, `mend` says what to write. */
export class NotMoney extends Error {
  /** @param {string} value @param {string} mend */
  constructor(value, mend) {
    super(`${JSON.stringify(value)} is not an amount of money: ${mend}`);
    this.name = 'NotMoney';
    this.value = value;
    this.mend = mend;
  }
}

/** Digits after the point of an ISO 4217 currency; 2 unless the table says otherwise.
 * @param {string} currency */
export const exponentOf = (currency) => EXPONENTS[currency] ?? 2;

/**
 * The whole number nearest to `numerator / denominator`; a half goes up, also below zero.
 * Exact while twice the numerator stays below 2^53, as all sums of a trip do.
 * @param {number} numerator @param {number} denominator above zero
 */
export function roundHalfUp(numerator, denominator) {
  return floorDivide(2 * numerator + denominator, 2 * denominator);
}

/**
 * The `k`-th (from 1) of `parts` even shares of `total`; odd cents as early as fair.
 * @param {number} total @param {number} parts @param {number} k
 */
export function share(total, parts, k) {
  return floorDivide(-total * (k - 1), parts) - floorDivide(-total * k, parts);
}

/**
 * The largest whole number not above `numerator / denominator`, without a fraction in between.
 * @param {number} numerator @param {number} denominator above zero
 */
export function floorDivide(numerator, denominator) {
  const rest = numerator % denominator;
  // `|| 0` because JavaScript tells a negative zero from zero.
  return (numerator - (rest < 0 ? rest + denominator : rest)) / denominator || 0;
}

/**
 * The exact amount for a reader: `$2.37`, `-$0.05`, other currencies by code: `CHF 2.37`.
 * @param {number} cents @param {string} [currency] @param {number} [exponent]
 */
export function show(cents, currency = 'USD', exponent = 2) {
  const digits = String(Math.abs(cents)).padStart(exponent + 1, '0');
  const point = digits.length - exponent;
  const number = exponent === 0 ? digits : `${digits.slice(0, point)}.${digits.slice(point)}`;
  const symbol = SYMBOLS[currency];
  const sign = cents < 0 ? '-' : '';
  return symbol ? `${sign}${symbol}${number}` : `${sign}${currency} ${number}`;
}

/**
 * Cents from what a person writes: `2.37`, `$2.37`, `.59`, `2`, `USD 2.37`. Throws `NotMoney`.
 * @param {string} text @param {string} [currency] @param {number} [exponent]
 */
export function parse(text, currency = 'USD', exponent = 2) {
  let bare = text.trim();
  for (const mark of [SYMBOLS[currency], currency]) {
    if (mark && bare.startsWith(mark)) {
      bare = bare.slice(mark.length).trim();
      break;
    }
  }
  const written = WRITTEN.exec(bare);
  if (TOO_LONG.test(bare)) throw new NotMoney(text, 'write a smaller amount, at most nine digits before the point');
  if (!written || !(written[1] || written[2])) {
    throw new NotMoney(text, `write digits with a point, as in ${show(237, currency, exponent)}`);
  }
  const after = (written[2] ?? '').replace(/0+$/, '');
  if (after.length > exponent) throw new NotMoney(text, `${currency} has ${exponent} digits after the point`);
  return Number((written[1] || '0') + after.padEnd(exponent, '0'));
}
