/** What the plan bench measures inside the page, in milliseconds. */

import { learnHome } from '../../web/engine/known-plans.js';
import { forget, makeAhead, plan, warmUp } from '../../web/engine/planner.js';
import { loadSolver } from '../../web/engine/solver.js';

/** @import { Happened, Trip } from '../../web/engine/types.js' */

/**
 * The first plan with nothing known; then, with the proven plan that she left home with, as the phone carries
 * it: `taps` replans after one report each, as in the aisle, with what was solved before remembered, the same
 * with the empty shelves planned ahead, as while she walks on, and a replan of the whole trip after all of
 * them with nothing else remembered, as when the page is opened anew.
 * @param {Trip} trip @param {number} taps
 */
export async function measure(trip, taps) {
  await loadSolver();
  plan(trip, { entries: [] }, false); // the code itself warms up
  forget();
  const first = time(() => plan(trip, { entries: [] }, false));
  const home = plan(trip, { entries: [] }, true);
  const spots = home.transactions.flatMap((each) => {
    return each.transaction.lines.map((line) => ({ store: each.store, product: line.product }));
  });
  /** @type {Happened['entries']} */
  const entries = Array.from({ length: taps }, (_, tap) => {
    const spot = spots[(tap * 7) % spots.length];
    const report = tap % 3 === 0 ? { kind: 'shelf_empty', ...spot } : { kind: 'in_trolley', ...spot, units: 1 };
    return [`event-${tap}`, /** @type {Happened['entries'][number][1]} */ (report)];
  });
  const at = (/** @type {number} */ tap) => ({ entries: entries.slice(0, tap + 1) });
  const carried = () => {
    forget();
    learnHome(trip, home);
  };
  carried();
  const whole = time(() => plan(trip, at(taps - 1), 'known'));
  carried();
  // As once the page was opened (`TripInHand.wake`).
  warmUp(trip, { entries: [] });
  const times = entries.map((_, tap) => time(() => plan(trip, at(tap), 'known')));
  carried();
  warmUp(trip, { entries: [] });
  const ahead = entries.map(([, report], tap) => {
    if (report.kind === 'shelf_empty') makeAhead(trip, at(tap));
    return time(() => plan(trip, at(tap), 'known'));
  });
  return { first, whole, taps: times, ahead };
}

/** @param {() => unknown} work */
function time(work) {
  const started = performance.now();
  work();
  return performance.now() - started;
}
