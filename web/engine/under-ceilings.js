/**
 * A draft within the cash ceilings of a large trip, where the best without them costs too much cash.
 * Twin of `server/engine/under_ceilings.py`, which tells how.
 */

import { boughtIn, solveApart } from './apart.js';
import { sum } from './belt.js';
import { overEachCeiling } from './checkout.js';
import { draftOf } from './drafting.js';
import { fixed, fixedWeight } from './levels.js';
import { floorDivide } from './money.js';
import { dues } from './objective.js';
import { compare } from './order.js';
import { Program, Sum, added, one } from './program.js';
import { minimize } from './solver.js';
import { proven, unproven } from './writing.js';

/** @import { Answered, Price } from './apart.js' */
/** @import { PutTogether } from './drafting.js' */
/** @import { Model } from './model.js' */
/** @import { Shelves } from './shelves.js' */
/** @import { Situation } from './situation.js' */
/** @import { Filled, Want } from './types.js' */

/** What the registers may ask for at most, in cents: per store, and under null in all.
 * @typedef {ReadonlyMap<string | null, number>} Limits */

/** Eighths of a cent that a cent asked for costs besides. */
const PRICES = [0, 1, 2, 4, 6, 8, 12, 16, 32, 64];
const DEAREST = PRICES[PRICES.length - 1];
/** At the dearest: cents that a missing unit must spare the registers. */
const SPARED = [null, 3200, 1600, 1200, 800, 600, 400, 300, 200, 100, 50, 1];
const MOST_STEPS = 12;
const MORE_UNMET =
  'Good, but not proven: the cash ceiling leaves needs unmet, and fewer might be possible.';

/**
 * A draft within the cash ceilings, or null where lowering what may be spent leads to none. Each step lowers
 * what the registers may ask for by what the plan before was over.
 * @param {Situation} situation
 * @param {PutTogether} free the draft without them; its clusters and bound hold with them too
 * @param {Shelves} parts @param {readonly Filled<Want>[][]} groups
 * @returns {PutTogether | null}
 */
export function draftUnderCeilings(situation, free, parts, groups) {
  const { solved } = free;
  let limits = withLower(new Map(), free, overEachCeiling(situation, free.cash));
  if (limits.size === 0) return free;
  for (let step = 0; step < MOST_STEPS; step += 1) {
    const cheaper = new Cheaper(situation, parts, groups, limits);
    if (!cheaper.found()) return null;
    const lowered = draftOf(situation, parts, groups, cheaper.best());
    if (lowered === null) {
      // A store's own ceiling may leave no spread at all: then by a tenth.
      limits = new Map([...limits].map(([scope, most]) => [scope, floorDivide(most * 9, 10)]));
      continue;
    }
    const over = overEachCeiling(situation, lowered.cash);
    if (over.size > 0) {
      limits = withLower(limits, lowered, over);
      continue;
    }
    if (lowered.unmet > free.unmet) {
      return { ...lowered, written: unproven(lowered.written, MORE_UNMET), bound: null, solved };
    }
    const written = proven(situation, lowered.written, free.bound, lowered.value);
    return { ...lowered, written, bound: free.bound, solved };
  }
  return null;
}

/**
 * The limits, with those that the draft passes by so much lowered.
 * @param {Limits} limits @param {PutTogether} draft @param {Limits} over
 * @returns {Limits}
 */
function withLower(limits, draft, over) {
  const lower = new Map(limits);
  for (const [scope, centsOver] of over) {
    const own = draft.due.filter(({ store }) => scope === null || scope === store);
    lower.set(scope, sum(own.map(({ cents }) => cents)) - centsOver);
  }
  return lower;
}

/** What the registers ask for, at a store or in all. @param {Model} model @param {string | null} scope */
const duesAt = (model, scope) => dues(model.blocks, scope === null ? null : [scope]);

/** What the clusters choose at some prices, until it is within the limits. */
class Cheaper {
  /** @type {Answered[][]} */
  #asked = [];

  /**
   * @param {Situation} situation @param {Shelves} parts @param {readonly Filled<Want>[][]} groups
   * @param {Limits} limits
   */
  constructor(situation, parts, groups, limits) {
    this.situation = situation;
    this.parts = parts;
    this.groups = groups;
    this.limits = limits;
    const scopes = [...limits.keys()].filter((scope) => scope !== null).sort(compare);
    this.stores = limits.has(null) ? null : scopes;
  }

