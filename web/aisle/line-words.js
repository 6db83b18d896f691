/** What a line of the Aisle says about its money. Pure; every cent comes from the plan. */

import { money } from '../phone/report-words.js';

/** @import { Deal, Trip } from '../engine/types.js' */
/** @import { AisleLine } from '../phone/lines.js' */

/**
 * The line's stacks in plain words, one sentence for each different one.
 * @param {Trip} trip @param {AisleLine} line
 * @returns {{times: number, words: string, paid: string}[]}
 */
export function stacksOf(trip, line) {
  /** @type {Map<string, {times: number, words: string, paid: string}>} */
  const said = new Map();
  for (const { stack } of line.stacks) {
    const known = said.get(stack.words);
    if (known) known.times += stack.times;
    else said.set(stack.words, { times: stack.times, words: stack.words, paid: money(trip, stack.paid_cents) });
  }
  return [...said.values()];
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
