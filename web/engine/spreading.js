/**
 * Spreading: what is bought is known; in which transaction does each unit go?
 * Twin of `server/engine/spreading.py`.
 */

import { sum } from './belt.js';
import { buildBlock } from './building.js';
import { claimBonuses, claimRebates } from './claiming.js';
import { known } from './entries.js';
import { fillings } from './filling.js';
import { solveLevels } from './levels.js';
import { keepCopies, keepOfferTransactions, keepRewardTimes } from './limits.js';
import { allCash, buildBlocks, buildTendering } from './model.js';
import { valueOf } from './objective.js';
import { sorted } from './order.js';
import { Program, Sum, added, one } from './program.js';
import { houseOf, spotKey, takenAt } from './situation.js';

/** @import { Shelf } from './block.js' */
/** @import { Filling } from './filling.js' */
/** @import { Model } from './model.js' */
/** @import { Situation, Spot } from './situation.js' */
/** @import { Filled, Want } from './types.js' */
/** @import { Column, Way } from './ways.js' */

/** Per store and column key, how many of the column in all.
 * @typedef {Map<Spot, {store: string, column: Column, count: number}>} Bought */

/**
 * The program of some houses and how many of each of its columns there are.
 * @typedef {object} Spread
 * @property {Model} model
 * @property {Bought} bought
 * @property {ReadonlyMap<string, Shelf>} shelves per store, with every bought column
 * @property {ReadonlyMap<string, readonly (readonly [Column, number])[]>} rest per store, the columns that
 *   stand in the program as one unit, and how many of each
 */

const REST = 'rest';

/**
 * What is bought, per group of houses that do not touch.
 * @param {Situation} situation @param {Bought} bought
 * @returns {Bought[]}
 */
export function byHouses(situation, bought) {
  const stores = situation.trip.stores;
  const houses = [...new Set(stores.map(houseOf))];
  const shared = situation.trip.coupons.some(
    (coupon) =>
      coupon.gives.kind === 'basket_off' &&
      new Set(stores.filter((store) => takenAt(coupon, store)).map(houseOf)).size > 1,
  );
  const groups = shared || byReceipt(situation) ? [houses] : houses.map((house) => [house]);
  const held = groups.map((group) => {
    const own = new Set(stores.filter((store) => group.includes(houseOf(store))).map((store) => store.id));
    return new Map([...bought].filter(([, { store }]) => own.has(store)));
  });
  return held.filter((each) => each.size > 0);
}

/**
 * The program that spreads what is bought at a group of houses (`byHouses`) over transactions.
 * @param {Situation} situation @param {ReadonlyMap<string, Shelf>} shelves
 * @param {readonly Filled<Want>[]} wants @param {Bought} bought
 * @param {boolean} [wholly] nothing is drawn together and tax is in the program: slower, and no cent of
 *   rounding is missed
 * @returns {Spread}
 */
export function spread(situation, shelves, wants, bought, wholly = false) {
  const names = new Set([...bought.values()].map(({ store }) => store));
  const named = [...shelves].filter(([store]) => names.has(store));
  const full = new Map(named.map(([store, shelf]) => [store, only(shelf, store, bought)]));
  if (wholly || byReceipt(situation) || [...full.values()].some(looksAtTheWhole)) {
    return { model: placingIn(situation, full, wants, bought), bought, shelves: full, rest: new Map() };
  }
  return withRest(situation, full, bought);
}

/** Whether some rebate asks for a least receipt. @param {Situation} situation */
const byReceipt = (situation) => situation.trip.rebates.some((rebate) => rebate.from_receipt_cents > 0);

/** Whether a rule of the store looks at all that is in a transaction, beside its tax and its sum.
 * @param {Shelf} shelf */
function looksAtTheWhole({ counter, columns }) {
  const rules = counter.store.rules;
  return (
    counter.coupons.some((coupon) => coupon.gives.kind === 'basket_off') ||
    columns.some((column) => column.ways.some((way) => way.cost < 0)) ||
    (rules.slip_counts_as_manufacturer_coupon && rules.coupons_no_more_than_items)
  );
}

/**
 * @param {Situation} situation @param {ReadonlyMap<string, Shelf>} full @param {Bought} bought
 * @returns {Spread}
 */
