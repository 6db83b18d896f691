/**
 * Whether one unit more, or one fewer, is worth it: the whole trip planned again under that condition.
 * Runs in the engine's worker, so it imports by relative path.
 */

import { andThen } from '../engine/replan.js';
import { plan } from '../engine/planner.js';

/** @import { Happened, Plan, Trip } from '../engine/types.js' */

/**
 * @typedef {object} OtherCount
 * @property {number} units of the want in the plan then
 * @property {number} netChange cents that the trip costs more
 * @property {number} valueChange the same less what the units are worth to her; below zero is worth it
 */

/**
 * @param {Trip} trip @param {Happened} happened
 * @param {string} want
 * @param {number} units to buy now
 * @returns {{more: OtherCount | null, fewer: OtherCount | null}} null where the count cannot be had
 */
export function oneMore(trip, happened, want, units) {
  const before = plan(trip, happened, false);
  const counted = (/** @type {number} */ count) => {
    const after = plan(trip, andThen(happened, { kind: 'need_changed', want, need: count, welcome: count }), false);
    const bought = unitsOf(after, want);
    if (bought !== count) return null;
    const netChange = net(after) - net(before);
    return { units: bought, netChange, valueChange: netChange - (worth(after) - worth(before)) };
  };
  return { more: counted(units + 1), fewer: units > 0 ? counted(units - 1) : null };
}

/** @param {Plan} plan @param {string} want */
const unitsOf = (plan, want) =>
  plan.deals.filter((deal) => deal.want === want).reduce((sum, deal) => sum + deal.units, 0);

/** @param {Plan} plan */
const net = (plan) => plan.totals.net_cents ?? 0;

/** @param {Plan} plan */
const worth = (plan) => plan.totals.worth_cents ?? 0;
