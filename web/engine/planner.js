/**
 * The planner: a pure function from a trip and what happened to the plan.
 * Twin of `server/engine/planner.py`, which tells its three steps.
 *
 * `loadSolver` of `solver.js` must be done before the first plan; then everything answers at once.
 */

import { forget as forgetAnswers, groupsApart } from './apart.js';
import { sum } from './belt.js';
import { bestAsAWhole, mayBuyMore, mostQuestions } from './better.js';
import { forget as forgetReceipts, overCeilings } from './checkout.js';
import { draftOf } from './drafting.js';
import { situationAfter } from './history.js';
import { buysAll, forget as forgetPlans, homeUnits, keepPlan, keepWithTrolley } from './known-plans.js';
import { madeDuring, madeLately, madeWithLess } from './known-plans.js';
import { bestByTheRegister, equalsOpen, mayTakeLessCash } from './laid-out.js';
import { solveLevels } from './levels.js';
import { buildModel } from './model.js';
import { forget as forgetParts } from './parts.js';
import { forget as forgetPlaced } from './placing.js';
import { shelvesInParts, transactionsAllowed } from './shelves.js';
import { bought, hasCeilings, mostWelcome, spotOf, withoutCeilings } from './situation.js';
import { forget as forgetSolved } from './solver.js';
import { draftUnderCeilings } from './under-ceilings.js';

/** @import { Shelf } from './block.js' */
/** @import { Prove } from './known-plans.js' */
/** @import { Situation } from './situation.js' */
/** @import { Filled, Happened, Plan, Trip, Want } from './types.js' */

// A trip with up to this many columns, counted once for each transaction, is solved at once. Both
// twins use the same figure.
const SMALL_PROGRAM = 120;
// Up to this many, where a cash ceiling is passed, the proof asks the whole program at once too.
const CEILING_PROGRAM = 300;
// Up to this many, where there is no draft, the whole program is asked all the same.
const ASKED_AT_ONCE = 600;

/**
 * The best plan for a trip after what happened; pure, the same on every machine (`known` apart).
 * @param {Trip} trip @param {Happened | null} [happened] @param {Prove} [prove]
 * @returns {Filled<Plan>}
 */
export function plan(trip, happened = null, prove = true) {
  if (happened === null || happened.entries.length === 0) {
    return planSituation(situationAfter(trip, { entries: [] }), prove);
  }
  const home = homeUnits(plan(trip, null, prove));
  return planSituation(situationAfter(trip, happened, home), prove);
}

/**
 * The best plan from a situation. Where it would buy what lies in the trolley anyway, the trolley
 * decides nothing, so checking off what was planned asks the solver nothing. Nor does the plan that she
 * left home with, where a plan that was made without it buys the same.
 * @param {Situation} situation @param {Prove} prove
 * @returns {Filled<Plan>}
 */
export function planSituation(situation, prove) {
  // Beside an empty shelf the trolley is all that can be had, so there it counts.
  const held = new Map([...situation.trolley].filter(([spot]) => situation.empty.has(spot)));
  if (situation.home !== null) {
    const written = madeLately({ ...situation, trolley: held, home: null }, prove);
    if (written !== undefined && buysAsAtHome(situation, written)) return written;
  }
  if (held.size !== situation.trolley.size) {
    const written = remembered({ ...situation, trolley: held }, prove);
    if (buysAll(written, situation.trolley)) return written;
  }
  if (prove === 'known') {
    const before = madeLately(situation, prove) === undefined && madeWithLess(situation, held, prove);
    if (before) return before;
    keepWithTrolley(situation, held);
  }
  return remembered(situation, prove);
}

/**
 * Whether a plan buys what lies in the trolley, and in all what the plan that she left home with did.
 * @param {Situation} situation @param {Plan} written
 */
function buysAsAtHome(situation, written) {
  const home = situation.home ?? new Map();
  const planned = homeUnits(written);
  return (
    buysAll(written, situation.trolley) &&
    [...new Set([...home.keys(), ...planned.keys()])].every((spot) => {
      return (planned.get(spot) ?? 0) === (home.get(spot) ?? 0) - bought(situation, ...spotOf(spot));
    })
  );
}

/**
 * The plan of a situation, looked up or made.
 * @param {Situation} situation @param {Prove} prove
 * @returns {Filled<Plan>}
 */
