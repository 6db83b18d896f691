/**
 * Room: how many units, offers and coupons can stand together in one transaction at most.
 * Twin of `server/engine/room.py`, which tells why.
 */

import { sum } from './belt.js';
import { mostWelcome } from './situation.js';
import { multiplications } from './unit-states.js';
import { asksFor, parts } from './ways.js';

/** @import { Filled, Want } from './types.js' */
/** @import { UnitState } from './unit-states.js' */
/** @import { Counter, Level, Offered } from './ways.js' */

/** A unit in a bundle. @typedef {{product: string, level: Level, unit: UnitState}} Member */

/**
 * What one transaction has room for. `limits`: the most units per mark; what is not named has
 * no limit. `takers`: the want of each product that only one want takes.
 */
export class Room {
  /** @param {ReadonlyMap<string, number>} limits @param {ReadonlyMap<string, string>} takers */
  constructor(limits, takers) {
    this.limits = limits;
    this.takers = takers;
  }

  /** Whether these units, and perhaps others, can go through the register together.
   * @param {readonly Member[]} members */
  holds(members) {
    /** @type {Map<string, number>} */
    const counts = new Map();
    for (const member of members) {
      for (const mark of this.#marks(member)) {
        const count = (counts.get(mark) ?? 0) + 1;
        counts.set(mark, count);
        if (count > (this.limits.get(mark) ?? count)) return false;
      }
    }
    return true;
  }

  /** Everything of which a unit takes one. @param {Member} member */
  #marks({ product, level, unit }) {
    const marks = [`product ${product}`];
    const taker = this.takers.get(product);
    if (taker !== undefined) marks.push(`want ${taker}`);
    if (!level.rainCheck) marks.push(`tag ${product}`);
    marks.push(...unit.percents.map((percent) => `offer ${percent.source}`));
    marks.push(...unit.slots.map((slot) => `slot ${slot.part} ${slot.coupon}`));
    return marks;
  }
}

/**
 * The room at a counter for what the wants welcome.
 * @param {Counter} counter @param {readonly Offered[]} products each with its tag
 * @param {readonly Filled<Want>[]} wants
 */
export function roomAt(counter, products, wants) {
  /** @type {Map<string, number>} */
  const limits = new Map();
  /** @type {Map<string, string>} */
  const takers = new Map();
  for (const [{ id }, tag] of products) {
    const own = wants.filter((want) => want.products.includes(id));
    limits.set(`product ${id}`, sum(own.map(mostWelcome)));
    if (own.length === 1) takers.set(id, own[0].id);
    if (tag !== null && tag.per_transaction !== null) limits.set(`tag ${id}`, tag.per_transaction);
  }
  for (const want of wants) limits.set(`want ${want.id}`, mostWelcome(want));
  for (const offer of counter.offers) {
    if (offer.units_per_transaction !== null) limits.set(`offer ${offer.id}`, offer.units_per_transaction);
  }
  for (const coupon of counter.coupons) {
    const asked = coupon.asks.some((ask) => products.some(([product]) => asksFor(ask.products, product.id)));
    if (coupon.gives.kind === 'basket_off' || !asked) continue;
    const most = [coupon.copies, coupon.per_transaction, counter.store.rules.like_coupons_per_transaction];
    const uses = Math.min(...most.filter((each) => each !== null));
    for (const multiplied of multiplications(coupon, counter)) {
      for (const [index, part] of parts(coupon, counter, multiplied).entries()) {
        const mark = `slot ${index} ${coupon.id}`;
        limits.set(mark, Math.max(uses * part.count, limits.get(mark) ?? 0));
      }
    }
  }
  return new Room(limits, takers);
}
