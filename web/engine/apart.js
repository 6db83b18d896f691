/**
 * Step 1 of the planner: each cluster of wants by itself, remembered by what it was asked.
 * Twin of `server/engine/apart.py`, which tells why.
 */

import { sum } from './belt.js';
import { clusters } from './clusters.js';
import { known } from './entries.js';
import { solveCounts } from './levels.js';
import { spotSums } from './limits.js';
import { buildModel } from './model.js';
import { floorDivide } from './money.js';
import { dues } from './objective.js';
import { Sum } from './program.js';
import { bought, spotKey, spotOf, withoutCeilings } from './situation.js';

/** @import { Solved } from './levels.js' */
/** @import { Model } from './model.js' */
/** @import { Shelves } from './shelves.js' */
/** @import { Situation, Spot } from './situation.js' */
/** @import { Bought } from './spreading.js' */
/** @import { Filled, Want } from './types.js' */

/** A program with its best plan. @typedef {readonly [Model, Solved]} Answered */
/** A program with its best plan, or null where there is none. @typedef {readonly [Model, Solved | null]} Answer */

/** @type {Map<string, Answer>} */
const ANSWERS = new Map();
const MOST_ANSWERS = 600;

/** What a cent that the registers ask for costs besides, in so many parts of a cent, at some stores or (null)
 * at all. `spared`: a unit is left missing where that spares the registers more than so many cents; null: only
 * where there is no other way.
 * @typedef {{eighths: number, stores: readonly string[] | null, spared: number | null}} Price */
const PARTS_OF_A_CENT = 8;

/**
 * The groups to solve apart. A price on further stores or transactions is paid once for all
 * wants together, so then they stay together.
 * @param {Situation} situation @param {readonly Filled<Want>[]} wants
 * @returns {Filled<Want>[][]}
 */
export function groupsApart(situation, wants) {
  const settings = situation.trip.settings;
  if (settings.further_store_cents > 0 || settings.further_transaction_cents > 0) {
    return wants.length > 0 ? [[...wants]] : [];
  }
  return clusters(situation, wants);
}

/**
 * The best plan of each group. One that was solved lately without what lies in the trolley, or without
 * the plan that she left home with, and whose answer has it all the same, is answered so (`apart.py`).
 * @param {Situation} situation @param {Shelves} shelves @param {readonly Filled<Want>[][]} groups
 * @param {Price | null} [price] a price on what the registers ask for
 * @param {readonly number[] | null} [places] those of the groups that are asked; null: all
 * @returns {Answer[]}
 */
export function solveApart(situation, shelves, groups, price = null, places = null) {
  const shared = sharedByAll(situation);
  const held = new Map([...situation.trolley].filter(([spot]) => situation.empty.has(spot)));
  const eased = [held, situation.trolley].flatMap((trolley) =>
    [null, situation.home].map((home) => ({ ...situation, trolley, home })),
  );
  return (places ?? [...groups.keys()]).map((place) => {
    const group = groups[place];
    const questions = eased.map((each) => keyOf(each, shared, shelves, place, group));
    const keys = questions.map((each) => keyAt(each, price));
    const key = keys.slice(0, -1).find((each) => holds(situation, group, each)) ?? keys[keys.length - 1];
    let found = ANSWERS.get(key);
    if (found === undefined) {
      // The same program is asked at every price.
      const before = ANSWERS.get(keyAt(questions[questions.length - 1], null));
      const model = before?.[0] ?? buildModel(situation, shelves.byStore, group, 'apart');
      found = [model, bestAt(model, price)];
    }
    ANSWERS.delete(key);
    ANSWERS.set(key, found);
    for (const oldest of ANSWERS.keys()) {
      if (ANSWERS.size <= MOST_ANSWERS) break;
      ANSWERS.delete(oldest);
    }
    return found;
  });
}

/**
 * A group's best at a price.
 * @param {Model} model @param {Price | null} price
 * @returns {Solved | null}
 */
function bestAt(model, price) {
  if (price === null) return solveCounts(model);
  const due = dues(model.blocks, price.stores);
  const value = new Sum().plus(model.value, PARTS_OF_A_CENT).plus(due, price.eighths);
  let priced = { ...model, value };
  if (price.spared !== null) {
    const weighed = value.plus(model.unmet, price.spared * model.scale * price.eighths);
    priced = { ...model, value: weighed, missing: new Map(), unmet: new Sum() };
  }
  const answer = solveCounts(priced);
  if (answer === null) return null;
  const { values } = answer;
  return { ...answer, unmet: model.unmet.value(values), value: model.value.value(values) };
}

/**
 * Whether a group's answer is remembered and has what lies in the trolley and the plan that she left
 * home with.
 * @param {Situation} situation @param {readonly Filled<Want>[]} group @param {string} key
 */
