/** What the plan bench measures inside the page, in milliseconds. */

import { forget, plan } from '../../web/engine/planner.js';
import { loadSolver } from '../../web/engine/solver.js';

/** @import { Happened, Trip } from '../../web/engine/types.js' */

/**
 * The first plan, a replan of the whole trip with nothing remembered, and `taps` replans after one
 * report each, as in the aisle.
 * @param {Trip} trip @param {number} taps
 */
export async function measure(trip, taps) {
  await loadSolver();
  plan(trip, { entries: [] }, false); // the code itself warms up
  forget();
  const first = time(() => plan(trip, { entries: [] }, false));
  const home = plan(trip, { entries: [] }, false);
  const spots = home.transactions.flatMap((each) => {
    return each.transaction.lines.map((line) => ({ store: each.store, product: line.product }));
  });
  /** @type {Happened['entries']} */
  const entries = [];
  /** @type {number[]} */
  const times = [];
  for (let tap = 0; tap < taps; tap += 1) {
    const spot = spots[(tap * 7) % spots.length];
    const report = tap % 3 === 0 ? { kind: 'shelf_empty', ...spot } : { kind: 'in_trolley', ...spot, units: 1 };
    entries.push([`event-${tap}`, /** @type {Happened['entries'][number][1]} */ (report)]);
    times.push(time(() => plan(trip, { entries: [...entries] }, false)));
  }
  forget();
  const whole = time(() => plan(trip, { entries: [...entries] }, false));
  return { first, whole, taps: times };
}

/** @param {() => unknown} work */
function time(work) {
  const started = performance.now();
  work();
  return performance.now() - started;
}
