/** Which transactions are done, which are to do, and what "done" reports. Pure. */

import { keyOf } from '../phone/fold.js';

/** @import { Earned, Plan, PlannedTransaction, Report, Slip, Trip } from '../engine/types.js' */
/** @import { Standing } from '../phone/fold.js' */

/** @param {PlannedTransaction} planned */
export const nameOf = (planned) => `${planned.store}.${planned.number}`;

/**
 * How many transactions a store sees on this trip, those done included.
 * @param {Plan} plan @param {Standing} standing @param {string} store
 */
export const transactionsAt = (plan, standing, store) =>
  plan.transactions.filter((planned) => planned.store === store).length +
  standing.done.filter(({ report }) => report.transaction.store.id === store).length;

/**
 * Planned units of a store that do not lie in the trolley yet.
 * @param {Plan} plan @param {Standing} standing @param {string} store
 * @returns {{product: string, units: number}[]}
 */
export function notInTrolley(plan, standing, store) {
  /** @type {Map<string, number>} */
  const planned = new Map();
  for (const deal of plan.deals) {
    if (deal.store === store) planned.set(deal.product, (planned.get(deal.product) ?? 0) + deal.units);
  }
  return [...planned]
    .map(([product, units]) => ({ product, units: units - (standing.trolley.get(keyOf(store, product)) ?? 0) }))
    .filter(({ units }) => units > 0);
}

/**
 * Whether the loyalty account has a part in a transaction: offers, rewards or loaded coupons.
 * @param {PlannedTransaction} planned
 */
export function accountFirst({ transaction, receipt }) {
  const used = new Set((transaction.uses ?? []).map((use) => use.coupon));
  return (transaction.offer_uses ?? []).length > 0
    || receipt.earned.length > 0
    || (transaction.coupons ?? []).some((coupon) => coupon.form === 'digital' && used.has(coupon.id));
}

/**
 * What is reported when a transaction went through.
 * @param {PlannedTransaction} planned
 * @param {number} shownTotalCents the total that the register showed
 * @param {ReadonlySet<string>} missing rewards (offer ids) that did not come out
 * @returns {Report}
 */
export function doneReport(planned, shownTotalCents, missing) {
  return {
    kind: 'transaction_done',
    transaction: planned.transaction,
    shown_total_cents: shownTotalCents,
    printed: missing.size === 0 ? null : printedSlips(planned, missing),
  };
}

/** @param {PlannedTransaction} planned @param {ReadonlySet<string>} missing @returns {Slip[]} */
function printedSlips({ transaction, receipt, store, number }, missing) {
  return receipt.earned
    .filter((earned) => earned.kind === 'slip' && !missing.has(earned.offer))
    .flatMap((earned) => Array.from({ length: earned.times }, (_, k) => ({
      // The name that the plan's later transactions know it by.
      id: `${earned.offer}.${store}.${number}.${k + 1}`,
      store,
      cents: earned.each_cents,
      until: lastDay(transaction.day, validDays(transaction, earned)),
      offer: earned.offer,
    })));
}

/** @param {PlannedTransaction['transaction']} transaction @param {Earned} earned */
const validDays = (transaction, earned) =>
  (transaction.rewards ?? []).find((reward) => reward.id === earned.offer)?.valid_days ?? 14;

/** @param {string} day ISO date @param {number} days */
function lastDay(day, days) {
  const date = new Date(`${day}T00:00:00Z`);
  date.setUTCDate(date.getUTCDate() + days);
  return date.toISOString().slice(0, 10);
}