  /** Whether there is a price at which it is. No need is left unmet for what a price alone can do. */
  found() {
    const { stores } = this;
    const prices = PRICES.map((eighths) => (eighths > 0 ? { eighths, stores, spared: null } : null));
    if (this.#search(prices, ([model, { values }]) => dues(model.blocks, stores).value(values))) return true;
    const spared = SPARED.map((cents) => ({ eighths: DEAREST, stores, spared: cents }));
    return this.#search(spared, ([, { unmet }]) => unmet);
  }

  /**
   * Asks at the first price at which it is within the limits and at the one before, by halves. A cluster that
   * chooses as much of what the prices are on at a lower and at a higher price would choose the same between,
   * and is not asked.
   * @param {readonly (Price | null)[]} prices
   * @param {(answered: Answered) => number} chosen what the prices are on
   */
  #search(prices, chosen) {
    let [low, high] = [0, prices.length - 1];
    let [first, last] = [this.#ask(prices[low]), this.#ask(prices[high])];
    if (first === null || last === null || !this.#fits(last)) return false;
    while (high - low > 1) {
      const middle = floorDivide(low + high, 2);
      const [below, above] = [first, last];
      const same = below.map((before, place) => (chosen(before) === chosen(above[place]) ? before : null));
      const between = this.#ask(prices[middle], same);
      if (between === null) throw new Error('a cluster lost the plan that it had at the prices around');
      if (this.#fits(between)) [high, last] = [middle, between];
      else [low, first] = [middle, between];
    }
    return true;
  }

  /**
   * What each cluster chooses at a price, as far as it is not known to be the `same`; null where one finds
   * nothing.
   * @param {Price | null} price @param {readonly (Answered | null)[]} [same]
   * @returns {Answered[] | null}
   */
  #ask(price, same = []) {
    const places = [...this.groups.keys()].filter((place) => (same[place] ?? null) === null);
    const answers = solveApart(this.situation, this.parts, this.groups, price, places);
    const found = [...same];
    for (const [index, [model, answer]] of answers.entries()) {
      if (answer === null) return null;
      found[places[index]] = [model, answer];
    }
    const all = found.filter((each) => each !== null);
    this.#asked.push(all);
    return all;
  }

  /** @param {readonly Answered[]} answers */
  #fits(answers) {
    return [...this.limits].every(([scope, most]) => {
      const due = sum(answers.map(([model, { values }]) => duesAt(model, scope).value(values)));
      return due <= answers[0][0].scale * most;
    });
  }

  /** The best within the limits of what was chosen at one of the prices. */
  best() {
    const choices = this.groups.map((_, cluster) => different(this.#asked.map((each) => each[cluster])));
    return bestOf(choices, this.limits);
  }
}

/** Of a cluster's answers those that buy something else than the ones before. @param {readonly Answered[]} answers */
function different(answers) {
  /** @type {Map<string, Answered>} */
  const found = new Map();
  for (const each of answers) {
    const bought = JSON.stringify([...boughtIn([each])].map(([key, { count }]) => [key, count]));
    if (!found.has(bought)) found.set(bought, each);
  }
  return [...found.values()];
}

/**
 * One answer of each cluster, so that all are within the limits, and the best by the plan's levels.
 * @param {readonly (readonly Answered[])[]} choices @param {Limits} limits
 * @returns {Answered[]}
 */
function bestOf(choices, limits) {
  let program = new Program();
  const [unmet, value, weights] = [new Sum(), new Sum(), new Sum()];
  const due = [...limits].map(([scope, most]) => ({ scope, most, total: new Sum() }));
  const places = choices.map((answers, cluster) => {
    const own = answers.map(() => program.variable(0, 1));
    program.require(added(own.map((each) => one(each))), { low: 1, high: 1 });
    for (const [place, [model, answer]] of answers.entries()) {
      unmet.add(own[place], answer.unmet);
      value.add(own[place], answer.value);
      weights.add(own[place], fixedWeight(`${cluster}#${place}`));
      for (const { scope, total } of due) total.add(own[place], duesAt(model, scope).value(answer.values));
    }
    return own;
  });
  for (const { most, total } of due) program.require(total, { high: choices[0][0][0].scale * most });
  /** @type {readonly number[]} */
  let values = [];
  for (const level of [unmet, value, weights]) {
    if (![...level.terms.values()].some((each) => each !== 0)) continue;
    const best = minimize(program, level);
    // The answers at one of the prices fit.
    if (best === null) throw new Error('the solver lost the choice that it had found');
    program = fixed(program, level, best.value);
    values = best.values;
  }
  return choices.map((answers, cluster) => answers[places[cluster].findIndex((each) => values[each] > 0)]);
}
