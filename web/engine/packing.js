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

/**
 * Uses of unit coupons in handing-over order: store coupons first, those to be multiplied
 * before those that are not.
 * @param {readonly Placed[]} belt @param {readonly [string, number][]} groups @param {Shelf} shelf
 * @returns {Filled<Use>[]}
 */
function usesOf(belt, groups, shelf) {
  /** @type {{place: Key, use: Filled<Use>}[]} */
  const uses = [];
  /** @type {Set<string>} */
  const bundled = new Set();
  /** @param {string} id */
  const held = (id) => /** @type {Filled<Coupon>} */ (shelf.counter.coupons.find((each) => each.id === id));
  for (const [coupon, group] of groups) {
    const members = [...belt.keys()].filter(
      (index) =>
        belt[index].group === group &&
        belt[index].way.slots.some((slot) => slot.coupon === coupon && slot.part < 0),
    );
    for (const index of members) bundled.add(`${coupon} ${index}`);
    const multiplied = members.some((index) =>
      belt[index].way.slots.some((slot) => slot.coupon === coupon && slot.multiplied),
    );
    const use = { coupon, units: byLeg(coupon, members, belt) };
    uses.push({ place: handOver(held(coupon), multiplied), use });
  }
  const claimed = new Set(belt.flatMap((unit) => unit.way.slots.map((slot) => slot.coupon)));
  for (const coupon of shelf.counter.coupons) {
    if (coupon.gives.kind === 'basket_off' || !claimed.has(coupon.id)) continue;
    for (const multiplied of [true, false]) {
      const slots = [...belt.entries()].flatMap(([index, unit]) =>
        unit.way.slots
          .filter(
            (slot) =>
              slot.coupon === coupon.id &&
              slot.multiplied === multiplied &&
              !bundled.has(`${coupon.id} ${index}`),
          )
          .map((slot) => ({ index, slot })),
      );
      const times = floorDivide(slots.length, unitsAsked(coupon));
      for (const members of grouped(coupon, slots, times, shelf)) {
        const use = { coupon: coupon.id, units: byLeg(coupon.id, members, belt) };
        uses.push({ place: handOver(coupon, multiplied), use });
      }
    }
  }
  const inGeneral = sorted(uses, (each) => [each.place, each.use.units]).map((each) => each.use);
  return inOrder(inGeneral, oneBeforeTheOther(inGeneral, belt, held));
}

/**
 * Places of uses of which the first must be handed over before the second: so it was reckoned on a unit that
 * they share.
 * @param {readonly Filled<Use>[]} uses @param {readonly Placed[]} belt @param {(id: string) => Filled<Coupon>} held
 */
function oneBeforeTheOther(uses, belt, held) {
  return [...belt.entries()].flatMap(([index, { way }]) => {
    /** @type {Map<string, Filled<Coupon>[]>} */
    const steps = new Map();
    for (const coupon of way.slots.map((slot) => held(slot.coupon))) {
      const isInStep2 = coupon.issuer === 'store' && coupon.gives.kind === 'percent_off';
      entryOf(steps, `${coupon.issuer} ${isInStep2}`, () => []).push(coupon);
    }
    return [...steps.values()].filter(orderMatters).flatMap((coupons) => {
      const own = [...uses.keys()].filter((place) => uses[place].units.includes(index));
      const places = coupons.flatMap(({ id }) => {
        const place = own.findIndex((each) => uses[each].coupon === id);
        return place < 0 ? [] : own.splice(place, 1);
      });
      return pairwise(places);
    });
  });
}

/** @param {Filled<Coupon>} coupon @param {boolean} multiplied @returns {Key} */
const handOver = (coupon, multiplied) => [coupon.issuer === 'store' ? 0 : 1, multiplied ? 0 : 1, coupon.id];

/**
 * The units of each use: with a free unit, the dearest paid ones beside the dearest free
 * one, so that the free one is the cheapest of its use; else shares in belt order.
 * @param {Filled<Coupon>} coupon @param {readonly {index: number, slot: Slot}[]} slots
 * @param {number} times @param {Shelf} shelf
 * @returns {number[][]}
 */
function grouped(coupon, slots, times, shelf) {
  const multiplied = slots.some(({ slot }) => slot.multiplied);
  const kinds = parts(coupon, shelf.counter, multiplied);
  const places = Array.from({ length: times }, () => ({
    members: /** @type {number[]} */ ([]),
    legsLeft: coupon.asks.map((ask) => ask.units),
    partsLeft: kinds.map((kind) => kind.count),
  }));
  const ordered = sorted(slots, ({ index, slot }) => [!slot.free, -slot.leftBefore, slot.part, index]);
  for (const { index, slot } of ordered) {
    const place = places.find((each) => each.legsLeft[slot.leg] > 0 && each.partsLeft[slot.part] > 0);
    if (place === undefined) continue;
    place.legsLeft[slot.leg] -= 1;
    place.partsLeft[slot.part] -= 1;
    place.members.push(index);
  }
  return places.map((place) => place.members);
}

/**
 * Claimed units, requirement by requirement, each in belt order.
 * @param {string} coupon @param {readonly number[]} members @param {readonly Placed[]} belt
 * @returns {number[]}
 */
function byLeg(coupon, members, belt) {
  /** @param {number} index */
  const leg = (index) => belt[index].way.slots.find((slot) => slot.coupon === coupon)?.leg ?? 0;
  return sorted(members, (index) => [leg(index), index]);
}
