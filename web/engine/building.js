/**
 * A transaction added to the program: how many of each column, and what the register forces.
 * Twin of `server/engine/building.py`, which says what each row stands for.
 */

import { basketCoupons, neverBelowZero, spendOf } from './basket-rows.js';
import { APART_SCALE } from './block.js';
import { couponUses, couponsWithinItems } from './coupon-rows.js';
import { deals, lineRounding } from './deal-rows.js';
import { merchandise, reckonedApart, taxDue } from './due-rows.js';
import { known } from './entries.js';
import { Sum, added, one } from './program.js';
import { GIFT_CARD_CATEGORY } from './tenders.js';
import { asksFor } from './ways.js';

/** @import { Basket } from './basket-rows.js' */
/** @import { Block, Placed, Shelf } from './block.js' */
/** @import { Program } from './program.js' */

/**
 * Adds one transaction at the shelf's store to the program.
 * @param {Program} program @param {Shelf} shelf
 * @param {boolean} apart what other clusters put into the transaction is not known
 */
export function buildBlock(program, shelf, apart) {
  const counts = shelf.columns.map(() => program.variable(0, shelf.mostUnits));
  const placed = shelf.columns.flatMap((column, place) =>
    column.ways.map((way) => /** @type {const} */ ([counts[place], way])),
  );
  /** @type {Block} */
  const block = {
    columns: counts,
    units: perProduct(placed, shelf),
    atTag: perProduct(
      placed.filter(([, way]) => !way.level.rainCheck),
      shelf,
    ),
    uses: new Map(),
    offers: new Map(),
    rainChecks: new Map(),
    earned: new Map(),
    basketUses: new Map(),
    giftCards: giftCards(placed, shelf),
    merchandise: new Sum(),
    tax: new Sum(),
    used: program.variable(0, 1),
    scale: apart ? APART_SCALE : 1,
  };
  used(program, block, shelf);
  deals(program, placed, shelf);
  percentOffers(program, block, placed, shelf);
  lineRounding(program, placed, shelf);
  couponUses(program, block, placed, shelf);
  rainChecks(block, placed, shelf);
  const baskets = basketCoupons(program, block, placed, shelf, apart);
  couponsWithinItems(program, block, shelf, apart);
  if (block.giftCards.terms.size > 0) block.giftCards = atLeastLeft(block.giftCards, placed, baskets);
  if (apart) {
    reckonedApart(program, block, placed, shelf, baskets);
  } else {
    const surplus = merchandise(program, block, placed, shelf, baskets);
    taxDue(program, block, placed, shelf, baskets, surplus);
  }
  rewards(program, block, placed, shelf, baskets, apart);
  return block;
}

/** @param {Placed} placed @param {Shelf} shelf */
function perProduct(placed, shelf) {
  const units = new Map([...shelf.products.keys()].map((product) => [product, new Sum()]));
  for (const [variable, way] of placed) known(units, way.product).add(variable, 1);
  return units;
}

/**
 * What is left of gift cards on sale at the least: basket coupons and overage may fall on them first.
 * @param {Sum} giftCards @param {Placed} placed @param {readonly Basket[]} baskets
 */
function atLeastLeft(giftCards, placed, baskets) {
  const left = giftCards.plus(added(baskets.map((basket) => one(basket.cents))), -1);
  for (const [variable, way] of placed) if (way.cost < 0) left.add(variable, way.cost);
  return left;
}

/** What gift cards on sale come to, where slips do not pay for them. @param {Placed} placed @param {Shelf} shelf */
function giftCards(placed, shelf) {
  const total = new Sum();
  if (shelf.counter.store.rules.slips_buy_gift_cards) return total;
  for (const [variable, way] of placed) {
    if (known(shelf.products, way.product).category === GIFT_CARD_CATEGORY) {
      total.add(variable, Math.max(way.cost, 0));
    }
  }
  return total;
}

/** A transaction exists when a unit is in it; limits per transaction of each product.
 * @param {Program} program @param {Block} block @param {Shelf} shelf */
function used(program, block, shelf) {
  const everything = added(block.units.values());
  program.require(everything.plus(one(block.used), -shelf.mostUnits), { high: 0 });
  program.require(everything.plus(one(block.used), -1), { low: 0 });
  for (const [product, total] of block.atTag) {
    const limit = known(shelf.tags, product)?.per_transaction ?? null;
    if (limit !== null) program.require(total, { high: limit });
  }
}

/** @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf */
function percentOffers(program, block, placed, shelf) {
  for (const offer of shelf.counter.offers) {
    const total = new Sum();
    for (const [variable, way] of placed) {
      if (way.percents.some((each) => each.source === offer.id)) total.add(variable, 1);
    }
    block.offers.set(offer.id, total);
    if (offer.units_per_transaction !== null && total.terms.size > 0) {
      program.require(total, { high: offer.units_per_transaction });
    }
  }
}

/** @param {Block} block @param {Placed} placed @param {Shelf} shelf */
function rainChecks(block, placed, shelf) {
  for (const check of shelf.counter.rainChecks) {
    const total = new Sum();
    for (const [variable, way] of placed) total.add(variable, Number(way.level.rainCheck === check.id));
    block.rainChecks.set(check.id, total);
  }
}

/** Step 8: progress reaches the threshold, times are limited. Where a basket coupon is spread over
 * more than what the reward counts, its part is left out, in the shopper's favour.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {readonly Basket[]} baskets @param {boolean} apart */
function rewards(program, block, placed, shelf, baskets, apart) {
  for (const reward of shelf.rewards) {
    let progress = new Sum();
    for (const [variable, way] of placed) {
      if (asksFor(reward.products, way.product)) {
        const spend = spendOf(way, reward.measure, reward.products, shelf, apart);
        progress.add(variable, reward.by === 'units' ? 1 : spend);
      }
    }
    if (reward.by === 'spend' && reward.measure === 'after_all_coupons') {
      for (const { coupon, cents } of baskets) {
        const eligible = [...shelf.products.keys()].filter((each) => asksFor(coupon.asks[0].products, each));
        if (eligible.every((each) => asksFor(reward.products, each))) progress.add(cents, -1);
      }
    }
    progress = neverBelowZero(program, progress, placed, shelf);
    /** @type {Map<number, number>} */
    const earned = new Map();
    block.earned.set(reward.id, earned);
    if (reward.tiers.length === 1) {
      const times = program.variable(0, reward.per_transaction ?? 10_000);
      program.require(progress.plus(one(times), -reward.tiers[0].threshold), { low: 0 });
      earned.set(0, times);
      continue;
    }
    const chosen = reward.tiers.map(() => program.variable(0, 1));
    program.require(added(chosen.map((each) => one(each))), { high: 1 });
    const isExact =
      reward.by === 'units' || (baskets.length === 0 && placed.every(([, way]) => way.cost >= 0));
    for (const [index, tier] of reward.tiers.entries()) {
      program.require(progress.plus(one(chosen[index]), -tier.threshold), { low: 0 });
      earned.set(index, chosen[index]);
      const higher = reward.tiers.map(({ threshold }) => threshold).filter((each) => each > tier.threshold);
      if (higher.length > 0 && isExact && !apart) {
        // The register gives the highest, also where a lower slip would pay what the highest cannot.
        const beyond = shelf.mostUnits * Math.max(0, ...progress.terms.values());
        const below = Math.min(...higher) - 1;
        program.require(progress.plus(one(chosen[index]), beyond), { high: below + beyond });
      }
    }
  }
}
