/**
 * The whole engine, in a worker of its own: questions in, answers out, one at a time.
 *
 * Imports are by relative path: a page's import map does not reach into workers. The solver's
 * WebAssembly is loaded with the first question, once (`loadSolver` remembers).
 */

import { learn, learnHome, plan, provenLately } from '../engine/planner.js';
import { breakEven, swaps } from '../engine/replan.js';
import { Paused, forAWhile, loadSolver } from '../engine/solver.js';
import { oneMore } from './one-more.js';

/** @import { Happened, Trip } from '../engine/types.js' */
/** @import { Proof, Question } from './engine-bridge.js' */

/** Milliseconds of a proof after which something newer may be asked. */
const A_WHILE = 200;

self.addEventListener('message', async ({ data }) => {
  const { id } = data;
  try {
    postMessage({ id, answer: await answer(data) });
  } catch (error) {
    postMessage({ id, trouble: error instanceof Error ? `${error.message}\n${error.stack}` : String(error) });
  }
});

/** @param {Question} question */
async function answer({ ask, trip, happened, store = '', product = '', want = '', units = 0, home, proven = [] }) {
  await loadSolver();
  learn(proven);
  if (home) learnHome(trip, home);
  switch (ask) {
    case 'plan':
      return plan(trip, happened, 'known');
    case 'proof':
      return proof(trip, happened);
    case 'swaps':
      return swaps(trip, happened, store, product);
    case 'break_even':
      return breakEven(trip, happened, store, product);
    case 'one_more':
      return oneMore(trip, happened, want, units);
  }
}

/**
 * The proven plan, or null where there is more to ask first.
 * @param {Trip} trip @param {Happened} happened
 * @returns {Proof | null}
 */
function proof(trip, happened) {
  try {
    const written = forAWhile(A_WHILE, () => plan(trip, happened, true));
    return { plan: written, proven: provenLately() };
  } catch (error) {
    if (error instanceof Paused) return null;
    throw error;
  }
}
