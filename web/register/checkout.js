/** Which transactions are done, which are to do, and what "done" reports. Pure. */

import { daysAfter } from '../engine/calendar.js';
import { keyOf } from '../phone/fold.js';
import { longDay } from '../phone/report-words.js';

/** @import { Earned, Plan, PlannedTransaction, Report, Transaction } from '../engine/types.js' */
/** @import { Standing } from '../phone/fold.js' */
/** @import { Reported } from '../phone/phone-store.js' */

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
 * What is reported when a transaction went through: the transaction itself, then each reward that did
 * not come out, which names the transaction's event.
 * @param {Transaction} transaction as it went
 * @param {number} shownTotalCents the total that the register showed
 * @param {ReadonlySet<string>} missing rewards (offer ids) that did not come out
 * @returns {Reported[]}
 */
export function doneReports(transaction, shownTotalCents, missing) {
  return [
    {
      kind: 'transaction_done',
      transaction,
      shown_total_cents: shownTotalCents,
      printed: null,
    },
    ...[...missing].map((offer) => (/** @type {readonly string[]} */ ids) =>
      /** @type {Report} */ ({ kind: 'not_printed', done: ids[0], offer })),
  ];
}

/**
 * "printed slip, good until Saturday, December 19", as the offer says it.
 * @param {PlannedTransaction} planned @param {Earned} earned
 */
export function slipWords({ transaction }, { offer }) {
  const days = transaction.rewards?.find((reward) => reward.id === offer)?.valid_days;
  if (days === undefined) return 'printed slip; its last day stands on it';
  return `printed slip, good until ${longDay(daysAfter(transaction.day, days), transaction.day)}`;
}
