/**
 * The house rules: one table with a plain sentence for each, general and for one store.
 * Twin of `server/engine/rules.py`.
 */

/** @import { Filled, HouseRules } from './types.js' */
/** @typedef {Filled<HouseRules>} Rules */
/** @typedef {(cents: number) => string} Money */

/**
 * `plain`: what the rule is about, without numbers. `says`: it at one store.
 * @typedef {object} Rule
 * @property {string} plain
 * @property {unknown} default
 * @property {(rules: Rules, money: Money) => string} says
 */

/**
 * The sentence of one rule at a store with these `rules`; `money` shows cents.
 * @param {keyof HouseRules} field @param {Rules} rules @param {Money} money
 */
export function say(field, rules, money) {
  return RULES[field].says(rules, money);
}

/** @param {number} number @param {string} thing @param {string} where */
function atMost(number, thing, where) {
  if (number === 0) return `No ${thing}s ${where}.`;
  return `At most ${number} ${thing}${number === 1 ? '' : 's'} ${where}.`;
}

/** @param {Rules} rules */
function like(rules) {
  const limit = rules.like_coupons_per_transaction;
  if (limit === null) return 'Any number of like coupons in one transaction.';
  return atMost(limit, 'like coupon', 'in one transaction');
}

/** @param {Rules} rules @param {Money} money */
function multiplying(rules, money) {
  const house = rules.multiplying;
  if (house === null) return 'Coupons count at face value, none is multiplied.';
  const first = house.per_transaction === null ? '' : `, the first ${house.per_transaction} of a transaction`;
  return `Manufacturer coupons up to ${money(house.up_to_cents)} count ${house.times} times${first}.`;
}

/** @param {Rules} rules */
function overage(rules) {
  return {
    cut: 'A coupon worth more than its items is cut to what is left of them.',
    basket: 'What a coupon is worth beyond its items goes to the rest of the basket.',
    refuse: 'A coupon worth more than its items is not taken.',
  }[rules.overage];
}

/** @type {Readonly<Record<keyof HouseRules, Rule>>} */
export const RULES = Object.freeze({
  manufacturer_coupons_per_unit: {
    plain: 'How many manufacturer coupons, paper or digital, one item takes.',
    default: 1,
    says: (rules) =>
      atMost(rules.manufacturer_coupons_per_unit, 'manufacturer coupon', 'on one item, paper or digital'),
  },
  store_coupons_per_unit: {
    plain: 'How many store coupons one item takes.',
    default: 1,
    says: (rules) => atMost(rules.store_coupons_per_unit, 'store coupon', 'on one item'),
  },
  percent_offers_per_unit: {
    plain: 'How many percent offers one item takes.',
    default: 1,
    says: (rules) => atMost(rules.percent_offers_per_unit, 'percent offer', 'on one item'),
  },
  store_with_manufacturer: {
    plain: 'Whether a store coupon and a manufacturer coupon go on the same item.',
    default: true,
    says: (rules) =>
      rules.store_with_manufacturer
        ? 'A store coupon and a manufacturer coupon go on the same item.'
        : 'No store coupon on an item that takes a manufacturer coupon.',
  },
  like_coupons_per_transaction: {
    plain: 'How many coupons of the same kind one transaction takes.',
    default: 4,
    says: like,
  },
  coupons_no_more_than_items: {
    plain: 'Whether there may be more manufacturer coupons than items.',
    default: true,
    says: (rules) =>
      rules.coupons_no_more_than_items
        ? 'No more manufacturer coupons than items.'
        : 'There may be more manufacturer coupons than items.',
  },
  slip_counts_as_manufacturer_coupon: {
    plain: 'Whether a reward slip counts where coupons are held against items.',
    default: false,
    says: (rules) =>
      rules.slip_counts_as_manufacturer_coupon
        ? 'A reward slip counts as a manufacturer coupon.'
        : 'A reward slip does not count as a coupon.',
  },
  percent_base: {
    plain: 'What a percentage is taken of: the shelf price, or what is left by then.',
    default: 'shelf',
    says: (rules) =>
      rules.percent_base === 'shelf'
        ? 'Percentages are taken of the shelf price.'
        : 'Percentages are taken of what is left of the price.',
  },
  percent_rounding: {
    plain: 'Whether a percentage is rounded for each item or once for the line.',
    default: 'unit',
    says: (rules) =>
      rules.percent_rounding === 'unit'
        ? 'Percentages are rounded half up for each item.'
        : 'Percentages are rounded half up once for all items of a line.',
  },
  multiplying: {
    plain: 'Whether the house multiplies manufacturer coupons, up to which face value, how many.',
    default: null,
    says: multiplying,
  },
  overage: {
    plain: 'What becomes of a coupon that is worth more than its items.',
    default: 'cut',
    says: overage,
  },
  basket_coupons_per_transaction: {
    plain: 'How many coupons on the whole basket one transaction takes.',
    default: 1,
    says: (rules) => atMost(rules.basket_coupons_per_transaction, 'basket coupon', 'in one transaction'),
  },
  slips_buy_gift_cards: {
    plain: 'Whether reward slips pay for gift cards.',
    default: false,
    says: (rules) =>
      rules.slips_buy_gift_cards
        ? 'Reward slips pay for gift cards too.'
        : 'Reward slips do not pay for gift cards.',
  },
  transactions_per_visit: {
    plain: 'How many transactions the house allows in one visit.',
    default: 2,
    says: (rules) => atMost(rules.transactions_per_visit, 'transaction', 'in one visit'),
  },
});
