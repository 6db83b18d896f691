/**
 * What the tests ask of the planner's twin, inside the browser: lists of questions in, lists of
 * answers out, with every default written out.
 */

import { filledPlan, filledReport, filledTransaction } from '../../web/engine/papers.js';
import { plan } from '../../web/engine/planner.js';
import { checkReceipt } from '../../web/engine/receipts.js';
import { breakEven, swaps } from '../../web/engine/replan.js';
import { loadSolver } from '../../web/engine/solver.js';

/** @import { Happened, Plan, Trip } from '../../web/engine/types.js' */

/** A trip and what happened on it. @typedef {{trip: Trip, happened: Happened['entries'], prove?: boolean}} Story */

/** @typedef {Story & {store: string, product: string}} AtTheShelf */

/**
 * The plan of each story; what the planner throws is told as its message.
 * @param {Story[]} stories
 */
export async function runPlans(stories) {
  await loadSolver();
  return stories.map(({ trip, happened, prove }) => {
    const before = JSON.stringify([trip, happened]);
    const answer = planned(trip, { entries: happened }, prove ?? true);
    if (JSON.stringify([trip, happened]) !== before) throw new Error('plan changed what it was given');
    return answer;
  });
}

/** @param {Trip} trip @param {Happened} happened @param {boolean} prove */
function planned(trip, happened, prove) {
  /** @type {Plan} */
  let answer;
  try {
    answer = plan(trip, happened, prove);
  } catch (error) {
    return { thrown: error instanceof Error ? error.message : String(error) };
  }
  for (const { transaction, receipt } of answer.transactions) {
    checkReceipt(filledTransaction(transaction), receipt);
  }
  return filledPlan(answer);
}

/**
 * What can be done about each empty shelf, and the highest tag that is still right there.
 * @param {AtTheShelf[]} shelves
 */
export async function runAtTheShelf(shelves) {
  await loadSolver();
  return shelves.map(({ trip, happened, store, product }) => ({
    swaps: swaps(trip, { entries: happened }, store, product).map((swap) => ({
      ...swap,
      reports: swap.reports.map(filledReport),
    })),
    breakEven: breakEven(trip, { entries: happened }, store, product),
  }));
}
