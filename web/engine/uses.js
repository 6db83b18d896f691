/**
 * Uses of coupons and percent offers in a packed transaction: which units each claims, and in which order they are
 * handed over. Twin of `server/engine/uses.py`.
 */

import { entryOf, known } from './entries.js';
import { inOrder, orderMatters, pairwise } from './handing-over.js';
import { floorDivide } from './money.js';
import { sorted } from './order.js';
import { parts, unitsAsked } from './ways.js';

/** @import { Shelf } from './block.js' */
/** @import { Key } from './order.js' */
/** @import { Coupon, Filled, Use } from './types.js' */
/** @import { Slot, Way } from './ways.js' */

// How often a claim is put into another use where the first choices leave one over.
const MOST_TRIES = 2_000;

/** A unit of a transaction being packed. `group`: tag of the bundle that it came in, or 0.
 * @typedef {{way: Way, group: number}} Placed */

/** A unit that a use claims: its `place` on the belt, and which of its way's slots that fills.
 * @typedef {{place: number, nth: number, slot: Slot}} Claim */

/** A coupon and the units that one use of it claims. @typedef {readonly [Filled<Coupon>, readonly Claim[]]} Claiming */

/**
 * Uses of unit coupons in handing-over order: store coupons first, those to be multiplied
 * before those that are not.
 * @param {readonly Placed[]} belt @param {readonly [string, number][]} groups @param {Shelf} shelf
 * @returns {Filled<Use>[]}
 */
export function usesOf(belt, groups, shelf) {
  const claims = [...belt.entries()].flatMap(([place, { way }]) => {
    return [...way.slots.entries()].map(([nth, slot]) => ({ place, nth, slot }));
  });
  const held = new Map(shelf.counter.coupons.map((coupon) => [coupon.id, coupon]));
  /** @type {Claiming[]} */
  const uses = groups.map(([coupon, group]) => [
    known(held, coupon),
    claims.filter(({ place, slot }) => slot.coupon === coupon && slot.part < 0 && belt[place].group === group),
  ]);
  for (const coupon of shelf.counter.coupons) {
    for (const multiplied of [true, false]) {
      const own = claims.filter(
        ({ slot }) => slot.coupon === coupon.id && slot.multiplied === multiplied && slot.part >= 0,
      );
      uses.push(...grouped(coupon, own, shelf).map((members) => /** @type {Claiming} */ ([coupon, members])));
    }
  }
  const ordered = sorted(uses, ([coupon, members]) => [handOver(coupon, members), byLeg(members)]);
  const before = oneBeforeTheOther(ordered, belt, held);
  return inOrder(ordered, before).map(([coupon, members]) => ({ coupon: coupon.id, units: byLeg(members) }));
}

/**
 * Places of uses of which the first must be handed over before the second: so it was reckoned on a unit that
 * they share.
 * @param {readonly Claiming[]} uses @param {readonly Placed[]} belt
 * @param {ReadonlyMap<string, Filled<Coupon>>} held
 */
function oneBeforeTheOther(uses, belt, held) {
  const useOf = new Map(
    [...uses.entries()].flatMap(([number, [, members]]) => {
      return members.map(({ place, nth }) => /** @type {const} */ ([`${place} ${nth}`, number]));
    }),
  );
  return [...belt.entries()].flatMap(([place, { way }]) => {
    /** @type {Map<string, number[]>} */
    const steps = new Map();
    for (const [nth, slot] of way.slots.entries()) {
      const coupon = known(held, slot.coupon);
      const isInStep2 = coupon.issuer === 'store' && coupon.gives.kind === 'percent_off';
      entryOf(steps, `${coupon.issuer} ${isInStep2}`, () => []).push(nth);
    }
    return [...steps.values()].flatMap((step) => {
      if (!orderMatters(step.map((nth) => known(held, way.slots[nth].coupon)))) return [];
      return pairwise(step.flatMap((nth) => useOf.get(`${place} ${nth}`) ?? []));
    });
  });
}

/** @param {Filled<Coupon>} coupon @param {readonly Claim[]} members @returns {Key} */
function handOver(coupon, members) {
  const multiplied = members.some(({ slot }) => slot.multiplied);
  return [coupon.issuer === 'store' ? 0 : 1, multiplied ? 0 : 1, coupon.id];
}

/**
 * The units of each use: with a free unit, the dearest paid ones beside the dearest free
 * one, so that the free one is the cheapest of its use; else shares in belt order.
 * @param {Filled<Coupon>} coupon @param {readonly Claim[]} claims @param {Shelf} shelf
 * @returns {Claim[][]}
 */
function grouped(coupon, claims, shelf) {
  if (claims.length === 0) return [];
  const kinds = parts(coupon, shelf.counter, claims[0].slot.multiplied);
  const uses = Array.from({ length: floorDivide(claims.length, unitsAsked(coupon)) }, () => ({
    members: /** @type {Claim[]} */ ([]),
    legs: coupon.asks.map((ask) => ask.units),
    shares: kinds.map((kind) => kind.count),
  }));
  const ordered = sorted(claims, ({ place, slot }) => [!slot.free, -slot.leftBefore, slot.part, place]);
  let tries = MOST_TRIES;
  /** @param {number} number @returns {boolean} */
  const filled = (number) => {
    if (number === ordered.length) return true;
    const claim = ordered[number];
    const { leg, part } = claim.slot;
    for (const { members, legs, shares } of uses) {
      if (legs[leg] === 0 || shares[part] === 0) continue;
      if (members.some(({ place }) => place === claim.place)) continue;
      tries -= 1;
      members.push(claim);
      legs[leg] -= 1;
      shares[part] -= 1;
      if (tries < 0 || filled(number + 1)) return true;
      members.pop();
      legs[leg] += 1;
      shares[part] += 1;
    }
    return false;
  };
  filled(0);
  // What cannot be handed over is not: the register then says what that costs.
  return uses.map(({ members }) => members).filter(({ length }) => length === unitsAsked(coupon));
}

/** Claimed units, requirement by requirement, each in belt order. @param {readonly Claim[]} members */
const byLeg = (members) =>
  sorted(members, ({ place, slot }) => [slot.leg, place]).map(({ place }) => place);

/**
 * Percent offers in the order in which they were reckoned.
 * @param {readonly Placed[]} belt @param {ReadonlyMap<string, number[]>} offers @param {Shelf} shelf
 */
export function offerUsesOf(belt, offers, shelf) {
  const uses = sorted(offers, ([offer]) => offer).map(([offer, units]) => ({ offer, units }));
  const isOrdered = shelf.counter.store.rules.percent_base === 'left';
  const before = (isOrdered ? belt : []).flatMap(({ way }) => {
    const own = way.percents.map(({ source }) => uses.findIndex(({ offer }) => offer === source));
    return pairwise(own.filter((place) => place >= 0));
  });
  return inOrder(uses, before);
}
