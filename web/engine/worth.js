/**
 * What the bought units are worth to the household, by the wants that they meet.
 * Twin of `server/engine/worth.py`.
 */

import { sum } from './belt.js';
import { entryOf, known } from './entries.js';
import { worthCents } from './measure.js';
import { compare } from './order.js';
import { Program, Sum, added, one } from './program.js';
import { mostWelcome, productById } from './situation.js';
import { minimize } from './solver.js';

/** @import { Paid } from './checkout.js' */
/** @import { Situation } from './situation.js' */
/** @import { Solution } from './solver.js' */
/** @import { Filled, Product, Want } from './types.js' */

/**
 * The worth of all units of planned transactions, in whole cents.
 * @param {Situation} situation @param {readonly Paid[]} stops
 */
export function stockWorth(situation, stops) {
  /** @type {Map<string, number>} */
  const bought = new Map();
  for (const each of stops) {
    for (const line of each.transaction.lines) {
      bought.set(line.product, (bought.get(line.product) ?? 0) + line.units);
    }
  }
  const products = [...bought.keys()].sort(compare);
  const takers = new Map(products.map((product) => [product, takersOf(situation, product)]));
  const goods = productById(situation.trip);
  if ([...takers.values()].every((wants) => wants.length === 1)) {
    return sum(
      [...takers].map(([product, [want]]) => known(bought, product) * worthOf(want, known(goods, product))),
    );
  }
  return sharedOut(situation, bought, takers, goods);
}

/** @param {Situation} situation @param {string} product */
const takersOf = (situation, product) =>
  situation.trip.wants.filter((want) => want.products.includes(product));

/** One unit's worth to a want; 0 where it has no stock-up price.
 * @param {Filled<Want>} want @param {Filled<Product>} product */
function worthOf(want, product) {
  if (want.stock_up === null) return 0;
  return worthCents(product, want.stock_up);
}

/**
 * The greatest worth of any sharing out that leaves out the fewest units and misses the fewest needs.
 * @param {Situation} situation @param {ReadonlyMap<string, number>} bought
 * @param {ReadonlyMap<string, readonly Filled<Want>[]>} takers
 * @param {ReadonlyMap<string, Filled<Product>>} goods
 */
function sharedOut(situation, bought, takers, goods) {
  const program = new Program();
  /** @type {Map<string, Sum>} */
  const met = new Map();
  let shared = new Sum();
  const worth = new Sum();
  for (const [product, wants] of takers) {
    const given = new Sum();
    for (const want of wants) {
      const variable = program.variable(0, Math.min(known(bought, product), mostWelcome(want)));
      given.add(variable, 1);
      entryOf(met, want.id, () => new Sum()).add(variable, 1);
      worth.add(variable, worthOf(want, known(goods, product)));
    }
    program.require(given, { high: known(bought, product) });
    shared = added([shared, given]);
  }
  const missing = new Sum();
  for (const want of situation.trip.wants) {
    const got = met.get(want.id);
    if (got === undefined) continue;
    program.require(got, { high: mostWelcome(want) });
    const short = program.variable(0, want.need);
    missing.add(short, 1);
    program.require(added([got, one(short)]), { low: want.need });
  }
  // A unit left out would make room for one that is worth more, and still be bought.
  const needed = sum(situation.trip.wants.map((want) => want.need));
  const goal = missing.plus(shared, -(needed + 1));
  // Nothing given and every need missing satisfies the rows.
  const first = /** @type {Solution} */ (minimize(program, goal));
  program.require(goal, { high: first.value + 0.5 });
  const best = /** @type {Solution} */ (minimize(program, new Sum().plus(worth, -1)));
  return 0 - best.value;
}
