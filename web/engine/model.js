/**
 * The program of some wants, with every way to meet them.
 * Twin of `server/engine/model.py`, which says which file each row comes from.
 */

import { sum } from './belt.js';
import { APART_SCALE } from './block.js';
import { buildBlock } from './building.js';
import { tenderRows } from './cash.js';
import { claimBonuses, claimRebates } from './claiming.js';
import { overageMaySpareMore } from './due-rows.js';
import { known } from './entries.js';
import { keepLimits, shareOut } from './limits.js';
import { changesFromHome, dues, preferences, valueOf } from './objective.js';
import { Program, added, one } from './program.js';
import { narrowed, oneIsEnough, transactionsAllowed } from './shelves.js';
import { cashSpent, houseOf, mostWelcome } from './situation.js';

/** @import { Filled, Want } from './types.js' */
/** @import { Block, Blocks, Shelf } from './block.js' */
/** @import { Tendering } from './cash.js' */
/** @import { Scope } from './objective.js' */
/** @import { Sum } from './program.js' */
/** @import { Situation } from './situation.js' */

/**
 * A program and what its variables mean; `value` and `cash` in 1/`scale` cents.
 * @typedef {object} Model
 * @property {Program} program
 * @property {ReadonlyMap<string, Shelf>} shelves per store
 * @property {Blocks} blocks
 * @property {ReadonlyMap<string, number>} missing per want
 * @property {Sum} unmet
 * @property {Sum} value
 * @property {Sum} units
 * @property {Sum} cash
 * @property {Sum} transactions
 * @property {Sum} changes
 * @property {Sum} preferences
 * @property {number} mostUnits
 * @property {boolean} whole false where some ways were left out, so that the optimum is no bound
 * @property {number} scale
 */

/**
 * The program for some wants.
 * @param {Situation} situation
 * @param {ReadonlyMap<string, Shelf>} everyShelf per store, of these wants or more (`shelvesOf`)
 * @param {readonly Filled<Want>[]} wants @param {Scope} scope how much of the register is in it
 * @returns {Model}
 */
export function buildModel(situation, everyShelf, wants, scope) {
  const apart = scope === 'apart';
  const program = new Program();
  const shelves = new Map([...everyShelf].map(([store, shelf]) => [store, narrowed(shelf, wants)]));
  const blocks = buildBlocks(program, situation, shelves, apart);
  const missing = new Map(wants.map((want) => [want.id, program.variable(0, want.need)]));
  const assigned = shareOut(program, wants, blocks, missing);
  keepLimits(program, situation, shelves, blocks);
  const claims = claimRebates(program, situation, wants, blocks, apart);
  const bonuses = claimBonuses(program, situation, claims);
  /** @type {Map<string, Tendering>} */
  let tendering = new Map();
  if (scope === 'whole') {
    tendering = buildTendering(program, situation, shelves, blocks);
    keepCeiling(program, situation, tendering);
  }
  const every = [...blocks.values()].flat();
  return {
    program,
    shelves,
    blocks,
    missing,
    unmet: added([...missing.values()].map((each) => one(each))),
    value: valueOf(situation, shelves, blocks, tendering, claims, bonuses, assigned, scope),
    units: added(every.flatMap((block) => [...block.units.values()])),
    cash: scope === 'whole' ? allCash(tendering) : dues(blocks),
    transactions: added(every.map((block) => one(block.used))),
    changes: changesFromHome(program, situation, blocks),
    preferences: preferences(wants, shelves, blocks),
    mostUnits: sum(wants.map(mostWelcome)),
    whole: [...shelves.values()].every((shelf) => shelf.whole && !(apart && overageMaySpareMore(shelf))),
    scale: apart ? APART_SCALE : 1,
  };
}

/**
 * The transactions of each store in checkout order; those that are not used come last.
 * @param {Program} program @param {Situation} situation
 * @param {ReadonlyMap<string, Shelf>} shelves @param {boolean} apart
 * @returns {Blocks}
 */
export function buildBlocks(program, situation, shelves, apart) {
  /** @type {Map<string, Block[]>} */
  const blocks = new Map();
  for (const store of situation.trip.stores) {
    const shelf = shelves.get(store.id);
    if (shelf === undefined || shelf.columns.length === 0) continue;
    let allowed = transactionsAllowed(situation, store);
    if (oneIsEnough(situation, shelf, apart)) allowed = Math.min(allowed, 1);
    const own = Array.from({ length: allowed }, () => buildBlock(program, shelf, apart));
    blocks.set(store.id, own);
    for (const [earlier, later] of own.slice(1).entries()) {
      program.require(one(own[earlier].used).plus(one(later.used), -1), { low: 0 });
    }
  }
  return blocks;
}

/**
 * Tenders per house, each store within its cash ceiling.
 * @param {Program} program @param {Situation} situation
 * @param {ReadonlyMap<string, Shelf>} shelves @param {Blocks} blocks
 * @returns {Map<string, Tendering>}
 */
export function buildTendering(program, situation, shelves, blocks) {
  /** @type {Map<string, Tendering>} */
  const found = new Map();
  const stores = situation.trip.stores.filter((store) => blocks.has(store.id));
  for (const house of new Set(stores.map(houseOf))) {
    const own = stores.filter((store) => houseOf(store) === house);
    const line = own.flatMap((store) =>
      known(blocks, store.id).map((block) => /** @type {const} */ ([store, block])),
    );
    const rewards = own.flatMap((store) => known(shelves, store.id).rewards);
    found.set(house, tenderRows(program, situation, line, rewards));
  }
  for (const store of stores) {
    const cash = known(found, houseOf(store)).cash.get(store.id);
    if (store.cash_ceiling_cents !== null && cash !== undefined) {
      const left = store.cash_ceiling_cents - cashSpent(situation, store.id);
      program.require(cash, { high: Math.max(left, 0) });
    }
  }
  return found;
}

/** The cash that the shopper is willing to put down on the trip.
 * @param {Program} program @param {Situation} situation
 * @param {ReadonlyMap<string, Tendering>} tendering */
function keepCeiling(program, situation, tendering) {
  const ceiling = situation.trip.wallet.cash_cents;
  if (ceiling !== null && tendering.size > 0) {
    program.require(allCash(tendering), { high: Math.max(ceiling - cashSpent(situation), 0) });
  }
}

/** All the cash that is put down. @param {ReadonlyMap<string, Tendering>} tendering */
export function allCash(tendering) {
  return added([...tendering.values()].flatMap((each) => [...each.cash.values()]));
}
