/**
 * Rounding: goods of the rest change places so that the registers' tax is rounded down.
 * Twin of `server/engine/rounding.py`, which has it worked by hand.
 */

import { sum } from './belt.js';
import { known } from './entries.js';
import { floorDivide } from './money.js';
import { compare } from './order.js';
import { oneIsEnough, transactionsAllowed } from './shelves.js';

/** @import { Shelf } from './block.js' */
/** @import { Filling } from './filling.js' */
/** @import { Situation } from './situation.js' */
/** @import { Spread } from './spreading.js' */
/** @import { Column } from './ways.js' */

/** Units per column key. @typedef {Map<string, number>} Held */
/** Cents per tax class. @typedef {Map<string, number>} Bases */
/** What goes, from which transaction, to which. @typedef {[readonly string[], number, number]} Move */

/**
 * The transactions of a spread with goods of the rest exchanged.
 * @param {Situation} situation @param {Spread} placing @param {readonly Filling[]} filled
 * @returns {Filling[]}
 */
export function exchanged(situation, placing, filled) {
  /** @type {Filling[]} */
  const found = [];
  for (const [store, shelf] of placing.shelves) {
    const own = filled.filter((each) => each.shelf.counter.store.id === store);
    const rest = (placing.rest.get(store) ?? []).map(([column]) => column);
    const taxed = rest.filter((column) => taxableOf(column, shelf).size > 0).map((column) => column.key);
    if (taxed.length === 0 || shelf.counter.store.tax.basis === 'item') {
      found.push(...own);
      continue;
    }
    let allowed = transactionsAllowed(situation, shelf.counter.store);
    if (situation.trip.settings.further_transaction_cents || oneIsEnough(situation, shelf, false)) {
      allowed = own.length;
    }
    const held = own.map((each) => new Map(each.counts.map(([column, count]) => [column.key, count])));
    while (held.length < allowed) held.push(new Map());
    const columns = new Map(shelf.columns.map((column) => [column.key, column]));
    for (const each of settled(shelf, columns, held, taxed)) {
      const keys = [...each.keys()].filter((key) => each.get(key)).sort(compare);
      const counts = keys.map(
        (key) => /** @type {[Column, number]} */ ([known(columns, key), known(each, key)]),
      );
      found.push({ shelf, counts, baskets: new Map() });
    }
  }
  return found;
}

/**
 * What the transactions hold when no move takes off a cent any more.
 * @param {Shelf} shelf @param {ReadonlyMap<string, Column>} columns @param {readonly Held[]} start
 * @param {readonly string[]} rest
 * @returns {readonly Held[]}
 */
function settled(shelf, columns, start, rest) {
  const taxable = new Map([...columns].map(([key, column]) => [key, taxableOf(column, shelf)]));
  for (let held = start; ; ) {
    const bases = held.map((each) => basesOf(each, taxable));
    const taxes = bases.map((each) => taxOn(each, shelf));
    /** @type {Move | null} */
    let better = null;
    for (const [moved, source, target] of moves(held, rest)) {
      const [left, more] = [new Map(bases[source]), new Map(bases[target])];
      for (const key of moved) {
        for (const [taxClass, cents] of known(taxable, key)) {
          left.set(taxClass, known(left, taxClass) - cents);
          more.set(taxClass, (more.get(taxClass) ?? 0) + cents);
        }
      }
      if (taxOn(left, shelf) + taxOn(more, shelf) < taxes[source] + taxes[target]) {
        better = [moved, source, target];
        break;
      }
    }
    if (better === null) return held;
    const [moved, source, target] = better;
    held = held.map((each) => new Map(each));
    for (const key of moved) {
      held[source].set(key, known(held[source], key) - 1);
      held[target].set(key, (held[target].get(key) ?? 0) + 1);
    }
  }
}

/**
 * Every move of one unit, then of two, from one transaction to another.
 * @param {readonly Held[]} held @param {readonly string[]} rest
 * @returns {Generator<Move>}
 */
function* moves(held, rest) {
  const singles = rest.map((key) => [key]);
  const pairs = rest.flatMap((key, place) => rest.slice(place).map((other) => [key, other]));
  for (const moved of [...singles, ...pairs]) {
    for (const source of held.keys()) {
      const has = moved.every((key) => {
        return (held[source].get(key) ?? 0) >= moved.filter((other) => other === key).length;
      });
      if (!has) continue;
      for (const target of held.keys()) {
        if (target !== source) yield [moved, source, target];
      }
    }
  }
}

/**
 * What is taxable of a column, per taxed class.
 * @param {Column} column @param {Shelf} shelf
 * @returns {Bases}
 */
function taxableOf(column, shelf) {
  /** @type {Bases} */
  const found = new Map();
  for (const way of column.ways) {
    const taxClass = known(shelf.products, way.product).tax_class;
    if (way.taxable > 0 && rateOf(shelf, taxClass) > 0) {
      found.set(taxClass, (found.get(taxClass) ?? 0) + way.taxable);
    }
  }
  return found;
}

/** Parts per 100,000. @param {Shelf} shelf @param {string} taxClass */
function rateOf({ counter }, taxClass) {
  const { rates } = counter.store.tax;
  return Object.hasOwn(rates, taxClass) ? rates[taxClass] : 0;
}

/**
 * What tax is reckoned on in a transaction, per class.
 * @param {Held} held @param {ReadonlyMap<string, Bases>} taxable
 * @returns {Bases}
 */
function basesOf(held, taxable) {
  /** @type {Bases} */
  const found = new Map();
  for (const [key, count] of held) {
    for (const [taxClass, cents] of known(taxable, key)) {
      found.set(taxClass, (found.get(taxClass) ?? 0) + count * cents);
    }
  }
  return found;
}

/** The tax of a transaction in cents. @param {Bases} bases @param {Shelf} shelf */
function taxOn(bases, shelf) {
  const each = [...bases].map(([taxClass, base]) => rateOf(shelf, taxClass) * base);
  return sum(each.map((exact) => floorDivide(exact + 50_000, 100_000)));
}
