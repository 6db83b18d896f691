/**
 * Fillings: what goes into each transaction, before it is packed in belt order.
 * Twin of `server/engine/filling.py`.
 */

import { known } from './entries.js';

/** @import { Shelf } from './block.js' */
/** @import { Solved } from './levels.js' */
/** @import { Model } from './model.js' */
/** @import { Column } from './ways.js' */

/**
 * One transaction: how many of each column of a shelf, and of each basket coupon.
 * @typedef {object} Filling
 * @property {Shelf} shelf
 * @property {readonly (readonly [Column, number])[]} counts
 * @property {ReadonlyMap<string, number>} baskets
 */

/**
 * The transactions that an answer's figures mean, those of a store in checkout order.
 * @param {Model} model @param {Solved} answer
 * @returns {Filling[]}
 */
export function fillings(model, answer) {
  return [...model.blocks].flatMap(([store, blocks]) => {
    const shelf = known(model.shelves, store);
    return blocks.map((block) => {
      const counts = shelf.columns
        .map((column, place) => /** @type {[Column, number]} */ ([column, answer.values[block.columns[place]]]))
        .filter(([, count]) => count > 0);
      const baskets = new Map([...block.basketUses].map(([coupon, uses]) => [coupon, uses.value(answer.values)]));
      return { shelf, counts, baskets };
    });
  });
}
