/** What a line of the Aisle says about its money. Pure; every cent comes from the plan. */

import { counted, money, productName } from '../phone/report-words.js';

/** @import { Deal, Stack, Trip } from '../engine/types.js' */
/** @import { AisleLine } from '../phone/lines.js' */

/**
 * @typedef {object} StackWords
 * @property {number} times how many such stacks
 * @property {string} sum "$2.00 − $0.50 = $1.50 for 2"
 * @property {string} parts what was taken off, in the register's order
 */

/**
 * The line's stacks in plain words, each different one once.
 * @param {Trip} trip @param {AisleLine} line
 * @returns {StackWords[]}
 */
export function stacksOf(trip, line) {
  /** @type {Map<string, StackWords>} */
  const said = new Map();
  for (const { stack } of line.stacks) {
    const words = { times: stack.times, sum: sumWords(trip, stack), parts: partsWords(trip, stack, line.product) };
    const known = said.get(words.sum + words.parts);
    if (known) known.times += stack.times;
    else said.set(words.sum + words.parts, words);
  }
  return [...said.values()];
}

/** @param {Trip} trip @param {Stack} stack */
function sumWords(trip, stack) {
  const off = stack.parts.map(([, cents]) => ` − ${money(trip, cents)}`).join('');
  const several = stack.units.length > 1 ? ` for ${stack.units.length}` : '';
  return stack.parts.length === 0
    ? `${money(trip, stack.paid_cents)} at the tag${several}`
    : `${money(trip, stack.tag_cents)}${off} = ${money(trip, stack.paid_cents)}${several}`;
}

/** @param {Trip} trip @param {Stack} stack @param {string} product the line's own */
function partsWords(trip, stack, product) {
  const others = stack.products.filter((other) => other !== product).map((other) => productName(trip, other));
  const together = others.length > 0 ? [`together with ${others.join(' and ')}`] : [];
  return [...together, ...stack.parts.map(([what]) => what)].join('; ');
}

/**
 * What stands beside the net cents: "net: $8.98 at the register, $4.00 back in rewards", or only
 * "at the register" where nothing comes back.
 * @param {Trip} trip @param {Deal} deal
 */
export function netWords(trip, deal) {
  if (deal.register_cents === deal.net_cents) return 'at the register';
  const parts = [`${money(trip, deal.register_cents)} at the register`];
  if (deal.tax_cents) parts.push(`tax ${money(trip, deal.tax_cents)}`);
  if (deal.reward_cents) parts.push(`${money(trip, deal.reward_cents)} back in rewards`);
  if (deal.rebate_cents) parts.push(`${money(trip, deal.rebate_cents)} back in rebates`);
  return `net: ${parts.join(', ')}`;
}

/** How the net unit price stands against her stock-up price. @param {Deal} deal */
export function verdictWords(deal) {
  switch (deal.verdict) {
    case 'at or under':
      return `${deal.unit_price}: at or under your ${deal.stock_up}`;
    case 'over':
      return `${deal.unit_price}: over your ${deal.stock_up}`;
    case 'no stock-up price':
      return deal.unit_price;
  }
}

/**
 * The coupons to take out of the binder for a line, each with its count and its place.
 * @param {Trip} trip @param {AisleLine} line
 */
export function pullWords(trip, line) {
  return [...line.copies].flatMap(([id, copies]) => {
    const coupon = trip.coupons?.find((each) => each.id === id);
    if (!coupon || coupon.form === 'digital' || line.state === 'bought') return [];
    return [`Pull ${counted(copies, 'copy', 'copies')}${coupon.where ? ` · ${coupon.where}` : ''}`];
  });
}

/**
 * What stands against buying more of it: the tag's limits, then its coupons'.
 * @param {Trip} trip @param {AisleLine} line
 */
export function limitsOf(trip, line) {
  const tag = line.price;
  const words = [];
  if (tag?.per_transaction) words.push(`at most ${tag.per_transaction} a transaction`);
  if (tag?.per_visit) words.push(`at most ${tag.per_visit} a visit`);
  for (const id of line.copies.keys()) {
    const coupon = trip.coupons?.find((each) => each.id === id);
    if (coupon?.per_transaction) words.push(`its coupon at most ${coupon.per_transaction} a transaction`);
    if (coupon?.per_day) words.push(`its coupon at most ${coupon.per_day} a day`);
    if (coupon?.per_household) words.push(`its coupon at most ${coupon.per_household} a household`);
  }
  return words;
}

/**
 * Up to which tag buying is right; nothing while it is not worked out.
 * @param {Trip} trip @param {AisleLine} line @param {number | null | undefined} upTo
 */
export function breakEvenWords(trip, line, upTo) {
  if (upTo === undefined || upTo === null) return [];
  // What has nothing to fall back on is right at any tag: the engine stops at ten times the tag.
  const tag = line.seenCents ?? line.price?.cents;
  if (tag !== undefined && upTo >= Math.max(10 * tag, 100)) return ['right at any tag'];
  return [`right up to ${money(trip, upTo)} on the tag`];
}

/**
 * "in two trolleys: 2 here, 2 on the other phone", where that is so; '' else.
 * @param {AisleLine} line @param {string} device this one
 */
export function trolleysWords({ hands, inTrolley }, device) {
  if (hands.size < 2 || inTrolley === 0) return '';
  const here = hands.get(device) ?? 0;
  const there = inTrolley - here;
  return here > 0
    ? `In two trolleys: ${here} here, ${there} on the other phone. Put back what is too many.`
    : `In the other phones' trolleys: ${there}.`;
}

/** How many of how many, for the stub. @param {AisleLine} line */
export function countWords(line) {
  const { toFind, inTrolley, bought, state } = line;
  switch (state) {
    case 'to find':
      return inTrolley > 0 ? `${inTrolley} of ${inTrolley + toFind}` : `${toFind}`;
    case 'in the trolley':
      return `${inTrolley} of ${inTrolley}`;
    case 'bought':
      return `${bought} of ${bought}`;
    case 'left':
    case 'shelf empty':
      return '';
  }
}
