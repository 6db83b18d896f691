/**
 * The plan written down: transactions with their stacks, claims, totals, proof.
 * Twin of `server/engine/writing.py`.
 */

import { sum } from './belt.js';
import { daysAfter } from './calendar.js';
import { dealsOf, wantsOfProducts } from './deals.js';
import { floorDivide, roundHalfUp, show } from './money.js';
import { lapses, rewardWorth } from './objective.js';
import { compare, sorted } from './order.js';
import { filledPlan } from './papers.js';
import { reason } from './reasons.js';
import { transactionsDone } from './situation.js';
import { stacksOf } from './stacks.js';
import { holdsOn } from './shelf.js';
import { asksFor } from './ways.js';
import { stockWorth } from './worth.js';

/** @import { Paid } from './checkout.js' */
/** @import { Situation } from './situation.js' */
/** @import { Filled, Plan, PlannedTransaction, Proof, RebateClaim, Receipt } from './types.js' */
/** @import { RewardOffer, Totals, Transaction, Trip, Want } from './types.js' */

/** A transaction done or planned, with its receipt.
 * @typedef {{transaction: Filled<Transaction>, receipt: Receipt}} RungUp */

/**
 * The plan as a document.
 * @param {Situation} situation @param {readonly Paid[]} paid in checkout order
 * @param {ReadonlyMap<string, number>} missing units per want
 * @param {number | null} bound the least level-2 value that any plan can have, null where it is not known
 * @returns {Filled<Plan>}
 */
export function writePlan(situation, paid, missing, bound) {
  const trip = situation.trip;
  const claims = rebateClaims(situation, [...situation.done, ...paid]);
  const totals = totalsOf(situation, paid, claims);
  const byWant = new Map(trip.wants.map((want) => [want.id, want]));
  const perProduct = wantsOfProducts(trip);
  const numbers = new Map(trip.stores.map((store) => [store.id, transactionsDone(situation, store.id)]));
  /** @type {PlannedTransaction[]} */
  const transactions = paid.map(({ transaction, receipt }) => {
    const store = transaction.store.id;
    const number = (numbers.get(store) ?? 0) + 1;
    numbers.set(store, number);
    return {
      store,
      number,
      transaction,
      receipt,
      stacks: stacksOf(trip, perProduct, transaction, receipt),
      hand_over: transaction.uses.map((use) => use.coupon),
      prints: prints(trip, transaction, receipt),
    };
  });
  return filledPlan({
    trip: trip.id,
    trip_version: trip.version,
    transactions,
    deals: dealsOf(situation, paid, claims),
    unmet: sorted(missing, ([want]) => want).map(([want, units]) => ({
      want,
      missing: units,
      because: reason(situation, /** @type {Filled<Want>} */ (byWant.get(want)), missing),
    })),
    rebates: claims,
    totals,
    proof: proof(trip, levelValue(situation, paid, claims), bound),
    notes: notes(situation, totals),
  });
}

/** The level-2 value of a plan, by the register's figures.
 * @param {Situation} situation @param {readonly Paid[]} paid */
export function planValue(situation, paid) {
  return levelValue(situation, paid, rebateClaims(situation, [...situation.done, ...paid]));
}

/**
 * A plan with its proof said anew.
 * @param {Situation} situation @param {Filled<Plan>} written @param {number | null} bound
 * @param {number} value
 * @returns {Filled<Plan>}
 */
export function proven(situation, written, bound, value) {
  return { ...written, proof: proof(situation.trip, value, bound) };
}

/**
 * A plan of which it is not known how good it is, with the reason.
 * @param {Filled<Plan>} written @param {string} words
 * @returns {Filled<Plan>}
 */
export function unproven(written, words) {
  return { ...written, proof: { optimal: false, net_optimal: false, gap_cents: 0, words } };
}

/**
 * What can be claimed on these receipts, set bonuses last.
 * @param {Situation} situation @param {readonly RungUp[]} receipts
 * @returns {RebateClaim[]}
 */
