/**
 * Spreading: what is bought is known; in which transaction does each unit go?
 * Twin of `server/engine/spreading.py`, which says why houses are apart here.
 */

import { sum } from './belt.js';
import { claimBonuses, claimRebates } from './claiming.js';
import { known } from './entries.js';
import { keepOfferTransactions, keepRewardTimes } from './limits.js';
import { allCash, buildBlocks, buildTendering } from './model.js';
import { valueOf } from './objective.js';
import { sorted } from './order.js';
import { Program, Sum, added, one } from './program.js';
import { houseOf, spotKey } from './situation.js';

/** @import { Filled, Want } from './types.js' */
/** @import { Shelf } from './block.js' */
/** @import { Model } from './model.js' */
/** @import { Situation, Spot } from './situation.js' */
/** @import { Column } from './ways.js' */

/**
 * A column, the store where it is bought and how many of it in all, by `spotKey` of store and key.
 * @typedef {Map<Spot, {store: string, column: Column, count: number}>} Bought
 */

/**
 * Programs that spread the bought columns over transactions, one per group of houses.
 * @param {Situation} situation @param {ReadonlyMap<string, Shelf>} shelves
 * @param {readonly Filled<Want>[]} wants @param {Bought} bought
 * @returns {Model[]}
 */
export function spread(situation, shelves, wants, bought) {
  const stores = situation.trip.stores;
  const houses = [...new Set(stores.map(houseOf))];
  let groups = houses.map((house) => new Set([house]));
  if (situation.trip.rebates.some((rebate) => rebate.from_receipt_cents !== 0)) groups = [new Set(houses)];
  /** @type {Model[]} */
  const found = [];
  for (const group of groups) {
    const own = new Set(stores.filter((store) => group.has(houseOf(store))).map((store) => store.id));
    const held = new Map([...bought].filter(([, { store }]) => own.has(store)));
    if (held.size > 0) found.push(spreadIn(situation, shelves, wants, held));
  }
  return found;
}

/**
 * @param {Situation} situation @param {ReadonlyMap<string, Shelf>} everyShelf
 * @param {readonly Filled<Want>[]} wants @param {Bought} bought
 * @returns {Model}
 */
function spreadIn(situation, everyShelf, wants, bought) {
  const program = new Program();
  const shelves = new Map([...everyShelf].map(([store, shelf]) => [store, only(shelf, store, bought)]));
  const blocks = buildBlocks(program, situation, shelves, false);
  for (const [store, each] of blocks) {
    for (const [place, column] of known(shelves, store).columns.entries()) {
      const { count } = known(bought, spotKey(store, column.key));
      const total = added(each.map((block) => one(block.columns[place])));
      program.require(total, { low: count, high: count });
    }
  }
  // Of the limits that span transactions the spread can change only these two.
  keepOfferTransactions(program, situation, blocks);
  keepRewardTimes(program, situation, blocks);
  const claims = claimRebates(program, situation, wants, blocks, false);
  const bonuses = claimBonuses(program, situation, claims);
  const tendering = buildTendering(program, situation, shelves, blocks);
  const every = [...blocks.values()].flat();
  return {
    program,
    shelves,
    blocks,
    missing: new Map(),
    unmet: new Sum(),
    value: valueOf(situation, shelves, blocks, tendering, claims, bonuses, new Map(), 'whole'),
    units: new Sum(),
    cash: allCash(tendering),
    transactions: added(every.map((block) => one(block.used))),
    changes: new Sum(),
    preferences: new Sum(),
    mostUnits: 0,
    whole: [...shelves.values()].every((shelf) => shelf.whole),
    scale: 1,
  };
}

/**
 * The shelf with only the bought columns. A pair fills two units, a bundle as many as it has.
 * @param {Shelf} shelf @param {string} store @param {Bought} bought
 * @returns {Shelf}
 */
function only(shelf, store, bought) {
  const here = [...bought.values()].filter((each) => each.store === store);
  const columns = sorted(here, ({ column }) => column.key).map(({ column }) => column);
  const names = new Set(columns.flatMap((column) => column.ways.map((way) => way.product)));
  return {
    ...shelf,
    columns,
    products: new Map([...shelf.products].filter(([name]) => names.has(name))),
    tags: new Map([...shelf.tags].filter(([name]) => names.has(name))),
    mostUnits: sum(here.map(({ column, count }) => count * column.ways.length)),
  };
}
