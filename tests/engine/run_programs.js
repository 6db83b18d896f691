/**
 * What the tests ask of the twin's integer programs, inside the browser: situations as documents in,
 * programs and answers as plain data out.
 */

import { fixedWeight, solveLevels } from '../../web/engine/levels.js';
import { buildModel } from '../../web/engine/model.js';
import { filledTrip } from '../../web/engine/offers.js';
import { filledTransaction } from '../../web/engine/papers.js';
import { shelvesOf } from '../../web/engine/shelves.js';
import { mostWelcome, settleOrder, situationOf, spotKey } from '../../web/engine/situation.js';
import { loadSolver } from '../../web/engine/solver.js';
import { byHouses, spread } from '../../web/engine/spreading.js';

/** @import { Solved } from '../../web/engine/levels.js' */
/** @import { Model } from '../../web/engine/model.js' */
/** @import { Sum } from '../../web/engine/program.js' */
/** @import { Situation } from '../../web/engine/situation.js' */
/** @import { Bought } from '../../web/engine/spreading.js' */
/** @import { Receipt, Transaction, Trip } from '../../web/engine/types.js' */

/** @typedef {[string, string, number][]} Units store, product, units */
/**
 * @typedef {object} Document a situation as a document
 * @property {Trip} trip
 * @property {Units} trolley
 * @property {[string, string][]} empty
 * @property {{event: string, transaction: Transaction, receipt: Receipt, paid_cents: number,
 *   out_of_pocket_cents: number, lost: string[]}[]} done
 * @property {Record<string, number>} used
 * @property {Record<string, number>} earned
 * @property {Record<string, number>} offer_transactions
 * @property {Units | null} home
 */

/**
 * Each situation's programs: all wants apart, untendered and whole, then how what the first buys is
 * spread. Each with the plan that all levels come to, unless it has too many variables.
 * @param {Document[]} documents @param {number} mostSolved
 */
export async function runPrograms(documents, mostSolved) {
  await loadSolver();
  return documents.map((document) => {
    const situation = read(document);
    const wants = situation.trip.wants.filter((want) => mostWelcome(want) > 0);
    const shelves = shelvesOf(situation, wants);
    const apart = buildModel(situation, shelves, wants, 'apart');
    const untendered = buildModel(situation, shelves, wants, 'untendered');
    const whole = buildModel(situation, shelves, wants, 'whole');
    const solved = solveLevels(apart);
    const houses = solved === null ? [] : byHouses(situation, boughtBy(apart, solved));
    const spreads = houses.map((bought) => spread(situation, shelves, wants, bought));
    const models = [apart, untendered, whole, ...spreads.map((each) => each.model)];
    return models.map((model) => {
      const small = model.program.lower.length <= mostSolved;
      return { ...told(model), plan: small ? toldPlan(model, solveLevels(model)) : null };
    });
  });
}

/** The weight of each key. @param {string[]} keys */
export const runWeights = (keys) => keys.map(fixedWeight);

/** @param {Document} document @returns {Situation} */
function read(document) {
  return situationOf({
    trip: settleOrder(filledTrip(document.trip)),
    trolley: bySpot(document.trolley),
    empty: new Set(document.empty.map(([store, product]) => spotKey(store, product))),
    done: document.done.map((done) => ({
      event: done.event,
      transaction: filledTransaction(done.transaction),
      receipt: done.receipt,
      paidCents: done.paid_cents,
      outOfPocketCents: done.out_of_pocket_cents,
      lost: done.lost,
    })),
    used: new Map(Object.entries(document.used)),
    earned: new Map(Object.entries(document.earned)),
    offerTransactions: new Map(Object.entries(document.offer_transactions)),
    home: document.home === null ? null : bySpot(document.home),
  });
}

/** @param {Units} units */
const bySpot = (units) => new Map(units.map(([store, product, count]) => [spotKey(store, product), count]));

/** @param {Model} model @param {Solved} solved @returns {Bought} */
function boughtBy(model, solved) {
  /** @type {Bought} */
  const bought = new Map();
  for (const [store, blocks] of model.blocks) {
    for (const [place, column] of (model.shelves.get(store)?.columns ?? []).entries()) {
      const count = blocks.reduce((total, block) => total + solved.values[block.columns[place]], 0);
      if (count > 0) bought.set(spotKey(store, column.key), { store, column, count });
    }
  }
  return bought;
}

/** A program in plain data; no bound is null. @param {Model} model */
function told(model) {
  const { program } = model;
  return {
    columns: [...model.shelves].map(([store, shelf]) => [store, shelf.columns.map((column) => column.key)]),
    lower: program.lower,
    upper: program.upper,
    rows: program.rows.map((row) => [[...row.terms], row.low, row.high]),
    missing: [...model.missing],
    goals: [
      model.unmet,
      model.value,
      model.units,
      model.cash,
      model.transactions,
      model.changes,
      model.preferences,
    ].map(plain),
    most_units: model.mostUnits,
    whole: model.whole,
    scale: model.scale,
  };
}

/**
 * A plan as far as it is unique and read: how tenders share a payment is settled at checkout.
 * @param {Model} model @param {Solved | null} solved
 */
function toldPlan(model, solved) {
  if (solved === null) return null;
  const { values, unmet, value, cash } = solved;
  const blocks = [...model.blocks.values()].flat();
  return {
    unmet,
    value,
    cash,
    missing: [...model.missing.values()].map((variable) => values[variable]),
    columns: blocks.map((block) => block.columns.map((variable) => values[variable])),
    baskets: blocks.map((block) => [...block.basketUses.values()].map((uses) => uses.value(values))),
  };
}

/** @param {Sum} total */
const plain = (total) => [[...total.terms], total.constant];
