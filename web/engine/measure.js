/**
 * Measure: how much is in a pack, what it is worth to the household, what a unit of it costs.
 * Twin of `server/engine/measure.py`, which names the sources of the factors.
 */

import { Fraction } from './fraction.js';
import { show } from './money.js';

/** @import { Filled, Product, StockUp } from './types.js' */
/** @typedef {'weight' | 'volume' | 'length' | 'area' | 'pieces'} Dimension */

// Unit -> how much of its dimension's base unit it is (gram, millilitre, metre, square metre).
/** @type {[Dimension, Record<string, string>][]} */
const FACTORS = [
  ['weight', { mg: '0.001', g: '1', kg: '1000', oz: '28.349523125', lb: '453.59237' }],
  [
    'volume',
    {
      ml: '1',
      cl: '10',
      l: '1000',
      'fl-oz': '29.5735295625',
      cup: '236.5882365',
      pt: '473.176473',
      qt: '946.352946',
      gal: '3785.411784',
      'cu-in': '16.387064',
      'dry-pt': '550.6104713575',
      'dry-qt': '1101.220942715',
      bu: '35239.07016688',
    },
  ],
  ['length', { mm: '0.001', cm: '0.01', m: '1', in: '0.0254', ft: '0.3048', yd: '0.9144' }],
  [
    'area',
    {
      'sq-cm': '0.0001',
      'sq-m': '1',
      'sq-in': '0.00064516',
      'sq-ft': '0.09290304',
      'sq-yd': '0.83612736',
    },
  ],
];

// Words for one countable piece of the pack; all count the product's `pieces`.
export const PIECES = Object.freeze([
  ...['piece', 'count', 'each', 'bag', 'bar', 'bottle', 'box', 'can', 'capsule', 'diaper', 'egg', 'load'],
  ...['pad', 'pair', 'pod', 'pouch', 'roll', 'serving', 'sheet', 'slice', 'stick', 'tablet', 'wipe'],
]);

/** @type {ReadonlyMap<string, [Dimension, Fraction]>} */
export const UNITS = new Map([
  ...FACTORS.flatMap(([of, factors]) =>
    Object.entries(factors).map(([unit, factor]) => known(unit, of, Fraction.read(factor))),
  ),
  ...PIECES.map((unit) => known(unit, 'pieces', Fraction.of(1))),
]);

/**
 * @param {string} unit @param {Dimension} of @param {Fraction} factor
 * @returns {[string, [Dimension, Fraction]]}
 */
function known(unit, of, factor) {
  return [unit, [of, factor]];
}

/** A pack has no measure in that unit: `product` and `per` say which, `mend` what to do. */
export class NotMeasured extends Error {
  /** @param {string} product @param {string} per @param {string} mend */
  constructor(product, per, mend) {
    super(`${product} has no measure per ${per}: ${mend}`);
    this.name = 'NotMeasured';
    this.product = product;
    this.per = per;
    this.mend = mend;
  }
}

/** What `unit` measures; null if it is no unit that is known here. @param {string} unit */
export function dimensionOf(unit) {
  return UNITS.get(unit)?.[0] ?? null;
}

/**
 * `amount` of `unit` counted in `into`, exactly; null across dimensions or for no unit.
 * @param {Fraction} amount @param {string} unit @param {string} into
 */
export function convert(amount, unit, into) {
  const [from, to] = [UNITS.get(unit), UNITS.get(into)];
  if (from === undefined || to === undefined || from[0] !== to[0]) return null;
  return amount.times(from[1]).over(to[1]);
}

/**
 * How many `per` one pack holds (12 rolls, 16 ounces), exactly; null where it has no such measure.
 * @param {Filled<Product>} product @param {string} per
 */
export function measureIn(product, per) {
  const amount = Fraction.read(product.size.amount);
  const holdsSome = amount.numerator > 0n;
  if (dimensionOf(per) === 'pieces') {
    const sizeCounts = dimensionOf(product.size.unit) === 'pieces' && product.pieces === 1 && holdsSome;
    return sizeCounts ? amount : Fraction.of(product.pieces);
  }
  return holdsSome ? convert(amount, product.size.unit, per) : null;
}

/**
 * As `measureIn`, where a measure is expected: throws `NotMeasured` if there is none.
 * @param {Filled<Product>} product @param {string} per
 */
export function measuresOf(product, per) {
  const measure = measureIn(product, per);
  if (measure === null) {
    const sold = `${product.size.amount} ${product.size.unit}`;
    const mend = `it is sold by ${sold}; name a unit that measures the same thing`;
    throw new NotMeasured(product.id, per, mend);
  }
  return measure;
}

/**
 * What one pack is worth to the want: whole cents at or under its stock-up price.
 * @param {Filled<Product>} product @param {Filled<StockUp>} stockUp
 */
export function worthCents(product, stockUp) {
  const known = WORTH.get(product)?.get(stockUp);
  if (known !== undefined) return known;
  const cents = Fraction.read(stockUp.cents).times(measuresOf(product, stockUp.per)).floor();
  if (!WORTH.has(product)) WORTH.set(product, new WeakMap());
  WORTH.get(product)?.set(stockUp, cents);
  return cents;
}

// Every plan asks the worth of every pack again.
/** @type {WeakMap<Filled<Product>, WeakMap<Filled<StockUp>, number>>} */
const WORTH = new WeakMap();

/**
 * Cents per `per` of `packs` packs that cost `cents` together; exact, for ranking.
 * @param {number} cents @param {Filled<Product>} product @param {string} per @param {number} [packs]
 */
export function unitPrice(cents, product, per, packs = 1) {
  return Fraction.of(cents).over(measuresOf(product, per).times(Fraction.of(packs)));
}

/** A unit as a reader sees it: `fl oz` where documents write `fl-oz`. @param {string} per */
export const unitWord = (per) => per.replaceAll('-', ' ');

/**
 * A unit price as a shelf tag shows it: `$3.49/lb`, `21.8¢/oz`. Only for showing.
 * @param {Fraction} price @param {string} per @param {string} [currency] @param {number} [exponent]
 */
export function showUnitPrice(price, per, currency = 'USD', exponent = 2) {
  if (exponent === 0 || price.compare(Fraction.of(10 ** exponent)) >= 0) {
    return `${show(price.roundHalfUp(), currency, exponent)}/${unitWord(per)}`;
  }
  const tenths = price.roundHalfUp(10n);
  if (currency === 'USD') {
    const sign = tenths < 0 ? '-' : '';
    const digits = String(Math.abs(tenths)).padStart(2, '0');
    return `${sign}${digits.slice(0, -1)}.${digits.slice(-1)}¢/${unitWord(per)}`;
  }
  return `${show(tenths, currency, exponent + 1)}/${unitWord(per)}`;
}
