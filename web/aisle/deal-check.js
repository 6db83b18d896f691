/**
 * Is this a deal? One product at one price with the coupons at hand, through the register alone, and
 * what a unit of it then costs beside her stock-up price. Pure; the register's own arithmetic.
 */

import { NotMeasured, showUnitPrice, unitPrice, worthCents } from '../engine/measure.js';
import { filled } from '../engine/documents.js';
import { PRODUCT } from '../engine/offers.js';
import { isRefusal, price } from '../engine/register.js';
import { money } from '../phone/report-words.js';

/** @import { Coupon, Filled, Product, StockUp, Store, Trip } from '../engine/types.js' */

/**
 * @typedef {object} DealChecked
 * @property {number} units that the coupons ask for together, one without any
 * @property {number} paidCents for all of them at the register, before tax
 * @property {string} unitPrice ready to show, '' where nothing says by what measure
 * @property {'at or under' | 'over' | ''} verdict '' without a stock-up price
 * @property {string} words the whole answer in sentences
 * @property {string} refused why the register would not take it so, '' where it would
 */

/**
 * @param {Trip} trip @param {Store} store @param {Product} product
 * @param {number} cents on the tag
 * @param {readonly Coupon[]} coupons one copy of each
 * @param {StockUp | null} stockUp
 * @returns {DealChecked}
 */
export function checkDeal(trip, store, product, cents, coupons, stockUp) {
  const units = Math.max(1, ...coupons.map(unitsAsked));
  const receipt = price({
    store, day: trip.day, region: store.region || trip.region || '',
    ...(trip.currency === undefined ? {} : { currency: trip.currency }),
    ...(trip.exponent === undefined ? {} : { exponent: trip.exponent }),
    products: [product],
    prices: [{ store: store.id, product: product.id, cents }],
    lines: [{ product: product.id, units }],
    coupons: [...coupons],
    uses: coupons.map((coupon) => ({
      coupon: coupon.id,
      units: Array.from({ length: coupon.gives.kind === 'basket_off' ? 0 : unitsAsked(coupon) }, (_, unit) => unit),
    })),
  });
  if (isRefusal(receipt)) {
    return { units, paidCents: units * cents, unitPrice: '', verdict: '', words: '', refused: receipt.sentence };
  }
  const paidCents = receipt.merchandise_cents;
  const paid = `${units > 1 ? `${units} for ` : ''}${money(trip, paidCents)}${coupons.length > 0 ? ' after coupons' : ''}`;
  const compared = stockUp && compare(trip, product, paidCents, units, stockUp);
  if (!compared) {
    return { units, paidCents, unitPrice: '', verdict: '', words: `${paid}. The price book has no price to compare with.`, refused: '' };
  }
  return { units, paidCents, ...compared, words: `${paid}: ${compared.words}.`, refused: '' };
}

/** How many units one copy claims. @param {Coupon} coupon */
const unitsAsked = (coupon) => coupon.asks.reduce((sum, asks) => sum + (asks.units ?? 1), 0);

/**
 * @param {Trip} trip @param {Product} product @param {number} paid @param {number} units @param {StockUp} stockUp
 * @returns {{unitPrice: string, verdict: 'at or under' | 'over', words: string} | null} null where the two are not measured alike
 */
function compare(trip, product, paid, units, { cents, per = 'piece' }) {
  const whole = /** @type {Filled<Product>} */ (filled(PRODUCT, product));
  try {
    const most = units * worthCents(whole, { cents, per });
    const each = showUnitPrice(unitPrice(paid, whole, per, units), per, trip.currency, trip.exponent);
    const verdict = paid <= most ? 'at or under' : 'over';
    return { unitPrice: each, verdict, words: `${each}, ${verdict} your stock-up price, which is ${money(trip, most)} for so much` };
  } catch (error) {
    if (error instanceof NotMeasured) return null;
    throw error;
  }
}
