/**
 * Basket coupons in the program: a spend to reach, and a value no larger than what is left.
 * Twin of `server/engine/basket_rows.py`.
 */

import { rateOf } from './due-rows.js';
import { sorted } from './order.js';
import { Sum, added, one } from './program.js';
import { asksFor } from './ways.js';

/** @import { Block, Placed, Shelf } from './block.js' */
/** @import { Program } from './program.js' */
/** @import { Coupon, Filled, Measure } from './types.js' */
/** @import { Counter, Way } from './ways.js' */

/** @type {readonly Measure[]} */
export const MEASURES = Object.freeze(['before_coupons', 'after_store_coupons', 'after_all_coupons']);

/** A basket coupon in one transaction: the cents it takes off, and off each taxed class.
 * @typedef {{coupon: Filled<Coupon>, cents: number, byClass: Map<string, number>}} Basket */

/**
 * What a unit adds to a spend. The surplus of overage falls on no unit that is known here; where
 * all goods count it is taken off, else it is left out in the shopper's favour.
 * @param {Way} way @param {Measure} measure @param {readonly string[]} products @param {Shelf} shelf
 * @param {boolean} apart
 */
export function spendOf(way, measure, products, shelf, apart) {
  const everything = !apart && [...shelf.products.keys()].every((each) => asksFor(products, each));
  return measure === 'after_all_coupons' && everything ? way.cost : way.spends[MEASURES.indexOf(measure)];
}

/**
 * A spend, or 0 where more surplus than goods would make it less.
 * @param {Program} program @param {Sum} spend @param {Placed} placed @param {Shelf} shelf
 */
export function neverBelowZero(program, spend, placed, shelf) {
  const terms = [...spend.terms];
  if (terms.every(([, value]) => value >= 0) || placed.every(([, way]) => way.cost >= 0)) return spend;
  let most = 0;
  for (const [, way] of placed) most = Math.max(most, Math.abs(way.cost), way.level.cents);
  most *= shelf.mostUnits;
  for (const [variable, value] of terms) if (value === -1) most += program.upper[variable];
  const [nothing, reached] = [program.variable(0, 1), program.variable(0, most)];
  program.require(spend.plus(one(reached), -1).plus(one(nothing), most), { low: 0 });
  program.require(one(reached).plus(one(nothing), most), { high: most });
  return one(reached);
}

/**
 * Whether the surplus of overage lowers an unknown part of what a basket coupon counts.
 * @param {Filled<Coupon>} coupon @param {Counter} counter @param {readonly string[]} products
 */
export const surplusMayMiss = (coupon, counter, products) =>
  coupon.gives.kind === 'basket_off' &&
  coupon.gives.measure === 'after_all_coupons' &&
  counter.store.rules.overage === 'basket' &&
  !products.every((each) => asksFor(coupon.asks[0].products, each));

/**
 * Step 5: a threshold to reach, a value no larger than what is left.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {boolean} apart
 * @returns {Basket[]}
 */
export function basketCoupons(program, block, placed, shelf, apart) {
  const rules = shelf.counter.store.rules;
  /** @type {Basket[]} */
  const found = [];
  /** @type {Sum[]} */
  const allUses = [];
  const alone = shelf.counter.coupons.filter((coupon) => coupon.gives.kind === 'basket_off').length === 1;
  for (const coupon of shelf.counter.coupons) {
    const gives = coupon.gives;
    if (gives.kind !== 'basket_off' || rules.basket_coupons_per_transaction === 0) continue;
    const eligible = coupon.asks[0].products;
    const [spend, left] = [new Sum(), new Sum()];
    for (const [variable, way] of placed) {
      if (asksFor(eligible, way.product)) {
        spend.add(variable, spendOf(way, gives.measure, eligible, shelf, apart));
        left.add(variable, Math.max(way.cost, 0));
      }
      if (!apart && surplusMayMiss(coupon, shelf.counter, [...shelf.products.keys()])) {
        // All of it may fall on what the coupon counts: then it must reach its spend even so.
        spend.add(variable, -Math.max(-way.cost, 0));
      }
    }
    const most = Math.min(
      coupon.copies,
      rules.basket_coupons_per_transaction,
      coupon.per_transaction ?? coupon.copies,
      rules.like_coupons_per_transaction ?? coupon.copies,
    );
    const times = program.variable(0, most);
    const anyUse = program.variable(0, 1);
    const cents = program.variable(0, most * gives.cents);
    program.require(one(times).plus(one(anyUse), -most), { high: 0 });
    const counted = neverBelowZero(program, spend, placed, shelf);
    program.require(counted.plus(one(anyUse), -gives.from_cents), { low: 0 });
    program.require(one(cents).plus(one(times), -gives.cents), { high: 0 });
    program.require(left.plus(one(cents), -1), { low: 0 });
    if (alone && rules.overage !== 'basket') {
      wholeValue(program, one(cents), one(times, gives.cents), left, shelf.mostUnits);
    }
    block.basketUses.set(coupon.id, one(times));
    block.uses.set(coupon.id, one(times));
    allUses.push(one(times));
    found.push({ coupon, cents, byClass: basketByClass(program, coupon, cents, shelf) });
  }
  if (found.length > 1 || found.some((basket) => basket.coupon.copies > 1)) {
    program.require(added(allUses), { high: rules.basket_coupons_per_transaction });
    const left = new Sum();
    for (const [variable, way] of placed) left.add(variable, Math.max(way.cost, 0));
    program.require(left.plus(added(found.map((basket) => one(basket.cents))), -1), { low: 0 });
  }
  return found;
}

/**
 * A basket coupon takes its whole value or all that is left: by half of one no receipt is kept up
 * to a threshold, nor what is due to a slip.
 * @param {Program} program @param {Sum} cents @param {Sum} value @param {Sum} left
 * @param {number} mostUnits
 */
function wholeValue(program, cents, value, left, mostUnits) {
  const most = Math.max(0, ...[...cents.terms.keys()].map((variable) => program.upper[variable]));
  const mostLeft = mostUnits * Math.max(0, ...left.terms.values());
  const allLeft = program.variable(0, 1);
  program.require(cents.plus(value, -1).plus(one(allLeft), most), { low: 0 });
  program.require(cents.plus(left, -1).plus(one(allLeft), -mostLeft), { low: 0 - mostLeft });
}

/**
 * How much of a basket coupon lowers each taxed class.
 * @param {Program} program @param {Filled<Coupon>} coupon @param {number} cents @param {Shelf} shelf
 * @returns {Map<string, number>}
 */
function basketByClass(program, coupon, cents, shelf) {
  const { treatment, rates } = shelf.counter.store.tax;
  const lowers = treatment === 'all' || (treatment === 'store_funded' && coupon.issuer === 'store');
  if (!lowers || coupon.gives.kind !== 'basket_off') return new Map();
  const eligible = [...shelf.products.values()].filter((product) =>
    asksFor(coupon.asks[0].products, product.id),
  );
  const classes = sorted(new Set(eligible.map((product) => product.tax_class)), (each) => each);
  const taxed = classes.filter((each) => rateOf(rates, each) !== 0);
  if (classes.length === 1) return new Map(taxed.map((each) => [each, cents]));
  const most = program.upper[cents];
  const spread = new Map(taxed.map((each) => [each, program.variable(0, most)]));
  program.require(one(cents, -1).plus(added([...spread.values()].map((each) => one(each)))), { high: 0 });
  return spread;
}
