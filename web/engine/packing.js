/**
 * From counted columns to transactions: which unit lies where, which coupon claims which.
 * Twin of `server/engine/packing.py`.
 */

import { entryOf, known } from './entries.js';
import { floorDivide, roundHalfUp } from './money.js';
import { sorted } from './order.js';
import { regionOf } from './situation.js';
import { holdsOn } from './shelf.js';
import { offerUsesOf, usesOf } from './uses.js';
import { asksFor } from './ways.js';

/** @import { Shelf } from './block.js' */
/** @import { Filled, Line, Transaction, Trip } from './types.js' */
/** @import { Placed } from './uses.js' */
/** @import { Column, Way } from './ways.js' */

// Behind every share that a coupon has: no coupon asks for so many units.
const NO_SHARE = 1_000;

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
    offer_uses: offerUsesOf(belt, offers, shelf),
    tenders: [],
    earned_before: {},
    region: regionOf(trip, store),
    currency: trip.currency,
    exponent: trip.exponent,
  };
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
