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
let lastNumber = 0;

/**
 * What the wants can buy at a counter that is narrowed to them.
 * @param {Counter} counter @param {readonly Offered[]} products each with its tag
 * @param {readonly Filled<Want>[]} wants
 * @returns {Part}
 */
export function partAt(counter, products, wants) {
  const welcome = wants.map((want) => [want.id, want.products, mostWelcome(want)]);
  const question = JSON.stringify([counter, products, welcome]);
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
}
