/**
 * What a transaction comes to in the program: merchandise and tax.
 * Twin of `server/engine/due_rows.py`.
 */

import { APART_SCALE } from './block.js';
import { known } from './entries.js';
import { floorDivide, roundHalfUp } from './money.js';
import { compare } from './order.js';
import { Sum, added, one } from './program.js';

/** @import { Basket } from './basket-rows.js' */
/** @import { Block, Placed, Shelf } from './block.js' */
/** @import { Program } from './program.js' */
/** @import { Way } from './ways.js' */

const MOST_CENTS = 2 ** 30;

/** Merchandise and tax of a cluster by itself, never more than its part of the whole.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {readonly Basket[]} baskets */
export function reckonedApart(program, block, placed, shelf, baskets) {
  const { basis, rates } = shelf.counter.store.tax;
  for (const [variable, way] of placed) {
    block.merchandise.add(variable, way.cost);
    const rate = rateOf(rates, taxClassOf(way, shelf));
    if (basis === 'item') {
      block.tax.add(variable, APART_SCALE * roundHalfUp(way.taxable * rate, 100_000));
    } else {
      block.tax.add(variable, floorDivide(APART_SCALE * way.taxable * rate, 100_000));
    }
  }
  block.merchandise = block.merchandise.plus(added(baskets.map((basket) => one(basket.cents))), -1);
  for (const basket of baskets) {
    for (const [taxClass, cents] of basket.byClass) {
      const relief = program.variable(0, MOST_CENTS);
      const exact = one(cents, APART_SCALE * rates[taxClass]);
      program.require(exact.plus(one(relief), -100_000), { low: -100_000 });
      block.tax.add(relief, -1);
    }
  }
}

/**
 * What is paid before tax, and how much of the surplus lowers each taxed class. Where overage goes
 * to the basket, the merchandise stops at zero.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {readonly Basket[]} baskets
 * @returns {Map<string, number>}
 */
export function merchandise(program, block, placed, shelf, baskets) {
  let total = new Sum();
  for (const [variable, way] of placed) total.add(variable, way.cost);
  total = total.plus(added(baskets.map((basket) => one(basket.cents))), -1);
  if (placed.every(([, way]) => way.cost >= 0)) {
    block.merchandise = total;
    return new Map();
  }
  const paid = program.variable(0, MOST_CENTS);
  program.require(one(paid).plus(total, -1), { low: 0 });
  // The greater of the two and no more: no receipt is kept up to a rebate's least by paying too much.
  const nothing = program.variable(0, 1);
  let most = shelf.mostUnits * Math.max(0, ...placed.map(([, way]) => Math.abs(way.cost)));
  for (const basket of baskets) most += program.upper[basket.cents];
  program.require(one(paid).plus(total, -1).plus(one(nothing), -most), { high: 0 });
  program.require(one(paid).plus(one(nothing), most), { high: most });
  block.merchandise = one(paid);
  const { rates } = shelf.counter.store.tax;
  const surplus = new Sum();
  for (const [variable, way] of placed) {
    if (way.surplusLowersTax) surplus.add(variable, Math.max(-way.cost, 0));
  }
  const taxed = Object.keys(rates).sort(compare).filter((each) => rates[each] !== 0);
  if (surplus.terms.size === 0 || taxed.length === 0) return new Map();
  const spread = new Map(taxed.map((each) => [each, program.variable(0, MOST_CENTS)]));
  program.require(surplus.plus(added([...spread.values()].map((each) => one(each))), -1), { low: 0 });
  return spread;
}

/** Step 6: rounded once, per transaction and class or per unit.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {readonly Basket[]} baskets @param {ReadonlyMap<string, number>} surplus */
export function taxDue(program, block, placed, shelf, baskets, surplus) {
  const { basis, rates } = shelf.counter.store.tax;
  if (basis === 'item') {
    for (const [variable, way] of placed) {
      const rate = rateOf(rates, taxClassOf(way, shelf));
      block.tax.add(variable, roundHalfUp(way.taxable * rate, 100_000));
    }
    relief(program, block, placed, shelf, baskets, surplus);
    return;
  }
  for (const taxClass of Object.keys(rates).sort(compare)) {
    const rate = rates[taxClass];
    const base = new Sum();
    for (const [variable, way] of placed) {
      if (rate && taxClassOf(way, shelf) === taxClass) base.add(variable, way.taxable);
    }
    if (base.terms.size === 0) continue;
    for (const basket of baskets) {
      const off = basket.byClass.get(taxClass);
      if (off !== undefined) base.add(off, -1);
    }
    const over = surplus.get(taxClass);
    if (over !== undefined) base.add(over, -1);
    const cents = program.variable(0, MOST_CENTS);
    // floor((rate * base + 50000) / 100000), and no more: a slip must not be fed with tax.
    program.require(one(cents, 100_000).plus(base, -rate), { low: -49_999, high: 50_000 });
    block.tax.add(cents, 1);
  }
}

/** The most that basket coupons and overage can take off a tax that is rounded per unit: the
 * exact part, and less than a cent for each unit. A bound in the shopper's favour.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {readonly Basket[]} baskets @param {ReadonlyMap<string, number>} surplus */
function relief(program, block, placed, shelf, baskets, surplus) {
  const { rates } = shelf.counter.store.tax;
  for (const taxClass of Object.keys(rates).sort(compare)) {
    const lowered = added(
      [...baskets.map((basket) => basket.byClass.get(taxClass)), surplus.get(taxClass)]
        .filter((variable) => variable !== undefined)
        .map((variable) => one(variable)),
    );
    if (lowered.terms.size === 0 || rates[taxClass] === 0) continue;
    const [units, cents] = [new Sum(), new Sum()];
    for (const [variable, way] of placed) {
      if (taxClassOf(way, shelf) === taxClass) {
        units.add(variable, 1);
        cents.add(variable, roundHalfUp(way.taxable * rates[taxClass], 100_000));
      }
    }
    const off = program.variable(0, MOST_CENTS);
    program.require(lowered.plus(one(off), -1), { low: 0 });
    program.require(cents.plus(one(off), -1), { low: 0 });
    const exact = new Sum().plus(lowered, rates[taxClass]).plus(units, 100_000);
    program.require(exact.plus(one(off), -100_000), { low: 0 });
    block.tax.add(off, -1);
  }
}

/** The class of tax on a way's product, and its rate. @param {Way} way @param {Shelf} shelf */
export const taxClassOf = (way, shelf) => known(shelf.products, way.product).tax_class;

/** @param {Readonly<Record<string, number>>} rates @param {string} taxClass */
export const rateOf = (rates, taxClass) => (Object.hasOwn(rates, taxClass) ? rates[taxClass] : 0);
