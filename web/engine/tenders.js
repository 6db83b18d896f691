/**
 * Step 7 of the register: who pays. Food benefits are settled before tax, the rest after it.
 * Twin of `server/engine/tenders.py`.
 */

import { sum } from './belt.js';
import { say } from './rules.js';

/** @import { Belt } from './belt.js' */
/** @import { Filled, PayBySlip, Refusal, TenderLine } from './types.js' */

// A product of this category is a gift card on sale.
export const GIFT_CARD_CATEGORY = 'gift card';

/**
 * What each food benefit pays, by its place among the tenders, and what stays taxable. Units with tax on
 * them come first; a class taxed at 0 has none.
 * @param {Belt} belt @param {readonly number[]} taxable cents per unit before
 * @returns {[Map<number, number>, number[]]}
 */
export function payWithFoodBenefits(belt, taxable) {
  /** @type {Map<number, number>} */
  const paid = new Map();
  const still = [...taxable];
  const left = belt.items.map((item) => item.left);
  const { rates } = belt.transaction.store.tax;
  const untaxed = belt.items.map((item, unit) =>
    Number(taxable[unit] === 0 || !(rates[item.product.tax_class] > 0)),
  );
  const taxedFirst = left
    .map((_, unit) => unit)
    .sort((one, other) => untaxed[one] - untaxed[other] || one - other);
  belt.transaction.tenders.forEach((tender, number) => {
    if (tender.kind !== 'food_benefit') return;
    let budget = tender.cents;
    for (const unit of taxedFirst) {
      if (tender.products.length > 0 && !tender.products.includes(belt.items[unit].product.id)) continue;
      const cents = Math.min(budget, left[unit]);
      budget -= cents;
      left[unit] -= cents;
      still[unit] = Math.max(0, still[unit] - cents);
    }
    paid.set(number, tender.cents - budget);
  });
  return [paid, still];
}

/**
 * The tenders in order until nothing is due; tenders that pay nothing leave no line.
 * @param {Belt} belt @param {number} totalCents goods and tax
 * @param {ReadonlyMap<number, number>} benefits from `payWithFoodBenefits`
 * @returns {TenderLine[] | Refusal}
 */
export function pay(belt, totalCents, benefits) {
  let due = totalCents - sum([...benefits.values()]);
  let forSlips = belt.transaction.store.rules.slips_buy_gift_cards ? due : due - giftCardsOnSale(belt);
  /** @type {TenderLine[]} */
  const lines = [];
  /** @type {Set<string>} */
  const slips = new Set();
  for (const [number, tender] of belt.transaction.tenders.entries()) {
    switch (tender.kind) {
      case 'food_benefit':
        add(lines, { kind: 'food_benefit', cents: benefits.get(number) ?? 0 });
        break;
      case 'slip': {
        const refusal = refuseSlip(belt, tender, due, forSlips, slips);
        if (refusal !== null) return refusal;
        slips.add(tender.id);
        due -= tender.cents;
        forSlips -= tender.cents;
        add(lines, {
          kind: 'slip',
          cents: tender.cents,
          ...(tender.id === '' ? {} : { id: tender.id }),
          ...(tender.offer === null ? {} : { offer: tender.offer }),
        });
        break;
      }
      case 'gift_card': {
        const cents = Math.min(tender.cents, due);
        due -= cents;
        add(lines, { kind: 'gift_card', cents, ...(tender.id === '' ? {} : { id: tender.id }) });
        break;
      }
      case 'cash': {
        const cents = tender.cents === null ? due : Math.min(tender.cents, due);
        due -= cents;
        add(lines, { kind: 'cash', cents });
        break;
      }
    }
  }
  if (due > 0) {
    const sentence = `${belt.money(due)} of ${belt.money(totalCents)} is not paid.`;
    return { rule: 'not_paid', subject: '', sentence };
  }
  return lines;
}

/** @param {Belt} belt */
function giftCardsOnSale(belt) {
  const onSale = belt.items.filter((item) => item.product.category === GIFT_CARD_CATEGORY);
  return sum(onSale.map((item) => item.left));
}

/**
 * @param {Belt} belt @param {Filled<PayBySlip>} slip @param {number} due @param {number} forSlips
 * @param {ReadonlySet<string>} used
 * @returns {Refusal | null}
 */
function refuseSlip(belt, slip, due, forSlips, used) {
  if (slip.id !== '' && used.has(slip.id)) {
    return { rule: 'slip_twice', subject: slip.id, sentence: 'A slip pays once.' };
  }
  const worth = `The slip is worth ${belt.money(slip.cents)}`;
  if (slip.cents > due) {
    const sentence = `${worth}, ${belt.money(due)} is due: a slip pays whole and without change.`;
    return { rule: 'slip_whole', subject: slip.id, sentence };
  }
  if (slip.cents > forSlips) {
    const house = say('slips_buy_gift_cards', belt.transaction.store.rules, belt.money);
    const sentence = `${worth}; without the gift cards ${belt.money(Math.max(0, forSlips))} is due. ${house}`;
    return { rule: 'slips_buy_gift_cards', subject: slip.id, sentence };
  }
  return null;
}

/** @param {TenderLine[]} lines @param {TenderLine} line */
function add(lines, line) {
  if (line.cents > 0) lines.push(line);
}
