/**
 * One transaction of the program: its variables and sums, and the shelf that it buys from.
 * Twin of `server/engine/block.py`.
 */

import { Sum } from './program.js';

/** @import { Filled, Product, RewardOffer, ShelfPrice } from './types.js' */
/** @import { Column, Counter, Way } from './ways.js' */

/**
 * The variables and sums of one transaction; `merchandise` in cents, `tax` in 1/`scale` cents.
 * @typedef {object} Block
 * @property {readonly number[]} columns variable per column, in the shelf's order
 * @property {Map<string, Sum>} units per product
 * @property {Map<string, Sum>} atTag units per product that no rain check pays for
 * @property {Map<string, Sum>} uses per coupon, multiplied or not
 * @property {Map<string, Sum>} offers
 * @property {Map<string, Sum>} rainChecks
 * @property {Map<string, Map<number, number>>} earned per reward and tier, the variable of its times
 * @property {Map<string, Sum>} basketUses
 * @property {Sum} giftCards cents of those on sale, where slips do not pay for them
 * @property {Sum} merchandise
 * @property {Sum} tax
 * @property {number} used
 * @property {number} scale
 */

/** Per store, in checkout order. @typedef {ReadonlyMap<string, readonly Block[]>} Blocks */

/** What the register asks for, in parts of a cent where the block stands apart. @param {Block} block */
export const due = (block) => new Sum().plus(block.merchandise, block.scale).plus(block.tax);

/**
 * What a component buys from at one store: its counter, tags, products, columns and rewards.
 * @typedef {object} Shelf
 * @property {Counter} counter
 * @property {ReadonlyMap<string, Filled<ShelfPrice> | null>} tags
 * @property {ReadonlyMap<string, Filled<Product>>} products
 * @property {readonly Column[]} columns
 * @property {readonly Filled<RewardOffer>[]} rewards
 * @property {number} mostUnits
 * @property {boolean} whole whether every way to buy is among the columns
 */

/** @typedef {readonly (readonly [number, Way])[]} Placed each way with its column's variable */

// Apart from the rest of its transaction a cluster's tax cannot be rounded yet: it is reckoned in
// sixteenths of a cent, rounded down per column, so that it never exceeds the exact tax.
export const APART_SCALE = 16;
