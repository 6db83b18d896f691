/**
 * Deals: what each want costs in the plan, as a planner would write it down.
 * Twin of `server/engine/deals.py`, which says whose each cent is.
 */

import { sum } from './belt.js';
import { Fraction } from './fraction.js';
import { measuresOf, showUnitPrice, unitPrice } from './measure.js';
import { floorDivide, roundHalfUp, share } from './money.js';
import { lapses, rewardWorth } from './objective.js';
import { compare, sorted } from './order.js';
import { productById, spotKey, spotOf, tagAt } from './situation.js';
import { asksFor } from './ways.js';

/** @import { Paid } from './checkout.js' */
/** @import { Situation, Spot } from './situation.js' */
/** @import { Deal, Filled, Product, RebateClaim, RewardOffer, StockUp, Store, Trip, Want } from './types.js' */

/** What the units of one spot come to.
 * @typedef {{units: number, tag: number, register: number, tax: number, reward: number, rebate: number}} Row */

/**
 * Per product the want that it is shown under: the one that ranks it highest, then by id.
 * @param {Filled<Trip>} trip
 * @returns {Map<string, Filled<Want>>}
 */
export function wantsOfProducts(trip) {
  /** @type {Map<string, {rank: number, want: Filled<Want>}>} */
  const found = new Map();
  for (const want of trip.wants) {
    want.products.forEach((product, rank) => {
      const held = found.get(product);
      if (held === undefined || compare([rank, want.id], [held.rank, held.want.id]) < 0) {
        found.set(product, { rank, want });
      }
    });
  }
  return new Map([...found].map(([product, { want }]) => [product, want]));
}

/**
 * One deal per store and product of the plan, in checkout order.
 * @param {Situation} situation @param {readonly Paid[]} stops @param {readonly RebateClaim[]} claims
 * @returns {Deal[]}
 */
export function dealsOf(situation, stops, claims) {
  const trip = situation.trip;
  const byId = productById(trip);
  const wants = wantsOfProducts(trip);
  /** @type {Map<Spot, Row>} */
  const rows = new Map();
  for (const each of stops) {
    const taxes = taxPerUnit(each);
    const rewards = rewardPerUnit(situation, each);
    each.receipt.units.forEach((unit, index) => {
      const spot = spotKey(each.transaction.store.id, unit.product);
      const row = rows.get(spot) ?? { units: 0, tag: 0, register: 0, tax: 0, reward: 0, rebate: 0 };
      rows.set(spot, row);
      row.units += 1;
      row.tag += unit.tag_cents;
      row.register += unit.paid_cents;
      row.tax += taxes[index];
      row.reward += rewards[index];
    });
  }
  spreadClaims(situation, rows, claims);
  return [...rows].map(([spot, row]) => {
    const [store, product] = spotOf(spot);
    const place = /** @type {Filled<Store>} */ (trip.stores.find((each) => each.id === store));
    const sold = /** @type {Filled<Product>} */ (byId.get(product));
    const net = row.register + row.tax - row.reward - row.rebate;
    const want = wants.get(product);
    const stockUp = want?.stock_up ?? null;
    return {
      want: want?.id ?? product,
      store,
      product,
      units: row.units,
      place: tagAt(trip, place, product)?.place ?? '',
      tag_cents: row.tag,
      register_cents: row.register,
      tax_cents: row.tax,
      reward_cents: row.reward,
      rebate_cents: row.rebate,
      net_cents: net,
      unit_price: unitPriceInWords(trip, sold, stockUp, net, row.units),
      stock_up: stockUpInWords(trip, stockUp),
      verdict: verdict(sold, stockUp, net, row.units),
    };
  });
}

/**
 * Each class's tax over its units, largest remainder, ties in belt order.
 * @param {Paid} each
 */
function taxPerUnit(each) {
  const units = each.receipt.units;
  const cents = units.map(() => 0);
  const classes = new Map(each.transaction.products.map((product) => [product.id, product.tax_class]));
  for (const line of each.receipt.taxes) {
    const members = [...units.keys()].filter((index) => classes.get(units[index].product) === line.tax_class);
    const base = sum(members.map((index) => units[index].taxable_cents));
    if (base === 0) continue;
    const exact = members.map((index) => ({ amount: line.cents * units[index].taxable_cents, index }));
    for (const { amount, index } of exact) cents[index] += floorDivide(amount, base);
    const left = line.cents - sum(exact.map(({ amount }) => floorDivide(amount, base)));
    const first = sorted(exact, ({ amount, index }) => [-(amount % base), index]).slice(0, left);
    for (const { index } of first) cents[index] += 1;
  }
  return cents;
}

