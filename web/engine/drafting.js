/**
 * Steps 1 and 2 of the planner: a plan that is good, and how good it can be at most.
 * Twin of `server/engine/drafting.py`.
 */

import { boundOf, boughtIn, solveApart } from './apart.js';
import { sum } from './belt.js';
import { RefusedAtTheRegister, chooseOrders, orders, settle } from './checkout.js';
import { compare, sorted } from './order.js';
import { pack } from './packing.js';
import { placed } from './placing.js';
import { cheapestOrder, withoutRefused } from './reordering.js';
import { houseOf } from './situation.js';
import { planValue, writePlan } from './writing.js';

/** @import { Answer, Answered } from './apart.js' */
/** @import { Order, Paid } from './checkout.js' */
/** @import { Filling } from './filling.js' */
/** @import { Solved } from './levels.js' */
/** @import { Model } from './model.js' */
/** @import { Shelves } from './shelves.js' */
/** @import { Situation } from './situation.js' */
/** @import { Filled, Plan, Transaction, Want } from './types.js' */

/** A plan: the document, its missing units, its level-2 value by the register, and the least that
 * any plan can have, where it is known.
 * @typedef {{written: Filled<Plan>, unmet: number, value: number, bound: number | null}} Draft */

/** Cents per transaction, with its store. @typedef {readonly {store: string, cents: number}[]} PerTransaction */

/** A plan put together from clusters: besides, what the registers ask for, the cash, and the clusters.
 * @typedef {Draft & {due: PerTransaction, cash: PerTransaction, solved: readonly Answered[]}} PutTogether */

/**
 * Steps 1 and 2; null where what the clusters chose cannot be put together.
 * @param {Situation} situation @param {Shelves} parts @param {readonly Filled<Want>[][]} groups
 * @param {readonly Answer[] | null} [given] what the clusters chose, where it is not their best
 * @param {boolean} [wholly] as in `spreading.js`
 * @returns {PutTogether | null}
 */
export function draftOf(situation, parts, groups, given = null, wholly = false) {
  const shelves = parts.byStore;
  const wants = sorted(groups.flat(), (want) => want.id);
  const answers = given ?? solveApart(situation, parts, groups);
  const solved = answers.flatMap(([model, answer]) => answered(model, answer));
  if (solved.length < answers.length) return null;
  const missing = new Map(solved.flatMap(([model, answer]) => [...missingIn(model, answer)]));
  const chosen = boughtIn(solved);
  const houses = placed(situation, shelves, wants, chosen, wholly);
  if (houses === null) return null;
  const together = houses.flatMap((own) => own.filled);
  const other = houses.flatMap((own) => own.other);
  let paid = paidIn(situation, together);
  if (differ(other, together)) {
    const changed = paidIn(situation, other);
    if (compare(rank(situation, changed), rank(situation, paid)) < 0) paid = changed;
  }
  const bound = boundOf(solved);
  return {
    written: writePlan(situation, paid, missing, bound),
    unmet: sum([...missing.values()]),
    value: planValue(situation, paid),
    bound,
    due: paid.map(({ receipt }) => ({ store: receipt.store, cents: receipt.total_cents })),
    cash: paid.map(({ receipt }) => ({ store: receipt.store, cents: receipt.out_of_pocket_cents })),
    solved,
  };
}

/** A program with its best, in a list that is empty where there is none.
 * @param {Model} model @param {Solved | null} answer @returns {Answered[]} */
const answered = (model, answer) => (answer === null ? [] : [[model, answer]]);

/**
 * Missing units per want that has any.
 * @param {Model} model @param {Solved} answer
 * @returns {Map<string, number>}
 */
export function missingIn(model, answer) {
  const units = [...model.missing].map(
    ([want, variable]) => /** @type {const} */ ([want, answer.values[variable]]),
  );
  return new Map(units.filter(([, missing]) => missing > 0));
}

/**
 * Transactions in checkout order, with tenders, as the register prices them.
 * @param {Situation} situation @param {readonly Filling[]} filled
 * @returns {Paid[]}
 */
export function paidIn(situation, filled) {
  const packed = situation.trip.stores.flatMap((store) => {
    const own = filled.filter((each) => each.shelf.counter.store.id === store.id && each.counts.length > 0);
    return own.map((each) => pack(situation.trip, each.shelf, each.counts, each.baskets));
  });
  try {
    return inCheckoutOrder(situation, packed);
  } catch (error) {
    if (!(error instanceof RefusedAtTheRegister)) throw error;
    // Units are packed where they mostly belong; in another order on the belt the register may take them.
    // What it refuses even so was flattered by the program, and is dearer without.
    const reordered = packed.map((each) => cheapestOrder(each)[0]);
    return inCheckoutOrder(situation, reordered.map((each) => withoutRefused(each)));
  }
}

/** Whether some transaction holds other units. @param {readonly Filling[]} one @param {readonly Filling[]} other */
function differ(one, other) {
  const [before, after] = [one, other].map((filled) => {
    const held = filled.filter(({ counts }) => counts.length > 0);
    return JSON.stringify(held.map(({ counts }) => counts.map(([column, count]) => [column.key, count])));
  });
  return before !== after;
}

/** What a plan is compared by where it buys the same: level-2 value, then cash.
 * @param {Situation} situation @param {readonly Paid[]} paid */
function rank(situation, paid) {
  return [planValue(situation, paid), sum(paid.map(({ receipt }) => receipt.out_of_pocket_cents))];
}

/**
 * Transactions, those of a store in the order of the drive, with tenders and in checkout order.
 * @param {Situation} situation @param {readonly Filled<Transaction>[]} transactions
 * @returns {Paid[]}
 */
export function inCheckoutOrder(situation, transactions) {
  /** @type {Map<string, Filled<Transaction>[]>} */
  const packed = new Map();
  for (const transaction of transactions) {
    const house = houseOf(transaction.store);
    packed.set(house, [...(packed.get(house) ?? []), transaction]);
  }
  const byHouse = new Map([...packed].map(([house, each]) => [house, orders(situation, house, each)]));
  /** @type {Map<string, Order>} */
  const chosen = byHouse.size > 0 ? chooseOrders(situation, byHouse, packed) : new Map();
  const paid = [...chosen].flatMap(([house, order]) =>
    settle(situation, house, packed.get(house) ?? [], order),
  );
  const drive = situation.trip.stores.map((store) => store.id);
  return sorted(paid, (each) => drive.indexOf(each.transaction.store.id));
}
