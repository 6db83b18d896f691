/**
 * Plans made lately, by what they were made from, and what one worker may learn of them from another.
 * The server's are in `server/engine/planner.py`: there, one process does it all.
 */

import { situationAfter } from './history.js';
import { filledPlan } from './papers.js';
import { asText } from './situation.js';

/** @import { Situation } from './situation.js' */
/** @import { Filled, Plan, Trip } from './types.js' */

/** Whether to take step 3 where it is needed; without it the plan tells its gap. `known`: a plan that was
 * proven lately, else one without it; what was proven lately is no part of the trip, so this is the
 * phone's own.
 * @typedef {boolean | 'known'} Prove */

// With proof, and without.
/** @type {Map<string, Filled<Plan>>} */
const PROVEN = new Map();
/** @type {Map<string, Filled<Plan>>} */
const PLANS = new Map();
const MOST_PLANS = 64;
// With the plan that she left home with, what one question proves.
const MOST_TOLD = 4;

/**
 * The plan of a situation, if it was made lately.
 * @param {Situation} situation @param {Prove} prove
 * @returns {Filled<Plan> | undefined}
 */
export function madeLately(situation, prove) {
  const key = asKey(situation);
  return (prove === false ? undefined : PROVEN.get(key)) ?? (prove === true ? undefined : PLANS.get(key));
}

/**
 * Keeps a plan.
 * @param {Situation} situation @param {boolean} proved @param {Filled<Plan>} written
 */
export function keepPlan(situation, proved, written) {
  keep(proved ? PROVEN : PLANS, asKey(situation), written);
}

/** @param {Map<string, Filled<Plan>>} plans @param {string} key @param {Filled<Plan>} written */
function keep(plans, key, written) {
  plans.delete(key);
  plans.set(key, written);
  for (const oldest of plans.keys()) {
    if (plans.size <= MOST_PLANS) break;
    plans.delete(oldest);
  }
}

/** The plans proven last, each with what it was made from, for another worker to `learn`.
 * @returns {[string, Filled<Plan>][]} */
export const provenLately = () => [...PROVEN].slice(-MOST_TOLD);

/** The plans made without proof while this was done, likewise for `learnMade`.
 * @param {() => void} work @returns {[string, Filled<Plan>][]} */
export function madeDuring(work) {
  const before = new Set(PLANS.keys());
  work();
  return [...PLANS].filter(([key]) => !before.has(key)).slice(-MOST_TOLD);
}

/** Takes over what another worker has proven. @param {readonly [string, Filled<Plan>][]} told */
export function learn(told) {
  for (const [key, written] of told) keep(PROVEN, key, written);
}

/** Takes over what another worker has planned. @param {readonly [string, Filled<Plan>][]} told */
export function learnMade(told) {
  for (const [key, written] of told) keep(PLANS, key, written);
}

/** Takes over the proven plan of a trip on which nothing has happened. @param {Trip} trip @param {Plan} home */
export function learnHome(trip, home) {
  keep(PROVEN, asKey(situationAfter(trip, { entries: [] })), filledPlan(home));
}

/** Everything that a plan is made from, as text. @param {Situation} situation */
function asKey(situation) {
  const besides = JSON.stringify([
    [...situation.trolley],
    [...situation.empty],
    situation.done,
    [...situation.used],
    [...situation.earned],
    [...situation.offerTransactions],
    situation.home === null ? null : [...situation.home],
    situation.notes,
  ]);
  return asText(situation.trip) + besides;
}

/** No plan made before is remembered: for benches. */
export function forget() {
  PROVEN.clear();
  PLANS.clear();
}
