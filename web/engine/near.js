/**
 * What a plan that is better than the one in hand, or as good, could buy at all.
 * Twin of `server/engine/near.py`, which tells why.
 */

import { slackOf } from './apart.js';
import { sum } from './belt.js';
import { known } from './entries.js';
import { countsDiffer, fixed, goalOf, metIn } from './levels.js';
import { Program, added, one } from './program.js';
import { tightened } from './relaxing.js';
import { spotKey } from './situation.js';
import { relax } from './solver.js';

/** @import { Answered } from './apart.js' */
/** @import { Model } from './model.js' */
/** @import { Spot } from './situation.js' */

/** Per store and column key: the least and the most units in all that such a plan can have.
 * @typedef {Map<Spot, readonly [number, number]>} Counts */

/**
 * The counts that a plan of `value` at level 2 or less can have, of those columns where it is known. The plan
 * misses no more needs than the clusters in all, so no more than its own in each.
 * @param {readonly Answered[]} solved every cluster with its best
 * @param {number} value
 * @returns {Counts}
 */
export function countsAsGood(solved, value) {
  // Where ways were left out, the best is no bound.
  if (!solved.every(([model]) => model.whole)) return new Map();
  const { scale } = solved[0][0];
  const room = scale * value + slackOf(solved) - sum(solved.map(([, answer]) => answer.value));
  return new Map(solved.flatMap((each) => [...nearCounts(each, room)]));
}

/**
 * The counts of a cluster's columns in all plans that fall short of its best by at most `room`.
 * @param {Answered} answered @param {number} room
 * @returns {Counts}
 */
function nearCounts([model, answer], room) {
  const met = answer.unmet > 0 ? fixed(model.program, model.unmet, answer.unmet) : metIn(model);
  const limit = answer.value + room;
  const relaxed = relax(met, goalOf(model));
  const held = relaxed === null ? met : tightened(met, relaxed, limit * (model.mostUnits + 1));
  const differ = countsDiffer(model, fixed(held, model.value, limit), answer.values);
  /** @type {Counts} */
  const counts = new Map();
  for (const [store, blocks] of model.blocks) {
    for (const [place, column] of known(model.shelves, store).columns.entries()) {
      const variables = blocks.map((block) => block.columns[place]);
      /** @param {readonly number[]} values */
      const total = (values) => sum(variables.map((variable) => values[variable]));
      const [least, most] = differ ? [held.lower, held.upper] : [answer.values, answer.values];
      counts.set(spotKey(store, column.key), [total(least), total(most)]);
    }
  }
  return counts;
}

/**
 * The whole program with no other counts.
 * @param {Model} whole @param {Counts} counts
 * @returns {Model}
 */
export function within(whole, counts) {
  const program = new Program([...whole.program.lower], [...whole.program.upper], [...whole.program.rows]);
  for (const [store, blocks] of whole.blocks) {
    for (const [place, column] of known(whole.shelves, store).columns.entries()) {
      const bounds = counts.get(spotKey(store, column.key));
      if (bounds === undefined) continue;
      const [least, most] = bounds;
      const variables = blocks.map((block) => block.columns[place]);
      for (const variable of variables) program.upper[variable] = Math.min(program.upper[variable], most);
      if (least > 0 || variables.length > 1) {
        program.require(added(variables.map((variable) => one(variable))), { low: least, high: most });
      }
    }
  }
  return { ...whole, program };
}

/** How many variables of a program have a choice. @param {Model} model */
export function variablesLeft({ program }) {
  return program.lower.filter((low, variable) => low < program.upper[variable]).length;
}
