/**
 * From counted columns to transactions: which unit lies where, which coupon claims which.
 * Twin of `server/engine/packing.py`.
 */

import { entryOf, known } from './entries.js';
import { inOrder, orderMatters, pairwise } from './handing-over.js';
import { floorDivide, roundHalfUp } from './money.js';
import { sorted } from './order.js';
import { regionOf } from './situation.js';
import { holdsOn } from './shelf.js';
import { asksFor, parts, unitsAsked } from './ways.js';

/** @import { Shelf } from './block.js' */
/** @import { Key } from './order.js' */
/** @import { Coupon, Filled, Line, Transaction, Trip, Use } from './types.js' */
/** @import { Column, Slot, Way } from './ways.js' */

// How often a claim is put into another use where the first choices leave one over.
const MOST_TRIES = 2_000;
// Behind every share that a coupon has: no coupon asks for so many units.
const NO_SHARE = 1_000;

/** A unit of a transaction being packed. `group`: tag of the bundle that it came in, or 0.
 * @typedef {{way: Way, group: number}} Placed */

/**
 * One transaction, without tenders, of so many of each column and of each basket coupon.
 * @param {Filled<Trip>} trip @param {Shelf} shelf @param {readonly (readonly [Column, number])[]} counts
 * @param {ReadonlyMap<string, number>} baskets
 * @returns {Filled<Transaction>}
 */
export function pack(trip, shelf, counts, baskets) {
  const store = shelf.counter.store;
  /** @type {Placed[]} */
  const placed = [];
  /** @type {[string, number][]} */
  const groups = [];
  let bundles = 0;
  for (const [column, count] of counts) {
    for (let one = 0; one < count; one += 1) {
      const bundled = column.wholeUses.length > 0;
      bundles += bundled ? 1 : 0;
      for (const [coupon] of column.wholeUses) groups.push([coupon, bundles]);
      const group = bundled ? bundles : 0;
      placed.push(...column.ways.map((way) => ({ way, group })));
    }
  }
  const [belt, lines] = layOut(placed, shelf);
  const uses = usesOf(belt, groups, shelf);
  for (const [coupon, times] of sorted(baskets, ([coupon]) => coupon)) {
    for (let time = 0; time < times; time += 1) uses.push({ coupon, units: [] });
  }
  const usedCoupons = new Set(uses.map((use) => use.coupon));
  /** @type {Map<string, number[]>} */
  const offers = new Map();
  const coupons = new Set(shelf.counter.coupons.map((coupon) => coupon.id));
  belt.forEach((unit, index) => {
    for (const percent of unit.way.percents) {
      if (!coupons.has(percent.source)) {
        offers.set(percent.source, [...(offers.get(percent.source) ?? []), index]);
      }
    }
  });
  const products = new Set(belt.map((unit) => unit.way.product));
  return {
    format: 'counterfoil-transaction-1',
    store,
    day: trip.day,
    products: trip.products.filter((each) => products.has(each.id)),
    prices: sorted(shelf.tags, ([name]) => name).flatMap(([name, tag]) =>
      tag !== null && products.has(name) ? [tag] : [],
    ),
    lines,
    coupons: shelf.counter.coupons.filter((each) => usedCoupons.has(each.id)),
    percent_offers: shelf.counter.offers.filter((each) => offers.has(each.id)),
    rewards: trip.rewards.filter(
      (reward) =>
        reward.store === store.id &&
        holdsOn(trip.day, reward.from_date, reward.until) &&
        [...products].some((product) => asksFor(reward.products, product)),
    ),
    rain_checks: shelf.counter.rainChecks.filter((check) =>
      belt.some((unit) => unit.way.level.rainCheck === check.id),
    ),
    uses,
    offer_uses: offerUses(belt, offers, shelf),
    tenders: [],
    earned_before: {},
    region: regionOf(trip, store),
    currency: trip.currency,
    exponent: trip.exponent,
  };
}

/**
 * Percent offers in the order in which they were reckoned.
 * @param {readonly Placed[]} belt @param {ReadonlyMap<string, number[]>} offers @param {Shelf} shelf
 */
function offerUses(belt, offers, shelf) {
  const uses = sorted(offers, ([offer]) => offer).map(([offer, units]) => ({ offer, units }));
  const isOrdered = shelf.counter.store.rules.percent_base === 'left';
  const before = (isOrdered ? belt : []).flatMap(({ way }) => {
    const own = way.percents.map(({ source }) => uses.findIndex(({ offer }) => offer === source));
    return pairwise(own.filter((place) => place >= 0));
  });
  return inOrder(uses, before);
}

/**
 * Units in belt order, each where the register gives it its price.
 * @param {readonly Placed[]} placed @param {Shelf} shelf
 * @returns {[Placed[], Filled<Line>[]]}
 */
function layOut(placed, shelf) {
  /** @type {Placed[]} */
  const belt = [];
  for (const members of runs(placed, shelf)) {
    const checked = members.filter((unit) => unit.way.level.rainCheck);
    belt.push(...inPlace(members.filter((unit) => !unit.way.level.rainCheck), shelf));
    belt.push(...sorted(checked, (unit) => [unit.way.product, unit.way.level.rainCheck, ...lateness(unit, shelf)]));
  }
  /** @type {Filled<Line>[]} */
  const lines = [];
  for (const { way } of belt) {
    const [product, check] = [way.product, way.level.rainCheck || null];
    const last = lines.at(-1);
    if (last !== undefined && last.product === product && last.rain_check === check) last.units += 1;
    else lines.push({ product, units: 1, rain_check: check });
  }
  return [belt, lines];
}

