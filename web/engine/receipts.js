/**
 * What must always hold of a receipt. Run in every test of the register.
 * Twin of `server/engine/receipts.py`.
 */

import { sum } from './belt.js';

/** @import { Filled, Receipt, Transaction } from './types.js' */

/** A receipt that breaks a promise; the message says which. */
export class BrokenReceipt extends Error {
  /** @param {string} promise */
  constructor(promise) {
    super(promise);
    this.name = 'BrokenReceipt';
  }
}

/**
 * Throws `BrokenReceipt` unless the parts add up, nothing is below zero, and every coupon lies
 * on units that are there, within its copies and limits.
 * @param {Filled<Transaction>} transaction @param {Receipt} receipt
 */
export function checkReceipt(transaction, receipt) {
  checkUnits(transaction, receipt);
  checkSums(receipt);
  checkCoupons(transaction, receipt);
  checkRewards(transaction, receipt);
}

/** @param {boolean} holds @param {string} promise */
function must(holds, promise) {
  if (!holds) throw new BrokenReceipt(promise);
}

/** @param {Filled<Transaction>} transaction @param {Receipt} receipt */
function checkUnits(transaction, receipt) {
  const belt = transaction.lines.flatMap((line, number) =>
    Array(line.units).fill(`${number} ${line.product}`),
  );
  const units = receipt.units.map((unit) => `${unit.line} ${unit.product}`);
  must(units.join('\n') === belt.join('\n'), 'a unit for each item on the belt');
  for (const unit of receipt.units) {
    const off = sum(unit.adjustments.map((adjustment) => adjustment.cents));
    must(unit.tag_cents - off === unit.paid_cents, 'tag less adjustments is what is paid');
    must(unit.paid_cents >= 0, 'no unit is paid below zero');
    must(unit.taxable_cents >= 0, 'no taxable amount below zero');
    must(
      unit.adjustments.every(({ cents, kind }) => cents > 0 || kind === 'sale'),
      'each takes something off',
    );
    must(
      unit.adjustments.every(({ why }) => why !== ''),
      'every adjustment says why',
    );
  }
}

/** @param {Receipt} receipt */
function checkSums(receipt) {
  const { units, taxes, tenders } = receipt;
  must(receipt.shelf_cents === sum(units.map((unit) => unit.tag_cents)), 'the tags add up');
  must(receipt.merchandise_cents === sum(units.map((unit) => unit.paid_cents)), 'the goods add up');
  must(receipt.tax_cents === sum(taxes.map((line) => line.cents)), 'the taxes add up');
  must(receipt.total_cents === receipt.merchandise_cents + receipt.tax_cents, 'goods and tax are the total');
  must(receipt.total_cents === sum(tenders.map((line) => line.cents)), 'the tenders pay the total');
  const cash = tenders.filter((line) => line.kind === 'cash');
  must(receipt.out_of_pocket_cents === sum(cash.map((line) => line.cents)), 'out of pocket is the cash');
  const taxable = sum(units.map((unit) => unit.taxable_cents));
  must(taxable === sum(taxes.map((line) => line.taxable_cents)), 'taxable amounts add up');
  must(
    tenders.every((line) => line.cents > 0),
    'every tender pays something',
  );
  must(
    taxes.every((line) => line.cents >= 0),
    'no tax below zero',
  );
  must(
    taxes.every((line) => line.why !== ''),
    'every tax says why',
  );
}

/** @param {Filled<Transaction>} transaction @param {Receipt} receipt */
function checkCoupons(transaction, receipt) {
  const coupons = new Map(transaction.coupons.map((coupon) => [coupon.id, coupon]));
  const taken = transaction.uses.map(() => 0);
  receipt.units.forEach((unit, place) => {
    for (const { use: number, source, kind, cents } of unit.adjustments) {
      if (typeof number !== 'number') continue;
      const use = transaction.uses[number];
      must(source === use.coupon, "an adjustment names its use's coupon");
      const wholeBasket = kind === 'basket_coupon' || kind === 'overage';
      must(wholeBasket || use.units.includes(place), 'a coupon takes off the units that it claims');
      taken[number] += cents;
    }
  });
  const shown = receipt.coupons.map((line) => `${line.use} ${line.coupon} ${line.cents}`);
  const handed = transaction.uses.map((use, number) => `${number} ${use.coupon} ${taken[number]}`);
  must(shown.join('\n') === handed.join('\n'), "each coupon's line is what it took off");
  must(
    receipt.coupons.every((line) => line.why !== ''),
    'every coupon says why',
  );
  for (const use of transaction.uses) {
    const coupon = coupons.get(use.coupon);
    must(coupon !== undefined, 'every use has its coupon');
    if (coupon === undefined) continue;
    const times = transaction.uses.filter((other) => other.coupon === coupon.id).length;
    const limits = [coupon.copies, coupon.per_transaction, coupon.per_day, coupon.per_household];
    must(
      limits.every((limit) => limit === null || times <= limit),
      'a coupon within its limits',
    );
    const asked = coupon.gives.kind === 'basket_off' ? 0 : sum(coupon.asks.map((asks) => asks.units));
    must(
      new Set(use.units).size === use.units.length && use.units.length === asked,
      'a coupon claims as many units as it asks for',
    );
    const products = coupon.asks.flatMap((asks) => Array.from({ length: asks.units }, () => asks.products));
    use.units.forEach((unit, place) => {
      const eligible = products[place];
      must(
        eligible.length === 0 || eligible.includes(receipt.units[unit].product),
        'a coupon on its own products',
      );
    });
  }
}

/** @param {Filled<Transaction>} transaction @param {Receipt} receipt */
function checkRewards(transaction, receipt) {
  const offers = new Map(transaction.rewards.map((offer) => [offer.id, offer]));
  for (const line of receipt.earned) {
    const offer = offers.get(line.offer);
    must(offer !== undefined, 'every reward has its offer');
    if (offer === undefined) continue;
    const before = transaction.earned_before[line.offer] ?? 0;
    must(line.cents === line.times * line.each_cents && line.cents > 0, 'a reward is its times');
    must(offer.per_transaction === null || line.times <= offer.per_transaction, 'within a transaction');
    must(offer.per_household === null || before + line.times <= offer.per_household, 'in a household');
    const ownSlip = receipt.tenders.some((tender) => tender.kind === 'slip' && tender.offer === offer.id);
    must(offer.rolls || !ownSlip, 'a slip that does not roll earns none of its own');
  }
}
