/**
 * The levels of the objective, solved one after the other, to one plan and no other.
 * Twin of `server/engine/levels.py`, which names them.
 */

import { sum } from './belt.js';
import { known } from './entries.js';
import { Program, Sum, added, one } from './program.js';
import { leastOf } from './relaxing.js';
import { minimize } from './solver.js';

/** @import { Model } from './model.js' */
/** @import { Solution } from './solver.js' */

// Weights of the last level: wide enough that two different plans hardly ever weigh the same,
// narrow enough that a trip's sum stays under 2^31.
const WEIGHTS = 2 ** 20;

// With fewer variables, to ask without whole numbers first takes longer than it spares.
const RELAXED_FIRST = 60;

/**
 * One plan of a model: `values` per variable, missing units, and `value` and `cash` in the model's
 * parts of a cent.
 * @typedef {{values: readonly number[], unmet: number, value: number, cash: number}} Solved
 */

/**
 * The best plan of a model by all levels, or null where no plan satisfies its rows even
 * with every need missing.
 * @param {Model} model
 * @returns {Solved | null}
 */
export function solveLevels(model) {
  const atOnce = leastOf(metIn(model), goalOf(model), RELAXED_FIRST);
  if (atOnce !== null) return lowerLevels(model, ...atOnce);
  const fewest = minimize(model.program, model.unmet);
  if (fewest === null) return null;
  const best = leastOf(fixed(model.program, model.unmet, fewest.value), goalOf(model), RELAXED_FIRST);
  if (best === null) throw new Error('the solver lost the plan that it had found');
  return lowerLevels(model, ...best);
}

/**
 * The best plan of a model, by all levels as far as it says how many of each column are bought in all;
 * in which transaction they lie is left open.
 *
 * Where nothing is missing and no other counts reach the same level 2 and 3, the levels below have
 * nothing to choose. That is mostly so, and one question shows it.
 * @param {Model} model
 * @returns {Solved | null}
 */
export function solveCounts(model) {
  const least = leastOf(metIn(model), goalOf(model));
  if (least === null) return solveLevels(model);
  const [held, best] = least;
  const among = fixed(held, goalOf(model), best.value);
  return countsDiffer(model, among, best.values) ? lowerLevels(model, held, best) : solved(model, best);
}

/**
 * Whether other counts of some column than those of `values` satisfy the program, whose first variables are the
 * model's.
 * @param {Model} model @param {Program} program @param {readonly number[]} values
 */
export function countsDiffer(model, program, values) {
  const asked = new Program([...program.lower], [...program.upper], [...program.rows]);
  let [unbought, differs] = [new Sum(), new Sum()];
  for (const [store, blocks] of model.blocks) {
    for (const column of known(model.shelves, store).columns.keys()) {
      const places = blocks.map((block) => block.columns[column]);
      if (places.every((variable) => program.lower[variable] === program.upper[variable])) continue;
      const count = sum(places.map((variable) => values[variable]));
      const total = added(places.map((variable) => one(variable)));
      if (count === 0) {
        unbought = unbought.plus(total);
        continue;
      }
      const most = Math.max(sum(places.map((variable) => program.upper[variable])), count);
      differs = added([differs, passes(asked, total, count, most)]);
    }
  }
  if (differs.terms.size === 0 && unbought.terms.size === 0) return false;
  const other = asked.variable(0, 1);
  asked.require(unbought.plus(one(other), -1), { low: 0 });
  asked.require(differs.plus(one(other)), { low: 1 });
  // Any answer will do, so there is nothing to minimize.
  return minimize(asked, new Sum()) !== null;
}

/** Two yes or no: whether a total is more than a count, or less; at `most` so many.
 * @param {Program} program @param {Sum} total @param {number} count @param {number} most */
function passes(program, total, count, most) {
  const [more, fewer] = [program.variable(0, 1), program.variable(0, 1)];
  program.require(total.plus(one(more), -(count + 1)), { low: 0 });
  program.require(total.plus(one(fewer), most - count + 1), { high: most });
  return one(more).plus(one(fewer));
}

/** The program with every need met. @param {Model} model */
export function metIn(model) {
  const met = new Program([...model.program.lower], [...model.program.upper], [...model.program.rows]);
  for (const variable of model.missing.values()) met.upper[variable] = 0;
  return met;
}

/**
 * The best plan of a model by all levels if it has fewer missing units than `unmet`, a lower level-2 value
 * than `value`, or that value and more than `units`; else null: nothing is better.
 * @param {Model} model @param {number} unmet @param {number} value @param {number} units
 * @returns {Solved | null}
 */
export function betterThan(model, unmet, value, units) {
  if (unmet) {
    const fewest = minimize(model.program, model.unmet);
    if (fewest !== null && fewest.value < unmet) return solveLevels(model);
  }
  const program = fixed(model.program, model.unmet, unmet);
  const best = minimize(program, goalOf(model));
  if (best === null || goalOf(model).value(best.values) >= value * (model.mostUnits + 1) - units) return null;
  return lowerLevels(model, program, best);
}

/**
 * The model with one more row: some count of what the answer buys, or of the basket coupons that
 * it uses, must differ. What is left unbought is drawn together, for one yes or no.
 * @param {Model} model @param {Solved} answer
 * @returns {Model}
 */