/**
 * How late a unit comes among equally cheap ones.
 *
 * The register reduces the last on the belt, store coupons first. Shares of a coupon's value are dealt out in
 * belt order, so units without a share lie behind.
 * @param {Placed} unit @param {Shelf} shelf
 * @returns {readonly (string | number | boolean)[]}
 */
function lateness(unit, shelf) {
  const coupons = new Map(shelf.counter.coupons.map((coupon) => [coupon.id, coupon]));
  const free = unit.way.slots.filter((slot) => slot.free).map((slot) => coupons.get(slot.coupon)?.issuer);
  const shares = unit.way.slots
    .filter((slot) => ['cents_off', 'fixed_price'].includes(coupons.get(slot.coupon)?.gives.kind ?? ''))
    .map((slot) => slot.part);
  const part = Math.min(NO_SHARE, ...shares);
  return [free.includes('store'), free.includes('manufacturer'), unit.group, part, unit.way.key];
}

/**
 * Units that lie together: of one product, or of products whose tags pair.
 * @param {readonly Placed[]} placed @param {Shelf} shelf
 */
function runs(placed, shelf) {
  const tax = shelf.counter.store.tax;
  /** @type {Map<string, Placed[]>} */
  const found = new Map();
  for (const unit of placed) {
    const deal = known(shelf.tags, unit.way.product)?.deal;
    const mix = deal?.kind === 'buy_one_get_one' ? deal.mix : '';
    entryOf(found, mix ? `mix ${mix}` : `only ${unit.way.product}`, () => []).push(unit);
  }
  /** @param {readonly Placed[]} units */
  const untaxed = (units) =>
    units.every((unit) => !(tax.rates[known(shelf.products, unit.way.product).tax_class] > 0));
  return sorted(found, ([name, units]) => [untaxed(units), name]).map(([, units]) => units);
}

/**
 * The (tag cents, role) of the k-th unit of a run, by the deal of its tags.
 * @param {readonly Placed[]} units @param {Shelf} shelf
 * @returns {[number, string][]}
 */
function places(units, shelf) {
  const tags = units.flatMap((unit) => known(shelf.tags, unit.way.product) ?? []);
  const prices = tags.map((tag) => tag.cents).sort((one, other) => other - one);
  const deal = tags.length > 0 ? tags[0].deal : null;
  switch (deal?.kind) {
    case 'buy_one_get_one':
      return prices.map((price, k) => [price, k % 2 === 1 ? 'reduced' : 'full']);
    case 'n_for_m': {
      const { n, cents, must_buy: mustBuy } = deal;
      const grouped = mustBuy ? units.length - (units.length % n) : units.length;
      const odd = cents % n;
      /** @param {number} k */
      const isFirst = (k) => -floorDivide(-odd * (k + 1), n) > -floorDivide(-odd * k, n);
      return prices.map((price, k) => [price, k >= grouped ? 'rest' : isFirst(k) ? 'first' : 'group']);
    }
    case undefined:
      return prices.map((price) => [price, 'plain']);
  }
}

/**
 * Units of a run in the order in which role and rounded percents fall to them.
 * @param {readonly Placed[]} units @param {Shelf} shelf
 */
function inPlace(units, shelf) {
  const left = sorted(units, (unit) => lateness(unit, shelf));
  const perLine = shelf.counter.store.rules.percent_rounding === 'line';
  /** @type {Map<string, number>} */
  const running = new Map();
  /** @type {Placed[]} */
  const answer = [];
  for (const [price, role] of places(units, shelf)) {
    const same = left.filter((unit) => fits(unit, price, role, shelf));
    const fitting = same.length > 0 ? same : left;
    const chosen = fitting.find((unit) => !perLine || fallsHere(unit.way, running)) ?? fitting[0];
    for (const percent of chosen.way.percents) {
      const key = lineKey(percent.source, chosen.way.product);
      running.set(key, (running.get(key) ?? 0) + percent.base * percent.bp);
    }
    left.splice(left.indexOf(chosen), 1);
    answer.push(chosen);
  }
  return answer;
}

/** A percent discount on the line of a product, as the key of a map.
 * @param {string} source @param {string} product */
const lineKey = (source, product) => `${source} ${product}`;

/** @param {Placed} unit @param {number} price @param {string} role @param {Shelf} shelf */
const fits = (unit, price, role, shelf) =>
  known(shelf.tags, unit.way.product)?.cents === price && unit.way.level.role === role;

/**
 * Whether the next unit's share of each line discount is the one that the way reckons with.
 * @param {Way} way @param {ReadonlyMap<string, number>} running
 */
function fallsHere(way, running) {
  return way.percents.every((percent) => {
    const before = running.get(lineKey(percent.source, way.product)) ?? 0;
    const after = before + percent.base * percent.bp;
    return roundHalfUp(after, 10_000) - roundHalfUp(before, 10_000) === percent.cents;
  });
}

/** A unit that a use claims: its `place` on the belt, and which of its way's slots that fills.
 * @typedef {{place: number, nth: number, slot: Slot}} Claim */

/** A coupon and the units that one use of it claims. @typedef {readonly [Filled<Coupon>, readonly Claim[]]} Claiming */

/**
 * Uses of unit coupons in handing-over order: store coupons first, those to be multiplied
 * before those that are not.
 * @param {readonly Placed[]} belt @param {readonly [string, number][]} groups @param {Shelf} shelf
 * @returns {Filled<Use>[]}
 */
function usesOf(belt, groups, shelf) {
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
