/**
 * What the tests ask of the twin, inside the browser: `page.evaluate` can pass documents only, so
 * each function here takes a list of questions and gives the list of answers.
 */

import { filled } from '../../web/engine/documents.js';
import { Fraction } from '../../web/engine/fraction.js';
import * as measure from '../../web/engine/measure.js';
import * as money from '../../web/engine/money.js';
import { PRODUCT, filledTrip } from '../../web/engine/offers.js';
import { filledTransaction } from '../../web/engine/papers.js';
import { BrokenReceipt, checkReceipt } from '../../web/engine/receipts.js';
import { isRefusal, priceFilled } from '../../web/engine/register.js';
import { RULES, say } from '../../web/engine/rules.js';

/** @import { HouseRules, Product, Receipt, Refusal, Transaction, Trip } from '../../web/engine/types.js' */
/** @import { Filled } from '../../web/engine/types.js' */

/**
 * The register's answers, each receipt checked.
 * @param {Transaction[]} transactions
 * @returns {(Receipt | Refusal)[]}
 */
export function runRegister(transactions) {
  return transactions.map((document) => {
    const transaction = filledTransaction(document);
    const before = JSON.stringify(transaction);
    const answer = priceFilled(transaction);
    if (!isRefusal(answer)) checkReceipt(transaction, answer);
    if (JSON.stringify(transaction) !== before) throw new Error('price changed its transaction');
    return answer;
  });
}

/**
 * Trips and transactions with their defaults written out.
 * @param {Trip[]} trips @param {Transaction[]} transactions
 */
export function runFilled(trips, transactions) {
  return { trips: trips.map(filledTrip), transactions: transactions.map(filledTransaction) };
}

/**
 * The promise that each receipt breaks; '' for one that holds.
 * @param {Transaction} document @param {Receipt[]} receipts
 */
export function runGuard(document, receipts) {
  return receipts.map((receipt) => {
    try {
      checkReceipt(filledTransaction(document), receipt);
    } catch (error) {
      if (error instanceof BrokenReceipt) return error.message;
      throw error;
    }
    return '';
  });
}

/**
 * @param {{shown: [number, string, number][], read: [string, string, number][],
 *   shares: [number, number, number][], rounded: [number, number][], currencies: string[]}} asked
 */
export function runMoney({ shown, read, shares, rounded, currencies }) {
  return {
    shown: shown.map(([cents, currency, exponent]) => money.show(cents, currency, exponent)),
    read: read.map(([text, currency, exponent]) => readMoney(text, currency, exponent)),
    shares: shares.map(([total, parts, k]) => money.share(total, parts, k)),
    rounded: rounded.map(([numerator, denominator]) => money.roundHalfUp(numerator, denominator)),
    currencies: currencies.map(money.exponentOf),
  };
}

/** @param {string} text @param {string} currency @param {number} exponent */
function readMoney(text, currency, exponent) {
  try {
    return money.parse(text, currency, exponent);
  } catch (error) {
    if (error instanceof money.NotMoney) return error.mend;
    throw error;
  }
}

/**
 * Measure, stock-up worth and shown unit price of a pack; null where it has no such measure.
 * @param {{product: Product, per: string, cents: number, currency: string, exponent: number}[]} packs
 */
export function runMeasure(packs) {
  return packs.map(({ product: document, per, cents, currency, exponent }) => {
    const product = /** @type {Filled<Product>} */ (filled(PRODUCT, document));
    const found = measure.measureIn(product, per);
    if (found === null) return null;
    return {
      measure: `${found.numerator}/${found.denominator}`,
      worth: measure.worthCents(product, { cents: '26.1875', per }),
      shown: measure.showUnitPrice(measure.unitPrice(cents, product, per), per, currency, exponent),
    };
  });
}

/** Exact sums as text. @param {[string, string][]} pairs of decimals, the second above zero */
export function runFractions(pairs) {
  return pairs.map(([left, right]) => {
    const [one, other] = [Fraction.read(left), Fraction.read(right)];
    const over = one.over(other);
    return [`${over.numerator}/${over.denominator}`, over.floor(), over.roundHalfUp(10n), one.compare(other)];
  });
}

/** Every house rule's table entry, and its sentence for each set of rules.
 * @param {Filled<HouseRules>[]} houses */
export function runRules(houses) {
  const fields = /** @type {(keyof HouseRules)[]} */ (Object.keys(RULES));
  return {
    table: fields.map((field) => [field, RULES[field].plain, RULES[field].default]),
    said: houses.map((rules) => fields.map((field) => say(field, rules, (cents) => money.show(cents)))),
  };
}
