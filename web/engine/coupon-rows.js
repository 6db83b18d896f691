/**
 * Coupons in the program: which units a use claims together, and how many uses a transaction takes.
 * Twin of `server/engine/coupon_rows.py`.
 */

import { sum } from './belt.js';
import { entryOf, known } from './entries.js';
import { sorted } from './order.js';
import { Sum, added, one } from './program.js';
import { parts, unitsAsked } from './ways.js';

/** @import { Block, Placed, Shelf } from './block.js' */
/** @import { Program } from './program.js' */
/** @import { Coupon, Filled, FreeItem } from './types.js' */
/** @import { Slot } from './ways.js' */

/** Slots of a use go together; limits per transaction; how many the house multiplies.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf */
export function couponUses(program, block, placed, shelf) {
  const rules = shelf.counter.store.rules;
  /** @type {Map<string, [number, Slot][]>} */
  const slots = new Map();
  /** @type {Map<string, Map<number, number[]>>} */
  const often = new Map();
  for (const [variable, way] of placed) {
    /** @type {Map<string, number>} */
    const own = new Map();
    for (const slot of way.slots.filter(({ part }) => part >= 0)) {
      const use = variantOf(slot.coupon, slot.multiplied);
      entryOf(slots, use, () => []).push([variable, slot]);
      own.set(use, (own.get(use) ?? 0) + 1);
    }
    for (const [use, count] of own) {
      if (count > 1) entryOf(entryOf(often, use, () => new Map()), count, () => []).push(variable);
    }
  }
  /** @type {Map<string, Sum>} */
  const wholes = new Map();
  for (const [place, column] of shelf.columns.entries()) {
    for (const [coupon, multiplied] of column.wholeUses) {
      entryOf(wholes, variantOf(coupon, multiplied), () => new Sum()).add(block.columns[place], 1);
    }
  }
  let multiplied = new Sum();
  for (const coupon of shelf.counter.coupons) {
    if (coupon.gives.kind === 'basket_off') continue;
    let total = new Sum();
    for (const variant of [false, true]) {
      let times = wholes.get(variantOf(coupon.id, variant)) ?? new Sum();
      const own = slots.get(variantOf(coupon.id, variant));
      const several = often.get(variantOf(coupon.id, variant)) ?? new Map();
      if (own !== undefined) times = times.plus(uses(program, coupon, variant, own, several, shelf));
      total = total.plus(times);
      if (variant) multiplied = multiplied.plus(times);
    }
    if (total.terms.size === 0) continue;
    block.uses.set(coupon.id, total);
    const like = rules.like_coupons_per_transaction ?? Infinity;
    const limit = Math.min(coupon.per_transaction ?? Infinity, like);
    if (limit < coupon.copies) program.require(total, { high: limit });
  }
  const most = rules.multiplying?.per_transaction ?? null;
  if (most !== null && multiplied.terms.size > 0) program.require(multiplied, { high: most });
}

/** A coupon, multiplied or not, as the key of a map. @param {string} coupon @param {boolean} multiplied */
const variantOf = (coupon, multiplied) => `${coupon} ${multiplied}`;

/**
 * How many times the coupon is used (multiplied or not), its slots tied together.
 * @param {Program} program @param {Filled<Coupon>} coupon @param {boolean} multiplied
 * @param {readonly [number, Slot][]} slots @param {ReadonlyMap<number, number[]>} often as `noUnitTwice` has it
 * @param {Shelf} shelf
 */
function uses(program, coupon, multiplied, slots, often, shelf) {
  if (unitsAsked(coupon) === 1) {
    const single = new Sum();
    for (const [variable] of slots) single.add(variable, 1);
    return single;
  }
  const times = program.variable(0, coupon.copies);
  for (const [index, part] of parts(coupon, shelf.counter, multiplied).entries()) {
    const filled = new Sum();
    for (const [variable, slot] of slots) filled.add(variable, Number(slot.part === index));
    program.require(filled.plus(one(times), -part.count), { low: 0, high: 0 });
  }
  for (const [leg, ask] of coupon.asks.length > 1 ? coupon.asks.entries() : []) {
    const filled = new Sum();
    for (const [variable, slot] of slots) filled.add(variable, Number(slot.leg === leg));
    program.require(filled.plus(one(times), -ask.units), { low: 0, high: 0 });
  }
  noUnitTwice(program, times, often);
  if (coupon.gives.kind === 'free_item') cheapestIsFree(program, coupon, coupon.gives, slots);
  return one(times);
}

/**
 * Where a unit fills so many slots of a coupon, there are as many uses: a use claims no unit twice.
 * @param {Program} program @param {number} times
 * @param {ReadonlyMap<number, number[]>} often variables of such units, by how many slots they fill
 */
function noUnitTwice(program, times, often) {
  for (const [count, ways] of sorted(often, ([count]) => count)) {
    const some = program.variable(0, 1);
    const most = sum(ways.map((variable) => program.upper[variable]));
    program.require(added(ways.map((variable) => one(variable))).plus(one(some), -most), { high: 0 });
    program.require(one(times).plus(one(some), -count), { low: 0 });
  }
}

/**
 * The free unit of a use is its cheapest: at any price, the units paid at or above it must
 * be enough for the free ones at or above it.
 * @param {Program} program @param {Filled<Coupon>} coupon @param {Filled<FreeItem>} gives
 * @param {readonly [number, Slot][]} slots
 */
function cheapestIsFree(program, coupon, gives, slots) {
  const rivals = slots.filter(([, slot]) => gives.leg === null || slot.leg === gives.leg);
  const beside = (gives.leg === null ? unitsAsked(coupon) : coupon.asks[gives.leg].units) - 1;
  if (beside === 0) return;
  const free = rivals.filter(([, slot]) => slot.free).map(([, slot]) => slot.leftBefore);
  for (const price of sorted(new Set(free), (cents) => cents)) {
    const balance = new Sum();
    for (const [variable, slot] of rivals) {
      if (slot.leftBefore >= price) balance.add(variable, slot.free ? -beside : 1);
    }
    program.require(balance, { low: 0 });
  }
}

/** No more manufacturer coupons than items, those on the basket counted in. With one coupon on a unit
 * only basket coupons can be too many; apart, the items of other clusters count for them too.
 * @param {Program} program @param {Block} block @param {Shelf} shelf @param {boolean} apart */
export function couponsWithinItems(program, block, shelf, apart) {
  const rules = shelf.counter.store.rules;
  const makers = shelf.counter.coupons.filter(
    (coupon) => coupon.issuer === 'manufacturer' && block.uses.has(coupon.id),
  );
  const onBasket = makers.some((coupon) => coupon.gives.kind === 'basket_off') && !apart;
  if (rules.coupons_no_more_than_items && (onBasket || rules.manufacturer_coupons_per_unit > 1)) {
    const uses = added(makers.map((coupon) => known(block.uses, coupon.id)));
    program.require(added(block.units.values()).plus(uses, -1), { low: 0 });
  }
}
