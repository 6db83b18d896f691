/**
 * Step 3 of the planner: is anything better than what the clusters gave?
 * Twin of `server/engine/better.py`.
 */

import { EQUALS_OPEN, bestByTheRegister, certain, unitsIn } from './laid-out.js';
import { betterThan } from './levels.js';
import { buildModel } from './model.js';
import { floorDivide } from './money.js';
import { countsOfBetter, variablesLeft, within } from './near.js';
import { compare } from './order.js';
import { proven, unproven } from './writing.js';

/** @import { Shelf } from './block.js' */
/** @import { Draft, PutTogether } from './drafting.js' */
/** @import { Solved } from './levels.js' */
/** @import { Model } from './model.js' */
/** @import { Situation } from './situation.js' */
/** @import { Filled, Plan, Want } from './types.js' */

// Where a better plan could differ in more variables than this, step 3 is not asked: it may take minutes. The
// plan tells its gap, mostly cents. The server's figure is four times it.
const PROVABLE_PROGRAM = 1_000;

// How often a program of so many columns, or fewer, is asked again where the register's figure falls short of
// its optimum; a larger one the less often, since each question takes the longer.
const MOST_QUESTIONS = 24;
const ASKED_MOST = 120;

/** How often a program of so many columns is asked again at most. @param {number} columns */
export const mostQuestions = (columns) =>
  floorDivide(MOST_QUESTIONS * ASKED_MOST ** 2, Math.max(columns, ASKED_MOST) ** 2);

/**
 * Step 3: a better plan than the draft, or the draft and what is known of it.
 * @param {Situation} situation @param {Map<string, Shelf>} shelves @param {readonly Filled<Want>[]} wants
 * @param {PutTogether} draft
 * @param {boolean} asksForMore whether one that buys more for the same is better
 * @param {number} questions
 * @returns {Filled<Plan> | PutTogether}
 */
export function anythingBetter(situation, shelves, wants, draft, asksForMore, questions) {
  const asked = betterInWhole(situation, shelves, wants, draft, asksForMore);
  if (asked === null) return draft;
  const [whole, best] = asked;
  let bound = certain(whole, draft.value);
  if (best === null) return { ...draft, written: proven(situation, draft.written, bound, draft.value), bound };
  const found = bestByTheRegister(situation, whole, best, questions);
  if (compare(rank(found), rank(draft)) < 0) return found.written;
  // The clusters' bound holds too.
  bound = found.bound === null || draft.bound === null ? found.bound : Math.max(found.bound, draft.bound);
  let written = proven(situation, draft.written, bound, draft.value);
  if (written.proof.optimal && asksForMore && !found.written.proof.optimal) {
    written = unproven(written, EQUALS_OPEN);
  }
  return { ...draft, written, bound };
}

/** What drafts are compared by: missing units, level 2, units as less than none. @param {Draft} draft */
const rank = ({ unmet, value, written }) => [unmet, value, -unitsIn(written)];

/**
 * The whole program, and its best plan where that is better than the draft; null where it is too large to be
 * asked.
 * @param {Situation} situation @param {Map<string, Shelf>} shelves @param {readonly Filled<Want>[]} wants
 * @param {PutTogether} draft @param {boolean} asksForMore as above
 * @returns {[Model, Solved | null] | null}
 */
function betterInWhole(situation, shelves, wants, draft, asksForMore) {
  const whole = buildModel(situation, shelves, wants, 'untendered');
  const counts = draft.unmet > 0 ? new Map() : countsOfBetter(draft.solved, draft.value + Number(asksForMore));
  if (counts === null) return [whole, null];
  const narrowed = within(whole, counts);
  if (variablesLeft(narrowed) > PROVABLE_PROGRAM) return null;
  // Without tenders the question is easier, and mostly answered: nothing is better.
  const units = unitsIn(draft.written);
  const best = betterThan(narrowed, draft.unmet, draft.value, units);
  if (best === null) return [whole, null];
  const tendered = buildModel(situation, shelves, wants, 'whole');
  return [tendered, betterThan(within(tendered, counts), draft.unmet, draft.value, units)];
}
