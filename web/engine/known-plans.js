/**
 * Plans made lately, by what they were made from, and what one worker may learn of them from another.
 * The server's are in `server/engine/planner.py`: there, one process does it all.
 */

import { situationAfter } from './history.js';
import { filledPlan } from './papers.js';
import { asText, spotKey } from './situation.js';

/** @import { Situation, Spot } from './situation.js' */
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
/** The situations that the trolley had a say in last, as text, each with all but its trolley as text.
 * @type {Map<string, {besides: string, situation: Situation}>} */
const WITH_TROLLEY = new Map();
const MOST_WITH_TROLLEY = 8;
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

/**
 * A plan that was made lately with less in the trolley and buys what has come into it since: that decides
 * nothing. Only what lies beside an empty shelf (`held`) must be the same, since no more of it can be had.
 * @param {Situation} situation @param {Situation['trolley']} held @param {Prove} prove
 * @returns {Filled<Plan> | undefined}
 */
export function madeWithLess(situation, held, prove) {
  const besides = asKey({ ...situation, trolley: held });
  for (const before of [...WITH_TROLLEY.values()].reverse()) {
    if (before.besides !== besides) continue;
    const less = [...before.situation.trolley];
    if (less.some(([spot, units]) => units > (situation.trolley.get(spot) ?? 0))) continue;
    // It may have been proven, or another found better, since it was kept.
    const written = madeLately(before.situation, prove);
    if (written !== undefined && buysAll(written, situation.trolley)) return written;
  }
  return undefined;
}

/** Keeps in mind that there is a plan of the situation, for `madeWithLess`.
 * @param {Situation} situation @param {Situation['trolley']} held */
export function keepWithTrolley(situation, held) {
  const besides = asKey({ ...situation, trolley: held });
  keep(WITH_TROLLEY, asKey(situation), { besides, situation }, MOST_WITH_TROLLEY);
}

/** Whether a plan buys what lies in the trolley. @param {Plan} written @param {Situation['trolley']} trolley */
export function buysAll(written, trolley) {
  const planned = homeUnits(written);
  return [...trolley].every(([spot, units]) => (planned.get(spot) ?? 0) >= units);
}

/**
 * Units per (store, product) of a plan.
 * @param {Plan} written
 * @returns {Map<Spot, number>}
 */
export function homeUnits(written) {
  /** @type {Map<Spot, number>} */
  const units = new Map();
  for (const planned of written.transactions) {
    for (const line of planned.transaction.lines) {
      const spot = spotKey(planned.store, line.product);
      units.set(spot, (units.get(spot) ?? 0) + line.units);
    }
  }
  return units;
}

/**
 * Keeps a thing, and forgets those that were kept longest ago.
 * @template T
 * @param {Map<string, T>} things @param {string} key @param {T} thing
 */
function keep(things, key, thing, most = MOST_PLANS) {
  things.delete(key);
  things.set(key, thing);
  for (const oldest of things.keys()) {
    if (things.size <= most) break;
    things.delete(oldest);
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
  WITH_TROLLEY.clear();
}
