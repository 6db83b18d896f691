/**
 * What a program without whole numbers says of the one with them: which variables are far from the best.
 * Twin of `server/engine/relaxing.py`.
 */

import { Program } from './program.js';
import { minimize, relax } from './solver.js';

/** @import { Sum } from './program.js' */
/** @import { Relaxed, Solution } from './solver.js' */

// A reduced cost that is none, a fraction that is none: the solver's own tolerance is 1e-7.
const NO_COST = 1e-6;
const NO_FRACTION = 1e-6;

// The share of reduced costs that the best is guessed not to be farther than from the best in fractions.
const NEAR = 0.35;

/**
 * The least of a goal, and the program with bounds that no solution as good passes; null where no values
 * satisfy the rows.
 *
 * The program without whole numbers says of most variables that they are far from the best. So it is looked
 * for without those, first by a guess at how far the best is from the best in fractions; an answer within the
 * guess is the best of all, and one beyond it says what may still be left out.
 * @param {Program} program @param {Sum} aim @param {number} [fewest] with fewer variables the program is asked at once
 * @returns {[Program, Solution] | null}
 */
export function leastOf(program, aim, fewest = 0) {
  const relaxed = program.lower.length < fewest ? null : relax(program, aim);
  let best = relaxed === null ? minimize(program, aim) : roundedUp(program, aim, relaxed);
  if (relaxed === null) return best === null ? null : [program, best];
  if (best === null) {
    const guess = relaxed.value + nearCost(relaxed);
    best = minimize(tightened(program, relaxed, guess), aim);
    if (best === null) best = minimize(program, aim);
    else if (best.value > guess) best = minimize(tightened(program, relaxed, best.value), aim);
  }
  return best === null ? null : [tightened(program, relaxed, best.value), best];
}

/** The reduced cost that so much of them lies below. @param {Relaxed} relaxed */
function nearCost({ reducedCosts }) {
  const costs = reducedCosts.map(Math.abs).filter((cost) => cost > NO_COST).sort((one, other) => one - other);
  return costs[Math.floor(costs.length * NEAR)] ?? 0;
}

/**
 * The best in whole numbers, where it is the best in fractions rounded up: that satisfies the rows and
 * costs no more. So it is in most clusters (`relaxing.py`).
 * @param {Program} program @param {Sum} aim @param {Relaxed} relaxed
 * @returns {Solution | null}
 */
function roundedUp(program, aim, relaxed) {
  // `+ 0` because JavaScript tells a negative zero from zero.
  const values = relaxed.values.map((value) => Math.ceil(value - NO_FRACTION) + 0);
  const value = aim.value(values);
  // Every whole solution's value is a whole number.
  if (value > relaxed.value + 0.5) return null;
  if (values.some((each, variable) => each > program.upper[variable])) return null;
  for (const { terms, low, high } of program.rows) {
    let total = 0;
    for (const [variable, each] of terms) total += each * values[variable];
    if (total < low || total > high) return null;
  }
  return { values, value, bound: value };
}

/**
 * The program with bounds that no solution passes whose goal is at most `value` (`relaxing.py` tells how).
 * @param {Program} program @param {Relaxed} relaxed the program's and the goal's
 * @param {number} value
 */
export function tightened(program, relaxed, value) {
  const held = new Program([...program.lower], [...program.upper], program.rows);
  const room = value - relaxed.value + 1.5;
  for (const [variable, cost] of relaxed.reducedCosts.entries()) {
    if (Math.abs(cost) <= NO_COST) continue;
    const most = Math.floor(room / Math.abs(cost));
    if (cost > 0) {
      held.upper[variable] = Math.min(held.upper[variable], held.lower[variable] + most);
    } else if (held.upper[variable] - most > held.lower[variable]) {
      held.lower[variable] = held.upper[variable] - most;
    }
  }
  return held;
}