export function rebateClaims(situation, receipts) {
  const trip = situation.trip;
  /** @type {Map<string, RebateClaim & {until: string}>} */
  const found = new Map();
  for (const rebate of trip.rebates) {
    if (!holdsOn(trip.day, rebate.from_date, rebate.until)) continue;
    const counts = receipts
      .filter(
        ({ transaction, receipt }) =>
          (rebate.stores.length === 0 || rebate.stores.includes(transaction.store.id)) &&
          receipt.merchandise_cents >= rebate.from_receipt_cents,
      )
      .map(({ transaction }) => unitsFor(rebate.products, transaction));
    const together = floorDivide(sum(counts), rebate.units);
    const apart = sum(counts.map((count) => floorDivide(count, rebate.units)));
    const times = Math.min(rebate.from_receipt_cents > 0 ? apart : together, rebate.limit);
    if (times > 0) {
      const until = daysAfter(trip.day, rebate.deadline_days);
      const cents = times * rebate.cents;
      found.set(rebate.id, { rebate: rebate.id, times, cents, until, bonus: false });
    }
  }
  /** @type {RebateClaim[]} */
  const bonuses = [];
  for (const bonus of trip.set_bonuses) {
    const claims = bonus.rebates.flatMap((rebate) => found.get(rebate) ?? []);
    if (claims.length === bonus.rebates.length) {
      const until = claims.map((claim) => claim.until).sort(compare)[0];
      bonuses.push({ rebate: bonus.id, times: 1, cents: bonus.cents, until, bonus: true });
    }
  }
  return [...found.values(), ...bonuses];
}

/** @param {readonly string[]} products @param {Filled<Transaction>} transaction */
function unitsFor(products, transaction) {
  return sum(
    transaction.lines.filter((line) => asksFor(products, line.product)).map((line) => line.units),
  );
}

/**
 * What the claims are worth to the shopper: each time rounded to whole cents, half up.
 * @param {Filled<Trip>} trip @param {readonly RebateClaim[]} claims
 */
export function claimsWorth(trip, claims) {
  const rate = trip.settings.worth.rebate_bp;
  return sum(
    claims.map((each) => each.times * roundHalfUp(floorDivide(each.cents, each.times) * rate, 10_000)),
  );
}

/**
 * What the rewards of planned transactions are worth; a lapsing slip only where it is spent.
 * @param {Situation} situation @param {readonly Paid[]} stops
 */
export function rewardsWorth(situation, stops) {
  const trip = situation.trip;
  const offers = new Map(trip.rewards.map((reward) => [reward.id, reward]));
  const own = new Set(trip.wallet.slips.map((slip) => slip.id));
  let total = 0;
  for (const each of stops) {
    for (const earned of each.receipt.earned) {
      const reward = /** @type {Filled<RewardOffer>} */ (offers.get(earned.offer));
      if (!lapses(reward, situation)) {
        total += earned.times * rewardWorth(reward, earned.each_cents, trip.settings.worth);
      }
    }
    for (const tender of each.transaction.tenders) {
      if (tender.kind !== 'slip' || tender.offer === null || own.has(tender.id)) continue;
      const reward = offers.get(tender.offer);
      if (reward !== undefined && lapses(reward, situation)) {
        total += rewardWorth(reward, tender.cents, trip.settings.worth);
      }
    }
  }
  return total;
}

/** The same for transactions done: what printed is real, whatever becomes of it.
 * @param {Situation} situation */
function doneRewardsWorth(situation) {
  const offers = new Map(situation.trip.rewards.map((reward) => [reward.id, reward]));
  let total = 0;
  for (const done of situation.done) {
    for (const earned of done.receipt.earned) {
      const reward = offers.get(earned.offer);
      if (reward !== undefined && !done.lost.includes(earned.offer)) {
        total += earned.times * rewardWorth(reward, earned.each_cents, situation.trip.settings.worth);
      }
    }
  }
  return total;
}

/**
 * The plan's value of level 2 by the register's figures: net cost less worth, and going on.
 * @param {Situation} situation @param {readonly Paid[]} stops @param {readonly RebateClaim[]} claims
 */
export function levelValue(situation, stops, claims) {
  const trip = situation.trip;
  const settings = trip.settings;
  let total = sum(stops.map((each) => each.receipt.total_cents)) - rewardsWorth(situation, stops);
  total -= claimsWorth(trip, claims);
  /** @type {Map<string, number>} */
  const counts = new Map();
  for (const each of stops) {
    const store = each.transaction.store.id;
    const seen = counts.get(store) ?? transactionsDone(situation, store);
    total += seen > 0 ? settings.further_transaction_cents : settings.further_store_cents;
    counts.set(store, seen + 1);
  }
  return total - stockWorth(situation, stops);
}

