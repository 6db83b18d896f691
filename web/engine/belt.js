/**
 * The belt: one entry per physical item, and who has taken what off it so far.
 * Twin of `server/engine/belt.py`.
 */

import { show } from './money.js';
import { tagInForce, unitPricesAfterShelf } from './shelf.js';

/** @import { Adjustment, AdjustmentKind, Coupon, Filled, Measure } from './types.js' */
/** @import { PercentOffer, Product, Transaction } from './types.js' */
/** @import { Tag } from './shelf.js' */

/**
 * One physical item. `shelfCents`: after step 1; `left`: cents still to pay.
 * @typedef {object} Item
 * @property {Filled<Product>} product
 * @property {number} line
 * @property {number} tagCents
 * @property {number} shelfCents
 * @property {number} left
 * @property {Adjustment[]} adjustments
 */

/** All items in belt order, with the transaction's papers by their ids. */
export class Belt {
  /** @param {Filled<Transaction>} transaction */
  constructor(transaction) {
    this.transaction = transaction;
    /** @type {Item[]} */
    this.items = [];
    /** @type {Map<string, Filled<Coupon>>} */
    this.coupons = new Map(transaction.coupons.map((coupon) => [coupon.id, coupon]));
    /** @type {Map<string, Filled<PercentOffer>>} */
    this.offers = new Map(transaction.percent_offers.map((offer) => [offer.id, offer]));
    /** What to tell about a use, sentence by sentence. @type {Map<number, string[]>} */
    this.notes = new Map();
    /** What coupons were worth beyond their units, as (use, cents). @type {[number, number][]} */
    this.surplus = [];
    /** The amount in the transaction's currency. @param {number} cents */
    this.money = (cents) => show(cents, transaction.currency, transaction.exponent);
  }

  /** The coupon of a use. @param {string} id */
  coupon(id) {
    return /** @type {Filled<Coupon>} */ (this.coupons.get(id));
  }

  /**
   * Take up to `cents` off a unit, never more than is left; gives back what was taken.
   * @param {number} unit @param {AdjustmentKind} kind @param {string} source @param {number} cents
   * @param {string} why @param {number | null} [use]
   */
  take(unit, kind, source, cents, why, use = null) {
    const item = this.items[unit];
    const taken = Math.min(cents, item.left);
    if (taken > 0) {
      item.left -= taken;
      item.adjustments.push(
        use === null ? { kind, source, cents: taken, why } : { kind, source, cents: taken, why, use },
      );
    }
    return taken;
  }

  /** Keep a sentence for the coupon's line on the receipt, once; gives it back.
   * @param {number} use @param {string} sentence */
  note(use, sentence) {
    const told = this.notes.get(use) ?? [];
    if (!told.includes(sentence)) told.push(sentence);
    this.notes.set(use, told);
    return sentence;
  }

  /**
   * Cents of the units of `products` (empty: all) after step 1, less the kinds `without`.
   * @param {readonly string[]} products @param {ReadonlySet<AdjustmentKind>} without
   */
  spend(products, without) {
    return sum(
      this.items
        .filter((item) => products.length === 0 || products.includes(item.product.id))
        .map((item) => {
          const off = item.adjustments.filter((adjustment) => without.has(adjustment.kind));
          return item.shelfCents - sum(off.map((adjustment) => adjustment.cents));
        }),
    );
  }
}

/** @param {readonly number[]} numbers */
export const sum = (numbers) => numbers.reduce((total, number) => total + number, 0);

/** What each measure of spend takes off the price after step 1.
 * @type {Readonly<Record<Measure, ReadonlySet<AdjustmentKind>>>} */
export const TAKEN_OFF = Object.freeze({
  before_coupons: new Set(),
  after_store_coupons: new Set(/** @type {const} */ (['percent_offer', 'store_coupon'])),
  after_all_coupons: new Set(
    /** @type {const} */ (['percent_offer', 'store_coupon', 'manufacturer_coupon', 'multiplied', 'overage']),
  ),
});

/** A paper's name in a sentence: its description, cut to 80 characters, or its id.
 * @param {string} description @param {string} paperId */
export function called(description, paperId) {
  const characters = Array.from(description);
  if (characters.length > 80) return `${characters.slice(0, 79).join('')}…`;
  return description || paperId;
}

/** A count in a sentence: `1 item`, `2 items`. @param {number} number @param {string} thing */
export function counted(number, thing) {
  return number === 1 ? `${number} ${thing}` : `${number} ${thing}s`;
}

/**
 * Every item in belt order with step 1 done: tag, deal, rain check.
 * @param {Filled<Transaction>} transaction
 */
export function layOnBelt(transaction) {
  const products = new Map(transaction.products.map((product) => [product.id, product]));
  const rainChecks = new Map(transaction.rain_checks.map((check) => [check.id, check]));
  const belt = new Belt(transaction);
  /** @type {[number, Tag][]} */
  const tagged = [];
  transaction.lines.forEach((line, number) => {
    const tag = tagInForce(transaction.prices, transaction.store.id, line.product, transaction.day);
    const product = /** @type {Filled<Product>} */ (products.get(line.product));
    for (let unit = 0; unit < line.units; unit += 1) {
      /** @type {Item} */
      const item = { product, line: number, tagCents: 0, shelfCents: 0, left: 0, adjustments: [] };
      const check = line.rain_check === null ? undefined : rainChecks.get(line.rain_check);
      if (check !== undefined) {
        item.tagCents = Math.max(check.cents, tag?.cents ?? 0);
        markDown(item, check.cents, check.id, `Rain check: ${belt.money(check.cents)} each.`);
      } else if (tag !== null) {
        item.tagCents = tag.cents;
        tagged.push([belt.items.length, tag]);
      }
      belt.items.push(item);
    }
  });
  const prices = unitPricesAfterShelf(tagged.map(([, tag]) => tag));
  tagged.forEach(([unit, tag], place) =>
    markDown(belt.items[unit], prices[place], '', dealInWords(belt, tag)),
  );
  return belt;
}

/** @param {Item} item @param {number} cents @param {string} source @param {string} why */
function markDown(item, cents, source, why) {
  item.shelfCents = item.left = cents;
  if (item.tagCents !== cents) {
    item.adjustments.push({ kind: 'sale', source, cents: item.tagCents - cents, why });
  }
}

/** @param {Belt} belt @param {Tag} tag */
function dealInWords(belt, tag) {
  switch (tag.deal?.kind) {
    case 'n_for_m': {
      const end = tag.deal.must_buy ? ', only in whole groups.' : ', also for fewer; odd cents on the first.';
      return `The tag says ${tag.deal.n} for ${belt.money(tag.deal.cents)}${end}`;
    }
    case 'buy_one_get_one':
      if (tag.deal.off_bp === 10_000)
        return 'The tag says buy one, get one free: the cheaper of the pair is free.';
      return `The tag says buy one, get one ${percent(tag.deal.off_bp)} off: the cheaper of the pair is reduced.`;
    default:
      return '';
  }
}

/** Basis points for a reader: 2500 is `25 %`, 1250 is `12.5 %`. @param {number} bp */
export function percent(bp) {
  const rest = bp % 100;
  const after = rest === 0 ? '' : `.${String(rest).padStart(2, '0').replace(/0+$/, '')}`;
  return `${(bp - rest) / 100}${after} %`;
}