export function without(model, answer) {
  const program = new Program([...model.program.lower], [...model.program.upper], [...model.program.rows]);
  const every = [...model.blocks.values()].flat();
  const counted = every.flatMap((block) => block.columns);
  counted.push(
    ...every.flatMap((block) => [...block.basketUses.values()].flatMap((uses) => [...uses.terms.keys()])),
  );
  const unbought = new Sum();
  let differs = new Sum();
  for (const variable of counted) {
    const [count, most] = [answer.values[variable], program.upper[variable]];
    if (count === 0) {
      unbought.add(variable, 1);
      continue;
    }
    differs = added([differs, passes(program, one(variable), count, most)]);
  }
  const other = program.variable(0, 1);
  program.require(unbought.plus(one(other), -1), { low: 0 });
  program.require(differs.plus(one(other)), { low: 1 });
  return { ...model, program };
}

/**
 * The best plan of a model, by the levels below, with no more missing units, no higher level-2 value and no
 * fewer units than these, that puts down less than `cash`, or as much in fewer `transactions`; null where
 * there is none.
 * @param {Model} model @param {number} unmet @param {number} value @param {number} units @param {number} cash
 * @param {number} transactions
 * @returns {Solved | null}
 */
export function lessCash(model, unmet, value, units, cash, transactions) {
  const held = fixed(fixed(model.program, model.unmet, unmet), model.value, value);
  held.require(model.units, { low: units });
  held.require(model.cash, { high: cash + 0.5 });
  const most = sum([...model.transactions.terms.keys()].map((variable) => model.program.upper[variable]));
  const level = model.transactions.plus(model.cash, most + 1);
  const best = minimize(held, level);
  if (best === null || best.value >= cash * (most + 1) + transactions) return null;
  const reached = goalOf(model).value(best.values);
  const { values } = best;
  return lowerLevels(model, fixed(held, level, best.value), { values, value: reached, bound: reached });
}

/** Levels 2 and 3 in one: value, weighed above every count of units. @param {Model} model */
export const goalOf = (model) => new Sum().plus(model.value, model.mostUnits + 1).plus(model.units, -1);

/**
 * Levels 4 to 6, each with the ones before it fixed.
 * @param {Model} model @param {Program} start @param {Solution} reached
 * @returns {Solved}
 */
function lowerLevels(model, start, reached) {
  let best = reached;
  let program = fixed(start, goalOf(model), best.value);
  for (const level of [...cashAndTidiness(model), weights(model)]) {
    if (level.terms.size === 0) continue;
    const found = minimize(program, level);
    // The plan before satisfies every row, so there is one.
    if (found === null) throw new Error('the solver lost the plan that it had found');
    program = fixed(program, level, found.value);
    best = found;
  }
  return solved(model, best);
}

/** @param {Model} model @param {Solution} best @returns {Solved} */
function solved(model, best) {
  return {
    values: best.values,
    unmet: model.unmet.value(best.values),
    value: model.value.value(best.values),
    cash: model.cash.value(best.values),
  };
}

/** The program with one level held at its optimum (half a unit of room for the solver's tolerance).
 * @param {Program} program @param {Sum} level @param {number} value */
export function fixed(program, level, value) {
  const held = new Program(program.lower, program.upper, [...program.rows]);
  held.require(level, { high: value + 0.5 });
  return held;
}

/** Levels 4 and 5, in one sum where the weights stay small. @param {Model} model */
function cashAndTidiness(model) {
  const tidy = tidiness(model);
  const most = sum([...tidy.terms].map(([variable, each]) => each * model.program.upper[variable]));
  const dearest = Math.max(0, ...[...model.cash.terms.values()].map(Math.abs));
  return (most + 1) * dearest >= WEIGHTS ? [model.cash, tidy] : [tidy.plus(model.cash, most + 1)];
}

/** Fewest transactions, then fewest changes, then her preferences, in one sum of whole weights.
 * @param {Model} model */
function tidiness(model) {
  const mostPreference = 15 * model.mostUnits + 1;
  const mostChanges = 2 * model.mostUnits + 1;
  return model.preferences
    .plus(model.changes, mostPreference)
    .plus(model.transactions, mostPreference * mostChanges);
}

/** A fixed weight for each column in each transaction. @param {Model} model */
function weights(model) {
  const total = new Sum();
  for (const [store, blocks] of model.blocks) {
    const columns = known(model.shelves, store).columns;
    for (const [place, block] of blocks.entries()) {
      for (const [each, variable] of block.columns.entries()) {
        total.add(variable, fixedWeight(`${columns[each].key}#${place}`));
      }
      for (const [coupon, uses] of block.basketUses) {
        for (const variable of uses.terms.keys()) total.add(variable, fixedWeight(`${coupon}#${place}`));
      }
    }
  }
  return total;
}

const UTF_8 = new TextEncoder();

/**
 * A number from 1 to 2^20 that only depends on the key: FNV-1a, 32 bits, folded.
 * @param {string} key
 */
export function fixedWeight(key) {
  let mixed = 2166136261;
  for (const byte of UTF_8.encode(key)) mixed = Math.imul(mixed ^ byte, 16777619) >>> 0;
  return (((mixed >>> 12) ^ (mixed & 0xfff)) % WEIGHTS) + 1;
}
