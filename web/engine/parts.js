/**
 * Parts of a shelf: what a group of wants can buy at a store, remembered.
 * Twin of `server/engine/parts.py`, which tells why.
 */

import { columns } from './bundles.js';
import { mostWelcome } from './situation.js';

/** @import { Filled, Want } from './types.js' */
/** @import { Column, Counter, Offered } from './ways.js' */

/**
 * `columns`: every way to buy, by key; `whole`: whether they are all; `number`: the same for the same
 * content.
 * @typedef {{columns: readonly Column[], whole: boolean, number: number}} Part
 */

/** @type {Map<string, Part>} */
const PARTS = new Map();
const MOST_PARTS = 1_000;
/** @type {Map<string, number>} numbers of counters, so that keys stay short */
const COUNTERS = new Map();
const MOST_COUNTERS = 100;
let lastNumber = 0;

/** Everything that holds at a store, as a short key. @param {Counter} counter */
export function counterKey(counter) {
  const text = JSON.stringify(counter);
  const number = COUNTERS.get(text) ?? (lastNumber += 1);
  if (COUNTERS.size >= MOST_COUNTERS) COUNTERS.clear(); // a number is never given twice
  COUNTERS.set(text, number);
  return number;
}

/**
 * What the wants can buy at a counter.
 * @param {Counter} counter @param {number} key the counter's
 * @param {readonly Offered[]} products each with its tag @param {readonly Filled<Want>[]} wants
 * @returns {Part}
 */
export function partAt(counter, key, products, wants) {
  const welcome = wants.map((want) => [want.id, want.products, mostWelcome(want)]);
  const question = JSON.stringify([key, products, welcome]);
  let part = PARTS.get(question);
  if (part === undefined) {
    const [found, whole] = columns(products, counter, wants);
    part = { columns: found, whole, number: (lastNumber += 1) };
  }
  PARTS.delete(question);
  PARTS.set(question, part);
  for (const oldest of PARTS.keys()) {
    if (PARTS.size <= MOST_PARTS) break;
    PARTS.delete(oldest);
  }
  return part;
}

/** No part is remembered: for benches. */
export function forget() {
  PARTS.clear();
  COUNTERS.clear();
}
