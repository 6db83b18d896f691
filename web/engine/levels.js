/**
 * The levels of the objective, solved one after the other, to one plan and no other.
 * Twin of `server/engine/levels.py`, which names them.
 */

import { known } from './entries.js';
import { Program, Sum, added, one } from './program.js';
import { minimize, remembers } from './solver.js';

/** @import { Model } from './model.js' */
/** @import { Solution } from './solver.js' */

// Weights of the last level: wide enough that two different plans hardly ever weigh the same,
// narrow enough that a trip's sum stays under 2^31.
const WEIGHTS = 2 ** 20;

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
  const met = metIn(model);
  const atOnce = minimize(met, goal(model));
  if (atOnce !== null) return lowerLevels(model, met, atOnce);
  const fewest = minimize(model.program, model.unmet);
  if (fewest === null) return null;
  const program = fixed(model.program, model.unmet, fewest.value);
  const best = minimize(program, goal(model));
  if (best === null) throw new Error('the solver lost the plan that it had found');
  return lowerLevels(model, program, best);
}

/** Whether the model was asked lately, so that its answer costs next to nothing. @param {Model} model */
export const wasSolved = (model) => remembers(metIn(model), goal(model));

/** The program with every need met. @param {Model} model */
function metIn(model) {
  const met = new Program([...model.program.lower], [...model.program.upper], [...model.program.rows]);
  for (const variable of model.missing.values()) met.upper[variable] = 0;
  return met;
}

/**
 * The best plan of a model by all levels if it has fewer missing units than `unmet` or a lower
 * level-2 value than `value`; else null: nothing is better.
 * @param {Model} model @param {number} unmet @param {number} value
 * @returns {Solved | null}
 */
export function betterThan(model, unmet, value) {
  if (unmet) {
    const fewest = minimize(model.program, model.unmet);
    if (fewest !== null && fewest.value < unmet) return solveLevels(model);
  }
  const program = fixed(model.program, model.unmet, unmet);
  const best = minimize(program, goal(model));
  if (best === null || model.value.value(best.values) >= value) return null;
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
    const [more, fewer] = [program.variable(0, 1), program.variable(0, 1)];
    program.require(one(variable).plus(one(more), -(count + 1)), { low: 0 });
    program.require(one(variable).plus(one(fewer), most - count + 1), { high: most });
    differs = added([differs, one(more), one(fewer)]);
  }
  const other = program.variable(0, 1);
  program.require(unbought.plus(one(other), -1), { low: 0 });
  program.require(differs.plus(one(other)), { low: 1 });
  return { ...model, program };
}

/** Levels 2 and 3 in one: value, weighed above every count of units. @param {Model} model */
const goal = (model) => new Sum().plus(model.value, model.mostUnits + 1).plus(model.units, -1);

/**
 * Levels 4 to 6, each with the ones before it fixed.
 * @param {Model} model @param {Program} start @param {Solution} reached
 * @returns {Solved}
 */
function lowerLevels(model, start, reached) {
  let best = reached;
  let program = fixed(start, goal(model), best.value);
  for (const level of [model.cash, tidiness(model), weights(model)]) {
    if (level.terms.size === 0) continue;
    const found = minimize(program, level);
    // The plan before satisfies every row, so there is one.
    if (found === null) throw new Error('the solver lost the plan that it had found');
    program = fixed(program, level, found.value);
    best = found;
  }
  return {
    values: best.values,
    unmet: model.unmet.value(best.values),
    value: model.value.value(best.values),
    cash: model.cash.value(best.values),
  };
}

/** The program with one level held at its optimum (half a unit of room for the solver's tolerance).
 * @param {Program} program @param {Sum} level @param {number} value */
function fixed(program, level, value) {
  const held = new Program(program.lower, program.upper, [...program.rows]);
  held.require(level, { high: value + 0.5 });
  return held;
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
