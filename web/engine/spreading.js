/**
 * Spreading: what is bought is known; in which transaction does each unit go?
 * Twin of `server/engine/spreading.py`.
 */

import { claimBonuses, claimRebates } from './claiming.js';
import { solveLevels } from './levels.js';
import { keepCopies, keepOfferTransactions, keepRewardTimes } from './limits.js';
import { allCash, buildBlocks, buildTendering } from './model.js';
import { valueOf } from './objective.js';
import { sorted } from './order.js';
import { Program, Sum, added, one } from './program.js';
import { houseOf, spotKey, takenAt } from './situation.js';

/** @import { Shelf } from './block.js' */
/** @import { Solved } from './levels.js' */
/** @import { Model } from './model.js' */
/** @import { Situation, Spot } from './situation.js' */
/** @import { Filled, Want } from './types.js' */
/** @import { Column } from './ways.js' */

/** Per store and column key, how many of the column in all.
 * @typedef {Map<Spot, {store: string, column: Column, count: number}>} Bought */

/**
 * Programs that spread the bought columns over transactions, one per group of houses.
 * @param {Situation} situation @param {ReadonlyMap<string, Shelf>} shelves
 * @param {readonly Filled<Want>[]} wants @param {Bought} bought
 * @returns {Model[]}
 */
export function spread(situation, shelves, wants, bought) {
  const stores = situation.trip.stores;
  const houses = [...new Set(stores.map(houseOf))];
  const shared = situation.trip.coupons.some(
    (coupon) =>
      coupon.gives.kind === 'basket_off' &&
      new Set(stores.filter((store) => takenAt(coupon, store)).map(houseOf)).size > 1,
  );
  const together = shared || situation.trip.rebates.some((rebate) => rebate.from_receipt_cents > 0);
  const groups = together ? [houses] : houses.map((house) => [house]);
  return groups.flatMap((group) => {
    const own = new Set(stores.filter((store) => group.includes(houseOf(store))).map((store) => store.id));
    const held = new Map([...bought].filter(([, { store }]) => own.has(store)));
    return held.size > 0 ? [spreadIn(situation, shelves, wants, held)] : [];
  });
}

/**
 * @param {Situation} situation @param {ReadonlyMap<string, Shelf>} shelves
 * @param {readonly Filled<Want>[]} wants @param {Bought} bought
 * @returns {Model}
 */
function spreadIn(situation, shelves, wants, bought) {
  const program = new Program();
  const own = new Map([...shelves].map(([store, shelf]) => [store, only(shelf, store, bought)]));
  const blocks = buildBlocks(program, situation, own, false);
  for (const [store, each] of blocks) {
    (own.get(store)?.columns ?? []).forEach((column, place) => {
      const count = bought.get(spotKey(store, column.key))?.count ?? 0;
      program.require(added(each.map((block) => one(block.columns[place]))), { low: count, high: count });
    });
  }
  // Of the limits that span transactions the spread can change only these three: basket coupons
  // are no columns, so their copies are still to be given out.
  keepCopies(program, situation, blocks);
  keepOfferTransactions(program, situation, blocks);
  keepRewardTimes(program, situation, blocks);
  const claims = claimRebates(program, situation, wants, blocks, false);
  const bonuses = claimBonuses(program, situation, claims);
  const tendering = buildTendering(program, situation, own, blocks);
  const every = [...blocks.values()].flat();
  return {
    program,
    shelves: own,
    blocks,
    missing: new Map(),
    unmet: new Sum(),
    value: valueOf(situation, own, blocks, tendering, claims, bonuses, new Map(), 'whole'),
    units: new Sum(),
    cash: allCash(tendering),
    transactions: added(every.map((block) => one(block.used))),
    changes: new Sum(),
    preferences: new Sum(),
    mostUnits: 0,
    whole: [...own.values()].every((shelf) => shelf.whole),
    scale: 1,
  };
}

/**
 * The best spread of a model; without asking the solver where each store has one transaction and
 * no basket coupon.
 * @param {Model} model @param {Bought} bought
 * @returns {Solved | null}
 */
export function putInPlace(model, bought) {
  const several = [...model.blocks.values()].some((blocks) => blocks.length > 1);
  if (several || [...model.blocks.values()].flat().some((block) => block.basketUses.size > 0)) {
    return solveLevels(model);
  }
  const values = new Array(model.program.lower.length).fill(0);
  for (const [store, blocks] of model.blocks) {
    (model.shelves.get(store)?.columns ?? []).forEach((column, place) => {
      values[blocks[0].columns[place]] = bought.get(spotKey(store, column.key))?.count ?? 0;
    });
  }
  return { values, unmet: 0, value: 0, cash: 0 };
}

/**
 * The shelf with only the bought columns. A pair fills two units, a bundle as many as it has.
 * @param {Shelf} shelf @param {string} store @param {Bought} bought
 * @returns {Shelf}
 */
function only(shelf, store, bought) {
  const held = [...bought.values()].filter((each) => each.store === store);
  const own = sorted(held, (each) => each.column.key).map((each) => each.column);
  const names = new Set(own.flatMap((column) => column.ways.map((way) => way.product)));
  let most = 0;
  for (const { column, count } of held) most += count * column.ways.length;
  return {
    ...shelf,
    columns: own,
    products: new Map([...shelf.products].filter(([name]) => names.has(name))),
    tags: new Map([...shelf.tags].filter(([name]) => names.has(name))),
    mostUnits: most,
  };
}
