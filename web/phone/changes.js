/**
 * What a replan changed, in words: no number on the screen jumps without its reason. Pure.
 */

import { counted, money, productName, storeName } from './report-words.js';

/** @import { Plan, Trip } from '../engine/types.js' */
/** @import { Standing } from './fold.js' */

/**
 * @typedef {object} Row one product at one store in a plan
 * @property {string} store @property {string} product
 * @property {number} units
 * @property {string} paid what its stacks cost, ready to compare and to say
 */

/**
 * The sentences that say how `after` differs from `before`; none when nothing a shopper sees does.
 * What went through the register in between has left the plan, and is no change of it.
 * @param {Trip} trip
 * @param {Plan} before
 * @param {Plan} after
 * @param {Standing} standing
 * @returns {string[]}
 */
export function whatChanged(trip, before, after, standing) {
  const was = rowsOf(trip, before);
  const now = rowsOf(trip, after);
  /** @type {string[]} */
  const sentences = [];
  for (const [key, row] of now) {
    const old = was.get(key);
    const name = productName(trip, row.product);
    if (!old) sentences.push(`Now also ${row.units} × ${name} at ${storeName(trip, row.store)}, stack ${row.paid}.`);
    else if (old.units !== row.units) {
      const stack = old.paid === row.paid ? `stack still ${row.paid}` : `stack now ${row.paid}, was ${old.paid}`;
      sentences.push(`${name}: now ${row.units}, was ${old.units}; ${stack}.`);
    } else if (old.paid !== row.paid) {
      sentences.push(`${name}: stack now ${row.paid}, was ${old.paid}.`);
    }
  }
  for (const [key, row] of was) {
    if (!now.has(key) && !standing.bought.has(key)) {
      sentences.push(`No longer ${row.units} × ${productName(trip, row.product)} at ${storeName(trip, row.store)}.`);
    }
  }
  sentences.push(...checkoutChanges(trip, before, after, standing), ...unmetChanges(trip, before, after));
  return sentences;
}

/**
 * How the two totals that matter moved; none when they stay.
 * @param {Trip} trip @param {Plan} before @param {Plan} after
 */
export function totalsChanged(trip, before, after) {
  const moved = (/** @type {string} */ name, was = 0, now = 0) =>
    was === now ? [] : [`${name} now ${money(trip, now)}, was ${money(trip, was)}.`];
  return [
    ...moved('Out of pocket', before.totals.out_of_pocket_cents, after.totals.out_of_pocket_cents),
    ...moved('Net', before.totals.net_cents, after.totals.net_cents),
  ];
}

/**
 * The sentences that name something of `names` before the others, each part in its order.
 * @param {readonly string[]} names @param {readonly string[]} sentences
 */
export function aboutFirst(names, sentences) {
  const isAbout = (/** @type {string} */ sentence) => names.some((name) => sentence.includes(name));
  return [...sentences.filter(isAbout), ...sentences.filter((sentence) => !isAbout(sentence))];
}

/** @param {Trip} trip @param {Plan} plan @returns {Map<string, Row>} */
function rowsOf(trip, plan) {
  /** @type {Map<string, Row>} */
  const rows = new Map();
  for (const deal of plan.deals) {
    const key = `${deal.store} ${deal.product}`;
    const units = (rows.get(key)?.units ?? 0) + deal.units;
    rows.set(key, { store: deal.store, product: deal.product, units, paid: '' });
  }
  for (const row of rows.values()) row.paid = stacksInWords(trip, plan, row);
  return rows;
}

/**
 * "$2.31", or "$2.31 and $1.89" where a product's stacks cost differently.
 * @param {Trip} trip @param {Plan} plan @param {Row} row
 */
function stacksInWords(trip, plan, row) {
  const paid = plan.transactions
    .filter((transaction) => transaction.store === row.store)
    .flatMap((transaction) => transaction.stacks)
    .filter((stack) => stack.products.includes(row.product))
    .map((stack) => stack.paid_cents);
  const cents = [...new Set(paid)].sort((a, b) => a - b);
  return cents.map((each) => money(trip, each)).join(' and ') || 'nothing';
}

/** @param {Trip} trip @param {Plan} before @param {Plan} after @param {Standing} standing */
function checkoutChanges(trip, before, after, standing) {
  return trip.stores.flatMap((store) => {
    const done = standing.done.filter(({ report }) => report.transaction.store.id === store.id).length;
    const todo = (/** @type {Plan} */ plan) =>
      plan.transactions.filter((planned) => planned.store === store.id && planned.number > done);
    const was = todo(before);
    const now = todo(after);
    if (was.length !== now.length) {
      return [`${store.name}: ${counted(now.length, 'transaction')} to go through the register, was ${was.length}.`];
    }
    return now.flatMap((planned, i) => {
      const total = planned.receipt.total_cents;
      const old = was[i].receipt.total_cents;
      const which = now.length > 1 ? `, transaction ${planned.number}` : '';
      if (total === old) return [];
      return [`${store.name}${which}: the register now shows ${money(trip, total)}, was ${money(trip, old)}.`];
    });
  });
}

/** @param {Trip} trip @param {Plan} before @param {Plan} after */
function unmetChanges(trip, before, after) {
  const known = new Set(before.unmet.map((unmet) => `${unmet.want} ${unmet.missing}`));
  return after.unmet
    .filter((unmet) => !known.has(`${unmet.want} ${unmet.missing}`))
    .map((unmet) => `Missing ${unmet.missing}: ${trip.wants?.find((want) => want.id === unmet.want)?.name || unmet.want}. ${unmet.because}`);
}