/**
 * The worth of each reward over the units that counted for it, evenly.
 * @param {Situation} situation @param {Paid} each
 */
function rewardPerUnit(situation, each) {
  const units = each.receipt.units;
  const cents = units.map(() => 0);
  const offers = new Map(each.transaction.rewards.map((reward) => [reward.id, reward]));
  for (const earned of each.receipt.earned) {
    const reward = /** @type {Filled<RewardOffer>} */ (offers.get(earned.offer));
    if (lapses(reward, situation)) continue;
    const worth = earned.times * rewardWorth(reward, earned.each_cents, situation.trip.settings.worth);
    const members = [...units.keys()].filter((index) => asksFor(reward.products, units[index].product));
    members.forEach((index, k) => {
      cents[index] += share(worth, members.length, k + 1);
    });
  }
  return cents;
}

/**
 * Rebates over the units claimed (history's units take their part), bonuses over their rebates.
 * @param {Situation} situation @param {ReadonlyMap<Spot, Row>} rows @param {readonly RebateClaim[]} claims
 */
function spreadClaims(situation, rows, claims) {
  const trip = situation.trip;
  const rate = trip.settings.worth.rebate_bp;
  /** @type {Map<string, number>} */
  const cents = new Map();
  for (const claim of claims) {
    const worth = claim.times * roundHalfUp(floorDivide(claim.cents, claim.times) * rate, 10_000);
    const members = claim.bonus
      ? (trip.set_bonuses.find((bonus) => bonus.id === claim.rebate)?.rebates ?? [])
      : [claim.rebate];
    members.forEach((rebate, k) => {
      cents.set(rebate, (cents.get(rebate) ?? 0) + share(worth, members.length, k + 1));
    });
  }
  for (const [name, worth] of cents) {
    const rebate = trip.rebates.find((each) => each.id === name);
    if (rebate === undefined) continue;
    /** @type {(Row | null)[]} */
    const units = [];
    for (const done of situation.done) {
      if (rebate.stores.length > 0 && !rebate.stores.includes(done.transaction.store.id)) continue;
      for (const line of done.transaction.lines) {
        if (asksFor(rebate.products, line.product)) units.push(...Array(line.units).fill(null));
      }
    }
    for (const [spot, row] of rows) {
      const [store, product] = spotOf(spot);
      if (asksFor(rebate.products, product) && (rebate.stores.length === 0 || rebate.stores.includes(store))) {
        units.push(...Array(row.units).fill(row));
      }
    }
    units.forEach((row, k) => {
      if (row !== null) row.rebate += share(worth, units.length, k + 1);
    });
  }
}

/** @param {Filled<Product>} product @param {Filled<StockUp> | null} stockUp */
const per = (product, stockUp) => (stockUp === null ? product.size.unit : stockUp.per);

/**
 * Net price per unit of measure, rounded as on a shelf tag; below zero it is money made.
 * @param {Filled<Trip>} trip @param {Filled<Product>} product @param {Filled<StockUp> | null} stockUp
 * @param {number} net @param {number} units
 */
function unitPriceInWords(trip, product, stockUp, net, units) {
  const unit = per(product, stockUp);
  const price = unitPrice(Math.abs(net), product, unit, units);
  const words = showUnitPrice(price, unit, trip.currency, trip.exponent);
  return net < 0 ? `-${words}` : words;
}

/** @param {Filled<Trip>} trip @param {Filled<StockUp> | null} stockUp */
function stockUpInWords(trip, stockUp) {
  if (stockUp === null) return '';
  return showUnitPrice(Fraction.read(stockUp.cents), stockUp.per, trip.currency, trip.exponent);
}

/**
 * Exact: net cents against stock-up cents x measure, before any rounding.
 * @param {Filled<Product>} product @param {Filled<StockUp> | null} stockUp
 * @param {number} net @param {number} units
 * @returns {Deal['verdict']}
 */
function verdict(product, stockUp, net, units) {
  if (stockUp === null) return 'no stock-up price';
  const ceiling = Fraction.read(stockUp.cents)
    .times(measuresOf(product, stockUp.per))
    .times(Fraction.of(units));
  return Fraction.of(net).compare(ceiling) <= 0 ? 'at or under' : 'over';
}
