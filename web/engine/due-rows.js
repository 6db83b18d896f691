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
/** @import { Filled, Tax } from './types.js' */
/** @import { Way } from './ways.js' */

const MOST_CENTS = 2 ** 30;

/** Merchandise and tax of a cluster by itself, never more than its part of the whole.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {readonly Basket[]} baskets */
export function reckonedApart(program, block, placed, shelf, baskets) {
  const { tax } = shelf.counter.store;
  const { basis, rates } = tax;
  for (const [variable, way] of placed) {
    block.merchandise.add(variable, way.cost);
    const rate = rateOf(rates, taxClassOf(way, shelf));
    if (basis === 'item') {
      block.tax.add(variable, APART_SCALE * roundHalfUp(way.taxable * rate, 100_000));
    } else {
      block.tax.add(variable, floorDivide(APART_SCALE * way.taxable * rate, 100_000));
    }
    block.tax.add(variable, -mostSpared(surplusOf(way), tax));
  }
  block.merchandise = block.merchandise.plus(added(baskets.map((basket) => one(basket.cents))), -1);
  for (const basket of baskets) {
    for (const [taxClass, cents] of basket.byClass) {
      const relief = program.variable(0, MOST_CENTS);
      let exact = one(cents, APART_SCALE * rates[taxClass]);
      if (basis === 'item') {
        // Each unit that it is spread over may be rounded down.
        const [units, owed] = taxedByUnit(placed, shelf, taxClass);
        exact = exact.plus(units, APART_SCALE * 100_000);
        program.require(new Sum().plus(owed, APART_SCALE).plus(one(relief), -1), { low: 0 });
      }
      program.require(exact.plus(one(relief), -100_000), { low: -100_000 });
      block.tax.add(relief, -1);
    }
  }
}

/** What overage on a unit takes off what others are taxed on. @param {Way} way */
const surplusOf = (way) => (way.surplusLowersTax ? Math.max(-way.cost, 0) : 0);

/**
 * The most tax that a surplus can spare goods of other clusters, in the cluster's parts of a cent.
 *
 * Where each unit's tax is rounded: a unit that it pays for wholly is spared its tax, which is at most twice
 * the exact one (half a cent may be a whole one), and one that it pays for in part less than a cent more than
 * the exact one.
 * @param {number} surplus @param {Filled<Tax>} tax
 */
function mostSpared(surplus, { basis, rates }) {
  const exact = APART_SCALE * surplus * Math.max(0, ...Object.values(rates));
  if (exact === 0) return 0;
  return basis === 'item' ? APART_SCALE - floorDivide(-2 * exact, 100_000) : -floorDivide(-exact, 100_000);
}

/**
 * The units of a class, and the cents of their tax where each unit's is rounded.
 * @param {Placed} placed @param {Shelf} shelf @param {string} taxClass
 * @returns {[Sum, Sum]}
 */
function taxedByUnit(placed, shelf, taxClass) {
  const [units, owed] = [new Sum(), new Sum()];
  const rate = shelf.counter.store.tax.rates[taxClass];
  for (const [variable, way] of placed) {
    if (taxClassOf(way, shelf) !== taxClass) continue;
    units.add(variable, 1);
    owed.add(variable, roundHalfUp(way.taxable * rate, 100_000));
  }
  return [units, owed];
}

/**
 * Whether no bound is known here for the tax that overage spares goods of other clusters.
 *
 * Where each unit's tax is rounded, and manufacturer coupons do not lower it, a store coupon's overage may pay
 * for units of which less is left than is taxed.
 * @param {Shelf} shelf
 */
export function overageMaySpareMore(shelf) {
  const { basis, treatment } = shelf.counter.store.tax;
  return (
    basis === 'item' &&
    treatment === 'store_funded' &&
    shelf.columns.some((column) => column.ways.some((way) => surplusOf(way) > 0))
  );
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
  for (const [variable, way] of placed) surplus.add(variable, surplusOf(way));
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
 * exact part, and less than a cent for each unit that they touch. A bound in the shopper's favour.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {readonly Basket[]} baskets @param {ReadonlyMap<string, number>} surplus */
function relief(program, block, placed, shelf, baskets, surplus) {
  const { rates, treatment } = shelf.counter.store.tax;
  for (const taxClass of Object.keys(rates).sort(compare)) {
    const onBasket = baskets.flatMap((basket) => basket.byClass.get(taxClass) ?? []);
    const over = surplus.get(taxClass);
    const lowered = added([...onBasket, ...(over === undefined ? [] : [over])].map((each) => one(each)));
    if (lowered.terms.size === 0 || rates[taxClass] === 0) continue;
    const [units, owed] = taxedByUnit(placed, shelf, taxClass);
    const off = program.variable(0, MOST_CENTS);
    program.require(lowered.plus(one(off), -1), { low: 0 });
    program.require(owed.plus(one(off), -1), { low: 0 });
    const exact = new Sum().plus(lowered, rates[taxClass]).plus(units, 100_000);
    program.require(exact.plus(one(off), -100_000), { low: 0 });
    if (onBasket.length === 0) {
      // Overage goes to one unit after the other: each but the last it pays for wholly.
      const left = placed.filter(([variable, way]) => units.terms.has(variable) && way.cost > 0);
      const least = left.length === 0 ? 1 : Math.min(...left.map(([, way]) => way.cost));
      const rounded = treatment === 'all' ? 50_000 : 99_999; // what is left is then what is taxed
      const wholly = new Sum().plus(lowered, rates[taxClass] - floorDivide(-rounded, least));
      program.require(wholly.plus(one(off), -100_000), { low: -99_999 });
    }
    block.tax.add(off, -1);
  }
}

/** The class of tax on a way's product, and its rate. @param {Way} way @param {Shelf} shelf */
export const taxClassOf = (way, shelf) => known(shelf.products, way.product).tax_class;

/** @param {Readonly<Record<string, number>>} rates @param {string} taxClass */
export const rateOf = (rates, taxClass) => (Object.hasOwn(rates, taxClass) ? rates[taxClass] : 0);
