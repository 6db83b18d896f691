/**
 * The whole engine, in a worker of its own: questions in, answers out, one at a time.
 *
 * Imports are by relative path: a page's import map does not reach into workers. The solver's
 * WebAssembly is loaded with the first question, once (`loadSolver` remembers).
 */

import { plan } from '../engine/planner.js';
import { breakEven, swaps } from '../engine/replan.js';
import { loadSolver } from '../engine/solver.js';
import { oneMore } from './one-more.js';

/** @import { Question } from './engine-bridge.js' */

self.addEventListener('message', async ({ data }) => {
  const { id } = data;
  try {
    postMessage({ id, answer: await answer(data) });
  } catch (error) {
    postMessage({ id, trouble: error instanceof Error ? `${error.message}\n${error.stack}` : String(error) });
  }
});

/** @param {Question} question */
async function answer({ ask, trip, happened, store = '', product = '', want = '', units = 0 }) {
  await loadSolver();
  switch (ask) {
    case 'plan':
      return plan(trip, happened);
    case 'swaps':
      return swaps(trip, happened, store, product);
    case 'break_even':
      return breakEven(trip, happened, store, product);
    case 'one_more':
      return oneMore(trip, happened, want, units);
  }
}
