/**
 * The register: one transaction, exactly. Every cent of the receipt has an owner.
 * Twin of `server/engine/register.py`, which has the order of operations and a receipt worked by hand.
 */

import { giveSurplusToBasket, takeBasketCoupons } from './basket.js';
import { layOnBelt, sum } from './belt.js';
import { takeManufacturerCoupons, takeStoreCoupons } from './coupons.js';
import { rewardsEarned } from './earning.js';
import { refuse } from './legality.js';
import { filledTransaction } from './papers.js';
import { takePercentOffers, takePercentStoreCoupons } from './percents.js';
import { say } from './rules.js';
import { taxLines, taxableAmounts } from './tax.js';
import { pay, payWithFoodBenefits } from './tenders.js';

/** @import { Belt } from './belt.js' */
/** @import { CouponTaken, Filled, HouseRules, Receipt, Refusal, TaxLine } from './types.js' */
/** @import { TenderLine, Transaction } from './types.js' */

export const LOCAL_LAW = 'Tax as set for this store; local law and the printed receipt decide.';

/**
 * The receipt of a transaction, or the refusal that names the rule and the paper.
 *
 * As documents go, defaults may be left out on both sides.
 * @param {Transaction} document
 * @returns {Receipt | Refusal}
 */
export function price(document) {
  return priceFilled(filledTransaction(document));
}

/**
 * As `price`, for a transaction whose defaults are written out already.
 * @param {Filled<Transaction>} transaction
 * @returns {Receipt | Refusal}
 */
export function priceFilled(transaction) {
  const illegal = refuse(transaction);
  if (illegal !== null) return illegal;
  const belt = layOnBelt(transaction);
  const refusal = takeEverythingOff(belt);
  if (refusal !== null) return refusal;
  const [benefits, taxable] = payWithFoodBenefits(belt, taxableAmounts(belt));
  const taxes = taxLines(belt, taxable);
  const total = sum(belt.items.map((item) => item.left)) + sum(taxes.map((line) => line.cents));
  const tenders = pay(belt, total, benefits);
  if (!Array.isArray(tenders)) return tenders;
  return receipt(belt, taxable, taxes, tenders);
}

/**
 * Whether the register said no.
 * @param {Receipt | Refusal} answer
 * @returns {answer is Refusal}
 */
export const isRefusal = (answer) => 'rule' in answer;

/** Steps 2 to 5. @param {Belt} belt */
function takeEverythingOff(belt) {
  takePercentOffers(belt);
  takePercentStoreCoupons(belt);
  const refusal = takeStoreCoupons(belt) ?? takeManufacturerCoupons(belt);
  if (refusal !== null) return refusal;
  giveSurplusToBasket(belt);
  return takeBasketCoupons(belt);
}

/**
 * @param {Belt} belt @param {readonly number[]} taxable @param {TaxLine[]} taxes
 * @param {TenderLine[]} tenders
 * @returns {Receipt}
 */
function receipt(belt, taxable, taxes, tenders) {
  const merchandise = sum(belt.items.map((item) => item.left));
  const tax = sum(taxes.map((line) => line.cents));
  const why = houseRulesAtWork(belt, taxes);
  return {
    store: belt.transaction.store.id,
    units: belt.items.map((item, unit) => ({
      product: item.product.id,
      line: item.line,
      tag_cents: item.tagCents,
      adjustments: item.adjustments,
      paid_cents: item.left,
      taxable_cents: taxable[unit],
    })),
    coupons: couponsTaken(belt),
    taxes,
    tenders,
    earned: rewardsEarned(belt),
    shelf_cents: sum(belt.items.map((item) => item.tagCents)),
    merchandise_cents: merchandise,
    tax_cents: tax,
    total_cents: merchandise + tax,
    out_of_pocket_cents: sum(tenders.filter((line) => line.kind === 'cash').map((line) => line.cents)),
    ...(why.length > 0 ? { why } : {}),
  };
}

/** @param {Belt} belt @returns {CouponTaken[]} */
function couponsTaken(belt) {
  const cents = belt.transaction.uses.map(() => 0);
  for (const item of belt.items) {
    for (const adjustment of item.adjustments) {
      if (typeof adjustment.use === 'number') cents[adjustment.use] += adjustment.cents;
    }
  }
  return belt.transaction.uses.map((use, number) => ({
    use: number,
    coupon: use.coupon,
    cents: cents[number],
    why: (belt.notes.get(number) ?? []).join(' '),
  }));
}

/**
 * The sentences of the house rules that decided a cent here, and whose word on tax counts.
 * @param {Belt} belt @param {TaxLine[]} taxes
 */
function houseRulesAtWork(belt, taxes) {
  const kinds = new Set(belt.items.flatMap((item) => item.adjustments.map((adjustment) => adjustment.kind)));
  const percents =
    belt.transaction.offer_uses.length > 0 ||
    belt.transaction.uses.some((use) => belt.coupon(use.coupon).gives.kind === 'percent_off');
  /** @type {(keyof HouseRules)[]} */
  const fields = percents ? ['percent_base', 'percent_rounding'] : [];
  if (kinds.has('multiplied')) fields.push('multiplying');
  const sentences = fields.map((field) => say(field, belt.transaction.store.rules, belt.money));
  return taxes.length > 0 ? [...sentences, LOCAL_LAW] : sentences;
}