function withRest(situation, full, bought) {
  /** @type {Map<string, (readonly [Column, number])[]>} */
  const rest = new Map();
  /** @type {Map<string, Shelf>} */
  const small = new Map();
  const counts = new Map(bought);
  for (const [store, shelf] of full) {
    const free = untaxed(shelf);
    const bound = boundColumns(situation, free);
    const columns = shelf.columns.filter((column) => bound.has(column.key));
    const unbound = shelf.columns.filter((column) => !bound.has(column.key));
    /** @type {(readonly [Column, number])[]} */
    const ofRest = unbound.map((column) => [column, countOf(bought, store, column)]);
    rest.set(store, ofRest);
    if (ofRest.length > 0) {
      const whole = asOne(ofRest);
      counts.set(spotKey(store, REST), { store, column: whole, count: 1 });
      columns.push(whole);
    }
    small.set(store, { ...free, columns });
  }
  return { model: placingIn(situation, small, [], counts), bought: counts, shelves: full, rest };
}

/** @param {Bought} bought @param {string} store @param {Column} column */
const countOf = (bought, store, column) => known(bought, spotKey(store, column.key)).count;

/** @param {Shelf} shelf @returns {Shelf} */
function untaxed(shelf) {
  const { store } = shelf.counter;
  return { ...shelf, counter: { ...shelf.counter, store: { ...store, tax: { ...store.tax, rates: {} } } } };
}

/**
 * The keys of the columns that some rule of a transaction names, beside there being one.
 * @param {Situation} situation @param {Shelf} shelf
 */
function boundColumns(situation, shelf) {
  const scratch = new Program();
  const block = buildBlock(scratch, shelf, false);
  const rows = scratch.rows.filter((row) => !row.terms.has(block.used));
  const named = new Set(rows.flatMap((row) => [...row.terms.keys()]));
  const offers = situation.trip.percent_offers.filter((offer) => offer.transactions !== null);
  const limited = new Set(offers.map((offer) => offer.id));
  const bound = shelf.columns.filter((column, place) => {
    const offered = column.ways.some((way) => way.percents.some((each) => limited.has(each.source)));
    const variable = block.columns[place];
    return named.has(variable) || block.giftCards.terms.has(variable) || offered;
  });
  return new Set(bound.map((column) => column.key));
}

/**
 * The rest as one unit that costs what it comes to.
 * @param {readonly (readonly [Column, number])[]} rest
 * @returns {Column}
 */
function asOne(rest) {
  const cost = sum(rest.map(([column, count]) => count * sum(column.ways.map((way) => way.cost))));
  const first = rest[0][0].ways[0];
  /** @type {Way} */
  const way = { ...first, percents: [], slots: [], cost, taxable: 0, spends: [cost, cost, cost] };
  return { key: REST, ways: [way], wholeUses: [] };
}

/**
 * The program of where everything bought goes.
 * @param {Situation} situation @param {ReadonlyMap<string, Shelf>} shelves
 * @param {readonly Filled<Want>[]} wants whose rebates depend on that
 * @param {Bought} bought
 * @returns {Model}
 */
function placingIn(situation, shelves, wants, bought) {
  const program = new Program();
  const blocks = buildBlocks(program, situation, shelves, false);
  for (const [store, each] of blocks) {
    for (const [place, column] of known(shelves, store).columns.entries()) {
      const count = countOf(bought, store, column);
      program.require(added(each.map((block) => one(block.columns[place]))), { low: count, high: count });
    }
  }
  // Of the limits that span transactions the spread can change only these three: basket coupons
  // are no columns, so their copies are still to be given out.
  keepCopies(program, situation, blocks);
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
 * The best spread, or null where there is none; without asking the solver where each store has one
 * transaction and no basket coupon.
 * @param {Spread} placing
 * @returns {Filling[] | null}
 */
export function putInPlace(placing) {
  const { model, bought, shelves } = placing;
  const several = [...model.blocks.values()].some((blocks) => blocks.length > 1);
  if (several || [...model.blocks.values()].flat().some((block) => block.basketUses.size > 0)) {
    const answer = solveLevels(model);
    return answer === null ? null : fillings(model, answer).map((each) => withAll(each, placing));
  }
  const filled = [...shelves].filter(([, shelf]) => shelf.columns.length > 0);
  return filled.map(([store, shelf]) => {
    /** @type {[Column, number][]} */
    const counts = shelf.columns.map((column) => [column, countOf(bought, store, column)]);
    return { shelf, counts, baskets: new Map() };
  });
}

/**
 * The transaction with every column that the program saw as the rest, as the store taxes it.
 * @param {Filling} filling @param {Spread} placing
 * @returns {Filling}
 */
function withAll({ shelf, counts, baskets }, placing) {
  const store = shelf.counter.store.id;
  const every = counts.flatMap((each) => (each[0].key === REST ? known(placing.rest, store) : [each]));
  return { shelf: known(placing.shelves, store), counts: sorted(every, ([column]) => column.key), baskets };
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