/**
 * @param {Situation} situation @param {readonly Paid[]} stops @param {readonly RebateClaim[]} claims
 * @returns {Filled<Totals>}
 */
function totalsOf(situation, stops, claims) {
  const trip = situation.trip;
  const receipts = [...situation.done, ...stops].map((each) => each.receipt);
  const planned = stops.map((each) => each.receipt);
  const paid =
    sum(situation.done.map((done) => done.paidCents)) + sum(planned.map((receipt) => receipt.total_cents));
  const pocket =
    sum(situation.done.map((done) => done.outOfPocketCents)) +
    sum(planned.map((receipt) => receipt.out_of_pocket_cents));
  const face = sum(
    receipts.flatMap((receipt, place) =>
      receipt.earned
        .filter((earned) => !situation.done[place]?.lost.includes(earned.offer))
        .map((earned) => earned.cents),
    ),
  );
  const rewards = doneRewardsWorth(situation) + rewardsWorth(situation, stops);
  const rebates = claimsWorth(trip, claims);
  const shelf = sum(receipts.map((receipt) => receipt.shelf_cents));
  return {
    shelf_cents: shelf,
    paid_cents: paid,
    tax_cents: sum(receipts.map((receipt) => receipt.tax_cents)),
    out_of_pocket_cents: pocket,
    rewards_cents: face,
    rewards_worth_cents: rewards,
    rebates_cents: sum(claims.map((each) => each.cents)),
    rebates_worth_cents: rebates,
    net_cents: paid - rewards - rebates,
    worth_cents: stockWorth(situation, stops),
    saved_cents: shelf - sum(receipts.map((receipt) => receipt.merchandise_cents)),
    left_slips_cents: leftSlips(situation, stops),
    transactions: receipts.length,
  };
}

/**
 * Face value of the slips that are unspent at the end.
 * @param {Situation} situation @param {readonly Paid[]} stops
 */
function leftSlips(situation, stops) {
  const { day, wallet } = situation.trip;
  const held = wallet.slips.filter((slip) => holdsOn(day, null, slip.until));
  let left = sum(held.map((slip) => slip.cents));
  for (const { receipt } of stops) {
    left += sum(receipt.earned.filter((earned) => earned.kind === 'slip').map((earned) => earned.cents));
    left -= sum(receipt.tenders.filter((line) => line.kind === 'slip').map((line) => line.cents));
  }
  return left;
}

const NOUNS = Object.freeze({ slip: 'slip', gift_card: 'gift card', points: 'worth of points' });

/**
 * What the register must print or load, in words.
 * @param {Filled<Trip>} trip @param {Filled<Transaction>} transaction @param {Receipt} receipt
 */
function prints(trip, transaction, receipt) {
  const names = new Map(transaction.rewards.map((reward) => [reward.id, reward.description]));
  return receipt.earned.map((earned) => {
    const times = earned.times > 1 ? `${earned.times} x ` : '';
    const each = show(earned.each_cents, trip.currency, trip.exponent);
    return `${times}${each} ${NOUNS[earned.kind]}: ${names.get(earned.offer)}`;
  });
}

/**
 * @param {Filled<Trip>} trip @param {number} value @param {number | null} bound
 * @returns {Filled<Proof>}
 */
function proof(trip, value, bound) {
  if (bound !== null && value <= bound) {
    const words = 'Best possible: proven for these offers, prices and rules.';
    return { optimal: true, net_optimal: true, gap_cents: 0, words };
  }
  if (bound === null) {
    const words = 'Good, but not proven: some ways to buy are not in the comparison.';
    return { optimal: false, net_optimal: false, gap_cents: 0, words };
  }
  const gap = value - bound;
  const most = show(gap, trip.currency, trip.exponent);
  return { optimal: false, net_optimal: false, gap_cents: gap, words: `No better plan could save more than ${most}.` };
}

/**
 * What the shopper should know beside the figures.
 * @param {Situation} situation @param {Filled<Totals>} totals
 */
function notes(situation, totals) {
  const trip = situation.trip;
  const ceiling = trip.wallet.cash_cents;
  if (ceiling === null || totals.out_of_pocket_cents <= ceiling) return [...situation.notes];
  const over = show(totals.out_of_pocket_cents - ceiling, trip.currency, trip.exponent);
  const note = `The cash ceiling is passed by ${over}: what is in the trolley or paid costs more.`;
  return [...situation.notes, note];
}