function remembered(situation, prove) {
  const known = madeLately(situation, prove);
  if (known !== undefined) return known;
  const written = made(situation, prove === true);
  keepPlan(situation, prove === true, written);
  return written;
}

/**
 * Makes the plan of what may happen, for another worker to `learnMade`: the plan of now and the one that
 * follows are then known there by what they are made from.
 * @param {Trip} trip @param {Happened} happened
 * @returns {[string, Filled<Plan>][]}
 */
export function makeAhead(trip, happened) {
  return madeDuring(() => void plan(trip, happened, 'known'));
}

/**
 * Solves what a plan after the next report is put together from, whatever is known of the plan of now.
 * @param {Trip} trip @param {Happened} happened
 */
export function warmUp(trip, happened) {
  const home = homeUnits(plan(trip, null, 'known'));
  planSituation(situationAfter(trip, happened, home), false);
}

/** No plan made before is remembered, nor anything solved: for benches. */
export function forget() {
  forgetPlans();
  forgetAnswers();
  forgetParts();
  forgetPlaced();
  forgetReceipts();
  forgetSolved();
}

/**
 * The best plan from a situation, by the three steps.
 * @param {Situation} situation @param {boolean} prove
 * @returns {Filled<Plan>}
 */
function made(situation, prove) {
  const wants = situation.trip.wants.filter((want) => mostWelcome(want) > 0);
  const groups = groupsApart(situation, wants);
  const parts = shelvesInParts(situation, groups);
  const shelves = parts.byStore;
  const size = sum(
    [...shelves.values()].map(
      (shelf) => shelf.columns.length * transactionsAllowed(situation, shelf.counter.store),
    ),
  );
  let draft = size <= SMALL_PROGRAM ? null : draftOf(situation, parts, groups);
  if (draft !== null && overCeilings(situation, draft.cash) > 0) draft = null;
  let isLowered = false;
  const isLarge = size > (prove ? CEILING_PROGRAM : SMALL_PROGRAM);
  if (draft === null && isLarge && hasCeilings(situation.trip)) {
    const free = draftOf({ ...situation, trip: withoutCeilings(situation.trip) }, parts, groups);
    draft = free === null ? null : draftUnderCeilings(situation, free, parts, groups);
    isLowered = true;
  }
  if (draft === null && size > ASKED_AT_ONCE) return planSituation(eased(situation), prove);
  if (draft === null) return fromWhole(situation, shelves, wants, prove);
  if (!prove) {
    const asks = mayTakeLessCash(situation, draft, shelves) || mayBuyMore(draft);
    return asks ? equalsOpen(draft.written) : draft.written;
  }
  // A draft that no cent of rounding is missing from spares the whole program most of its search.
  if (!draft.written.proof.optimal && !isLowered) {
    const exact = draftOf(situation, parts, groups, null, true);
    if (exact !== null && overCeilings(situation, exact.cash) === 0 && exact.value < draft.value) draft = exact;
  }
  return bestAsAWhole(situation, shelves, wants, draft, isLowered, mostQuestions(size));
}

/**
 * @param {Situation} situation @param {ReadonlyMap<string, Shelf>} shelves
 * @param {readonly Filled<Want>[]} wants @param {boolean} prove
 */
function fromWhole(situation, shelves, wants, prove) {
  const whole = buildModel(situation, shelves, wants, 'whole');
  const answer = solveLevels(whole);
  if (answer === null) return planSituation(eased(situation), prove);
  return bestByTheRegister(situation, whole, answer, prove ? mostQuestions(0) : 0).written;
}

/**
 * The situation without what nothing can keep to: first the cash ceilings that the trolley
 * has passed already, then the trolley's units that a purchase limit forbids.
 *
 * The plan's notes say so.
 * @param {Situation} situation
 * @returns {Situation}
 */
function eased(situation) {
  const { trip } = situation;
  if (hasCeilings(trip)) {
    const note = 'The cash ceiling cannot be kept: what is in the trolley or chosen costs more.';
    return { ...situation, trip: withoutCeilings(trip), notes: [...situation.notes, note] };
  }
  if (situation.trolley.size > 0) {
    const note = "A store's purchase limit forbids some of what is in the trolley or chosen.";
    return { ...situation, trolley: new Map(), notes: [...situation.notes, note] };
  }
  throw new Error('even an empty plan breaks a rule of the program');
}
