/**
 * Step 3 of the planner: is anything better than what the clusters gave?
 * Twin of `server/engine/better.py`.
 */

import { isReached } from './apart.js';
import { sum } from './belt.js';
import { bestByTheRegister, certain, equalsOpen, mayTakeLessCash, unitsIn, withLeastCash } from './laid-out.js';
import { betterThan } from './levels.js';
import { buildModel } from './model.js';
import { floorDivide } from './money.js';
import { countsAsGood, variablesLeft, within } from './near.js';
import { compare } from './order.js';
import { proven } from './writing.js';

/** @import { Shelf } from './block.js' */
/** @import { Draft, PutTogether } from './drafting.js' */
/** @import { Model } from './model.js' */
/** @import { Situation } from './situation.js' */
/** @import { Filled, Plan, Want } from './types.js' */

// Where a better plan could differ in more variables than this, step 3 is not asked: it may take minutes. The
// plan tells its gap, mostly cents. The server's figure is four times it.
const PROVABLE_PROGRAM = 1_000;

// The same for less cash, where ways are left out and nothing is proven by it. Both twins use the same figure.
const UNPROVABLE_PROGRAM = 300;

// How often a program of so many columns, or fewer, is asked again where the register's figure falls short of
// its optimum; a larger one the less often, since each question takes the longer.
const MOST_QUESTIONS = 24;
const ASKED_MOST = 120;

/** How often a program of so many columns is asked again at most. @param {number} columns */
export const mostQuestions = (columns) =>
  floorDivide(MOST_QUESTIONS * ASKED_MOST ** 2, Math.max(columns, ASKED_MOST) ** 2);

/**
 * Step 3: a plan that is better than the draft on any level, or the draft and what is known of it.
 * @param {Situation} situation @param {Map<string, Shelf>} shelves @param {readonly Filled<Want>[]} wants
 * @param {PutTogether} draft
 * @param {boolean} isLowered whether the draft is worth less for a cash ceiling
 * @param {number} questions how often the program is asked again where the register does not bear its answer out
 * @returns {Filled<Plan>}
 */
export function bestAsAWhole(situation, shelves, wants, draft, isLowered, questions) {
  const [asksForCash, asksForMore] = [mayTakeLessCash(situation, draft, shelves), mayBuyMore(draft)];
  if (draft.written.proof.optimal && !asksForCash && !asksForMore) return draft.written;
  const counts = missesTheFewest(draft) ? countsAsGood(draft.solved, draft.value) : new Map();
  const whole = within(buildModel(situation, shelves, wants, 'whole'), counts);
  if (variablesLeft(whole) > PROVABLE_PROGRAM) return equalsOpen(draft.written);
  let best = draft;
  if (asksForMore) {
    // Without tenders the question is easier, and mostly answered: nothing is better. But without them there is
    // no ceiling either.
    const easier = isLowered ? [] : [within(buildModel(situation, shelves, wants, 'untendered'), counts)];
    const better = anythingBetter(situation, [...easier, whole], draft, questions);
    if ('transactions' in better) return better;
    best = better;
  }
  const asks = asksForCash && (whole.whole || variablesLeft(whole) <= UNPROVABLE_PROGRAM);
  return asks ? withLeastCash(situation, best, whole) : best.written;
}

/** Whether a plan could be worth more than the draft, or buy more for the same. @param {PutTogether} draft */
export const mayBuyMore = (draft) => !(missesTheFewest(draft) && isReached(draft.solved, draft.value));

/** Whether no plan can miss fewer units: the clusters by themselves miss as many. @param {PutTogether} draft */
const missesTheFewest = ({ unmet, solved }) => unmet === sum(solved.map(([, answer]) => answer.unmet));

/**
 * A plan that is better than the draft or buys more for the same, or the draft with what is known of it.
 * @param {Situation} situation
 * @param {readonly Model[]} asked the last is the whole program; where an earlier has none, it has none either
 * @param {PutTogether} draft @param {number} questions
 * @returns {Filled<Plan> | PutTogether}
 */
function anythingBetter(situation, asked, draft, questions) {
  const units = unitsIn(draft.written);
  const whole = asked[asked.length - 1];
  let best = null;
  for (const model of asked) {
    best = betterThan(model, draft.unmet, draft.value, units);
    if (best === null) break;
  }
  if (best === null) {
    const bound = certain(whole, draft.value);
    return { ...draft, written: proven(situation, draft.written, bound, draft.value), bound };
  }
  const found = bestByTheRegister(situation, whole, best, questions);
  if (compare(rank(found), rank(draft)) < 0) return found.written;
  // The clusters' bound holds too.
  const bound = found.bound === null || draft.bound === null ? found.bound : Math.max(found.bound, draft.bound);
  const written = proven(situation, draft.written, bound, draft.value);
  return { ...draft, written: found.written.proof.optimal ? written : equalsOpen(written), bound };
}

/** What drafts are compared by: missing units, level 2, units as less than none, cash, transactions.
 * @param {Draft} draft */
function rank({ unmet, value, written }) {
  const { out_of_pocket_cents: cash, transactions } = written.totals;
  return [unmet, value, -unitsIn(written), cash, transactions];
}