function holds(situation, group, key) {
  const found = ANSWERS.get(key);
  if (found === undefined) return false;
  const [model, answer] = found;
  if (answer === null) return true;
  const names = new Set(group.flatMap((want) => want.products));
  const sums = spotSums(model.blocks);
  const planned = new Map([...sums].map(([spot, units]) => [spot, units.value(answer.values)]));
  const inTrolley = [...situation.trolley].every(([spot, units]) => {
    return !names.has(spotOf(spot)[1]) || (planned.get(spot) ?? 0) >= units;
  });
  const { home } = situation;
  if (!inTrolley || home === null) return inTrolley;
  return [...planned].every(([spot, units]) => {
    const [store, product] = spotOf(spot);
    return units === (home.get(spot) ?? 0) - bought(situation, store, product);
  });
}

/** No cluster is remembered: for benches. */
export function forget() {
  ANSWERS.clear();
  SHARED.clear();
}

/** @type {Map<string, number>} numbers of what is shared by all, so that keys stay short */
const SHARED = new Map();
const MOST_SHARED = 100;
let lastShared = 0;

/** What every group's program may depend on, as a short key: all but its goods and their places, and what
 * the counters of its parts hold. It is not bound by the cash ceilings. @param {Situation} situation */
function sharedByAll(situation) {
  const apart = { products: [], prices: [], wants: [], pinned: [], coupons: [], percent_offers: [] };
  const trip = { ...withoutCeilings(situation.trip), ...apart };
  const text = JSON.stringify([
    trip,
    situation.done,
    [...situation.used],
    [...situation.earned],
    [...situation.offerTransactions],
  ]);
  const number = SHARED.get(text) ?? (lastShared += 1);
  if (SHARED.size >= MOST_SHARED) SHARED.clear(); // a number is never given twice
  SHARED.set(text, number);
  return number;
}

/** What a group is asked at a price. @param {string} question @param {Price | null} price */
const keyAt = (question, price) => `${question}${JSON.stringify(price)}`;

/**
 * What a group's program is made of. The parts of the shelves hold its products and tags.
 * @param {Situation} situation @param {number} shared @param {Shelves} shelves @param {number} place
 * @param {readonly Filled<Want>[]} group
 */
function keyOf(situation, shared, shelves, place, group) {
  const names = new Set(group.flatMap((want) => want.products));
  /** @param {Iterable<[Spot, number]>} spots */
  const own = (spots) => [...spots].filter(([spot]) => names.has(spotOf(spot)[1])).sort();
  const empty = [...situation.empty].filter((spot) => names.has(spotOf(spot)[1])).sort();
  const wholes = [...shelves.byStore.values()].map((shelf) => shelf.whole);
  const home = situation.home === null ? null : own(situation.home);
  const trolley = own(situation.trolley);
  return JSON.stringify([shared, shelves.numbers[place], wholes, group, trolley, empty, home]);
}

/**
 * How many of each column the clusters chose, over all their transactions.
 * @param {readonly Answered[]} solved
 * @returns {Bought}
 */
export function boughtIn(solved) {
  /** @type {Bought} */
  const found = new Map();
  for (const [model, answer] of solved) {
    for (const [store, blocks] of model.blocks) {
      known(model.shelves, store).columns.forEach((column, place) => {
        const count = sum(blocks.map((block) => answer.values[block.columns[place]]));
        if (count > 0) found.set(spotKey(store, column.key), { store, column, count });
      });
    }
  }
  return found;
}

/**
 * The least value that any plan can have, from the clusters' optima; null where one is no bound.
 *
 * Each transaction's tax, rounded once per class, may be half a cent less than the exact tax.
 * @param {readonly Answered[]} solved
 * @returns {number | null}
 */
export function boundOf(solved) {
  if (!solved.every(([model]) => model.whole)) return null;
  const scale = solved[0]?.[0].scale ?? 1;
  const total = sum(solved.map(([, answer]) => answer.value));
  return -floorDivide(slackOf(solved) - total, scale);
}

/**
 * Whether a plan of this value that buys what the clusters chose is worth their optima to the fraction of a
 * cent: then no other is as good at levels 2 and 3.
 * @param {readonly Answered[]} solved @param {number} value
 */
export function isReached(solved, value) {
  const scale = solved[0]?.[0].scale ?? 1;
  const total = sum(solved.map(([, answer]) => answer.value));
  return solved.every(([model]) => model.whole) && slackOf(solved) === 0 && total === scale * value;
}

/**
 * By how much less than the clusters' optima a plan can have: what rounding of its taxes may spare, in the
 * clusters' parts of a cent.
 * @param {readonly Answered[]} solved
 */
export function slackOf(solved) {
  const scale = solved[0]?.[0].scale ?? 1;
  /** @type {Map<string, number>} */
  const roundings = new Map();
  for (const [model] of solved) {
    for (const [store, shelf] of model.shelves) {
      const { tax, rules } = shelf.counter.store;
      for (const product of shelf.products.values()) {
        if (tax.basis === 'invoice' && (tax.rates[product.tax_class] ?? 0) > 0) {
          roundings.set(spotKey(store, product.tax_class), rules.transactions_per_visit);
        }
      }
    }
  }
  return floorDivide(scale * sum([...roundings.values()]), 2);
}
