/**
 * Deals in the program: step 1 of the register, and percentages that a house rounds per line.
 * Twin of `server/engine/deal_rows.py`.
 */

import { entryOf, known } from './entries.js';
import { floorDivide, roundHalfUp } from './money.js';
import { sorted } from './order.js';
import { Sum, one } from './program.js';

/** @import { Placed, Shelf } from './block.js' */
/** @import { Program } from './program.js' */
/** @import { Filled, NForM, ShelfPrice } from './types.js' */
/** @import { OfferOn, Way } from './ways.js' */

/** A unit under a percentage. @typedef {readonly [number, Way, OfferOn]} Discounted */

/**
 * Units of some products per role that their deal gives them.
 * @param {Placed} placed @param {ReadonlySet<string>} products
 * @returns {Map<string, Sum>}
 */
function roleSums(placed, products) {
  /** @type {Map<string, Sum>} */
  const roles = new Map();
  for (const [variable, way] of placed) {
    if (products.has(way.product)) entryOf(roles, way.level.role, () => new Sum()).add(variable, 1);
  }
  return roles;
}

/** Step 1: which units get which price is the register's to say.
 * @param {Program} program @param {Placed} placed @param {Shelf} shelf */
export function deals(program, placed, shelf) {
  /** @type {Map<string, {cents: number, product: string}[]>} */
  const pairs = new Map();
  for (const [product, tag] of shelf.tags) {
    if (tag === null || tag.deal === null) continue;
    if (tag.deal.kind === 'n_for_m') {
      nForM(program, roleSums(placed, new Set([product])), tag.deal);
    } else {
      const mix = tag.deal.mix;
      entryOf(pairs, mix ? `mix ${mix}` : `only ${product}`, () => []).push({ cents: tag.cents, product });
    }
  }
  for (const members of pairs.values()) {
    // Among the units at or above any price, the register reduces every second one.
    const prices = sorted(new Set(members.map(({ cents }) => cents)), (cents) => -cents);
    for (const price of prices) {
      const dear = members.filter(({ cents }) => cents >= price).map(({ product }) => product);
      const roles = roleSums(placed, new Set(dear));
      const unpaired = (roles.get('full') ?? new Sum()).plus(roles.get('reduced') ?? new Sum(), -1);
      program.require(unpaired, { low: 0, high: 1 });
    }
  }
}

/** Odd cents on the first units; with must-buy whole groups, and less than a group beside them.
 * @param {Program} program @param {ReadonlyMap<string, Sum>} roles @param {Filled<NForM>} deal */
function nForM(program, roles, deal) {
  const odd = deal.cents % deal.n;
  const [first, group] = [roles.get('first') ?? new Sum(), roles.get('group') ?? new Sum()];
  if (!deal.must_buy) {
    if (odd) {
      const together = first.plus(group);
      program.require(new Sum().plus(first, deal.n).plus(together, -odd), { low: 0, high: deal.n - 1 });
    }
    return;
  }
  const groups = program.variable(0, 10_000);
  program.require(first.plus(one(groups), -odd), { low: 0, high: 0 });
  program.require(group.plus(one(groups), odd - deal.n), { low: 0, high: 0 });
  program.require(roles.get('rest') ?? new Sum(), { high: deal.n - 1 });
}

/** Where the house rounds a percent per line: the line's discount is the rounded sum.
 * @param {Program} program @param {Placed} placed @param {Shelf} shelf */
export function lineRounding(program, placed, shelf) {
  if (shelf.counter.store.rules.percent_rounding !== 'line') return;
  /** @type {Map<string, Map<string, Discounted[]>>} by product and source */
  const lines = new Map();
  /** @type {[string, Discounted[]][]} */
  const inOrder = [];
  for (const [variable, way] of placed) {
    for (const each of way.percents) {
      const ofProduct = entryOf(lines, way.product, () => new Map());
      const line = entryOf(ofProduct, each.source, () => {
        /** @type {Discounted[]} */
        const made = [];
        inOrder.push([way.product, made]);
        return made;
      });
      line.push([variable, way, each]);
    }
  }
  for (const [product, units] of inOrder) {
    // What the units are given less their exact part, at most and at least.
    const [most, least] = [new Sum(), new Sum()];
    const [able, unable] = [new Sum(), new Sum()];
    const leading = leadingRole(known(shelf.tags, product));
    const ahead = roleSums(placed, new Set([product])).get(leading) ?? new Sum();
    const behind = new Sum();
    for (const [variable, way, each] of units) {
      const exact = each.base * each.bp;
      const floor = floorDivide(exact, 10_000);
      const ceiling = exact % 10_000 > 0 ? floor + 1 : floor;
      const [low, high] = each.capped ? [floor, ceiling] : [each.cents, each.cents];
      most.add(variable, 10_000 * high - exact);
      least.add(variable, 10_000 * low - exact);
      if (way.level.rainCheck) ahead.add(variable, 1);
      // Of several percentages one may find too little left; then what it takes tells nothing.
      const several = each.capped || way.percents.length > 1;
      if (several || each.cents === roundHalfUp(exact, 10_000)) {
        able.add(variable, 1);
        continue;
      }
      unable.add(variable, 1);
      if (way.level.role === leading) {
        ahead.add(variable, -1);
        behind.add(variable, 1);
      }
    }
    const [atMost, atLeast] = [[...most.terms], [...least.terms]];
    if (atMost.every(([, coefficient], place) => coefficient === atLeast[place][1])) {
      const rounded = atMost.some(([, coefficient]) => coefficient !== 0);
      if (rounded) program.require(most, { low: -4_999, high: 5_000 });
    } else {
      program.require(most, { low: -4_999 });
      program.require(least, { high: 5_000 });
    }
    for (const [before, after] of [
      [able, unable],
      [ahead, behind],
    ]) {
      if (after.terms.size > 0) {
        program.require(new Sum().plus(before, shelf.mostUnits).plus(after, -1), { low: 0 });
      }
    }
  }
}

/** The part in the deal of the first of a product's units on the belt; empty where any may lie first.
 * @param {Filled<ShelfPrice> | null} tag */
function leadingRole(tag) {
  const deal = tag === null ? null : tag.deal;
  if (deal !== null && deal.kind === 'n_for_m') return deal.cents % deal.n ? 'first' : '';
  return deal !== null && deal.kind === 'buy_one_get_one' && deal.mix === '' ? 'full' : '';
}
