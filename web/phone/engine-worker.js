/**
 * The whole engine, in a worker of its own: questions in, answers out, one at a time.
 *
 * Imports are by relative path: a page's import map does not reach into workers. The solver's
 * WebAssembly is loaded with the first question, once (`loadSolver` remembers).
 */

import { learn, learnHome, learnMade, provenLately } from '../engine/known-plans.js';
import { makeAhead, plan, warmUp } from '../engine/planner.js';
import { breakEven, swaps } from '../engine/replan.js';
import { Paused, forAWhile, loadSolver } from '../engine/solver.js';
import { oneMore } from './one-more.js';

/** @import { Happened, Trip } from '../engine/types.js' */
/** @import { Proof, Question } from './engine-bridge.js' */

/** Milliseconds of a long work after which something newer may be asked. */
const A_WHILE = 200;
/** The same where a tap is what may be asked. */
const A_MOMENT = 50;

self.addEventListener('message', async ({ data }) => {
  const { id } = data;
  try {
    postMessage({ id, answer: await answer(data) });
  } catch (error) {
    postMessage({ id, trouble: error instanceof Error ? `${error.message}\n${error.stack}` : String(error) });
  }
});

/** @type {Trip} the trip of the last question, which the next one may leave out */
let lastTrip;

/** @param {Question} question */
async function answer({
  ask, trip = lastTrip, happened, store = '', product = '', want = '', units = 0, home, proven = [], made = [],
}) {
  lastTrip = trip;
  await loadSolver();
  learn(proven);
  learnMade(made);
  if (home) learnHome(trip, home);
  switch (ask) {
    case 'plan':
      return plan(trip, happened, 'known');
    case 'proof':
      return inPiece(() => ({ plan: plan(trip, happened, true), proven: provenLately() }));
    case 'ahead':
      return inPiece(() => makeAhead(trip, happened));
    case 'warmed':
      return inPiece(() => warmedUp(trip, happened), A_MOMENT);
    case 'swaps':
      return swaps(trip, happened, store, product);
    case 'break_even':
      return breakEven(trip, happened, store, product);
    case 'one_more':
      return oneMore(trip, happened, want, units);
  }
}

/** @param {Trip} trip @param {Happened} happened @returns {true} */
function warmedUp(trip, happened) {
  warmUp(trip, happened);
  return true;
}

/**
 * The answer of a long work, or null where there is more to ask first.
 * @template T
 * @param {() => T} work @param {number} [milliseconds]
 * @returns {T | null}
 */
function inPiece(work, milliseconds = A_WHILE) {
  try {
    return forAWhile(milliseconds, work);
  } catch (error) {
    if (error instanceof Paused) return null;
    throw error;
  }
}
