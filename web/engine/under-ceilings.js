/**
 * A draft within the cash ceilings of a large trip, where the best without them costs too much cash.
 * Twin of `server/engine/under_ceilings.py`, which tells how.
 */

import { boughtIn, solveApart } from './apart.js';
import { sum } from './belt.js';
import { overEachCeiling } from './checkout.js';
import { draftOf } from './drafting.js';
import { fixed, fixedWeight, solveLevels } from './levels.js';
import { buildModel } from './model.js';
import { floorDivide } from './money.js';
import { dues } from './objective.js';
import { compare, sorted } from './order.js';
import { Program, Sum, added, one } from './program.js';
import { minimize } from './solver.js';
import { proven, unproven } from './writing.js';

/** @import { Answer, Answered } from './apart.js' */
/** @import { PutTogether } from './drafting.js' */
/** @import { Model } from './model.js' */
/** @import { Shelves } from './shelves.js' */
/** @import { Situation } from './situation.js' */
/** @import { Filled, Want } from './types.js' */

/** What the registers may ask for at most, in cents: per store, and under null in all.
 * @typedef {ReadonlyMap<string | null, number>} Limits */

/** Eighths of a cent that a cent asked for costs besides. */
const PRICES = [0, 1, 2, 4, 6, 8, 12, 16, 32, 64];
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
  for (let step = 0; step < MOST_STEPS; step += 1) {
    const answers =
      cheaperApart(situation, parts, groups, limits) ?? cheaperTogether(situation, parts, groups, limits);
    const lowered = draftOf(situation, parts, groups, answers);
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

/**
 * All clusters in one program, within the limits.
 * @param {Situation} situation @param {Shelves} parts @param {readonly Filled<Want>[][]} groups
 * @param {Limits} limits
 * @returns {Answer[]}
 */
function cheaperTogether(situation, parts, groups, limits) {
  const wants = sorted(groups.flat(), (want) => want.id);
  const model = buildModel(situation, parts.byStore, wants, 'apart');
  for (const [scope, most] of limits) {
    model.program.require(duesAt(model, scope), { high: model.scale * most });
  }
  return [[model, solveLevels(model)]];
}

/**
 * What each cluster chose at one of the prices, within the limits together; null where they are beyond them
 * at the highest.
 * @param {Situation} situation @param {Shelves} parts @param {readonly Filled<Want>[][]} groups
 * @param {Limits} limits
 * @returns {Answered[] | null}
 */
function cheaperApart(situation, parts, groups, limits) {
  /** @type {Map<number, Answered[]>} */
  const asked = new Map();
  const scopes = [...limits.keys()].filter((scope) => scope !== null).sort(compare);
  const stores = limits.has(null) ? null : scopes;
  /** @param {number} eighths */
  const fits = (eighths) => {
    const answers = solveApart(situation, parts, groups, eighths > 0 ? { eighths, stores } : null);
    /** @type {Answered[]} */
    const found = answers.flatMap(([model, answer]) => (answer === null ? [] : [[model, answer]]));
    asked.set(eighths, found);
    return (
      found.length === answers.length &&
      [...limits].every(([scope, most]) => {
        const due = sum(found.map(([model, answer]) => duesAt(model, scope).value(answer.values)));
        return due <= found[0][0].scale * most;
      })
    );
  };
  if (!fits(PRICES[PRICES.length - 1])) return null;
  let [tooLow, enough] = [0, PRICES.length - 1];
  while (enough - tooLow > 1) {
    const middle = floorDivide(tooLow + enough, 2);
    [tooLow, enough] = fits(PRICES[middle]) ? [tooLow, middle] : [middle, enough];
  }
  fits(PRICES[tooLow]);
  const choices = groups.map((_, cluster) => different([...asked.values()].map((each) => each[cluster])));
  return bestOf(choices, limits);
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
 * One answer of each cluster, so that all are within the limits and worth the most.
 * @param {readonly (readonly Answered[])[]} choices @param {Limits} limits
 * @returns {Answered[]}
 */
function bestOf(choices, limits) {
  const program = new Program();
  const [value, weights] = [new Sum(), new Sum()];
  const due = [...limits].map(([scope, most]) => ({ scope, most, total: new Sum() }));
  const places = choices.map((answers, cluster) => {
    const own = answers.map(() => program.variable(0, 1));
    program.require(added(own.map((each) => one(each))), { low: 1, high: 1 });
    for (const [place, [model, answer]] of answers.entries()) {
      value.add(own[place], answer.value);
      weights.add(own[place], fixedWeight(`${cluster}#${place}`));
      for (const { scope, total } of due) total.add(own[place], duesAt(model, scope).value(answer.values));
    }
    return own;
  });
  for (const { most, total } of due) program.require(total, { high: choices[0][0][0].scale * most });
  const most = minimize(program, value);
  const best = most === null ? null : minimize(fixed(program, value, most.value), weights);
  // The answers at one of the prices fit.
  if (best === null) throw new Error('the solver lost the choice that it had found');
  return choices.map((answers, cluster) => answers[places[cluster].findIndex((each) => best.values[each] > 0)]);
}
