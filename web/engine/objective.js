/**
 * The levels of the objective as sums over a program's variables. They are solved one after the
 * other in `levels.js`. Twin of `server/engine/objective.py`.
 */

import { sum } from './belt.js';
import { APART_SCALE, due } from './block.js';
import { known } from './entries.js';
import { spotSums } from './limits.js';
import { worthCents } from './measure.js';
import { roundHalfUp } from './money.js';
import { Sum, added, one } from './program.js';
import { bought, productById, spotOf, transactionsDone } from './situation.js';

/** @import { Filled, RewardOffer, Want, Worth } from './types.js' */
/** @import { Blocks, Shelf } from './block.js' */
/** @import { Tendering } from './cash.js' */
/** @import { Program } from './program.js' */
/** @import { Situation } from './situation.js' */

/** @typedef {'apart' | 'untendered' | 'whole'} Scope how much of the register is in a program */

/** What a reward of `cents` is worth to the shopper, in whole cents, half up.
 * @param {Filled<RewardOffer>} reward @param {number} cents @param {Filled<Worth>} worth */
export function rewardWorth(reward, cents, worth) {
  const rate = { slip: worth.slip_bp, gift_card: worth.gift_card_bp, points: worth.points_bp }[reward.kind];
  return roundHalfUp(cents * rate, 10_000);
}

/** Whether a slip of this offer is worth nothing unless it is spent on the trip.
 * @param {Filled<RewardOffer>} reward @param {Situation} situation */
export function lapses(reward, situation) {
  return reward.kind === 'slip' && reward.valid_days < situation.trip.settings.days_to_next_visit;
}

/**
 * Net cost less worth of the units, and the price of going on: what level 2 makes least.
 * @param {Situation} situation @param {ReadonlyMap<string, Shelf>} shelves @param {Blocks} blocks
 * @param {ReadonlyMap<string, Tendering>} tendering @param {ReadonlyMap<string, Sum>} claims
 * @param {ReadonlyMap<string, number>} bonuses @param {ReadonlyMap<string, Sum>} assigned
 * @param {Scope} scope
 */
export function valueOf(situation, shelves, blocks, tendering, claims, bonuses, assigned, scope) {
  const trip = situation.trip;
  const settings = trip.settings;
  let total = new Sum();
  for (const [store, each] of blocks) {
    const seen = transactionsDone(situation, store);
    for (const [place, block] of each.entries()) {
      const beyond = place + seen ? settings.further_transaction_cents : settings.further_store_cents;
      total.add(block.used, beyond);
      for (const reward of known(shelves, store).rewards) {
        if (lapses(reward, situation) && scope === 'whole') continue;
        for (const [index, tier] of reward.tiers.entries()) {
          const worth = rewardWorth(reward, tier.cents, settings.worth);
          total.add(known(known(block.earned, reward.id), index), -worth);
        }
      }
    }
  }
  const offers = new Map(trip.rewards.map((reward) => [reward.id, reward]));
  for (const each of tendering.values()) {
    for (const [offer, tiers] of each.spent) {
      const reward = known(offers, offer);
      if (!lapses(reward, situation)) continue;
      for (const [index, spent] of tiers) {
        total = total.plus(spent, -rewardWorth(reward, reward.tiers[index].cents, settings.worth));
      }
    }
  }
  for (const rebate of trip.rebates) {
    const claimed = claims.get(rebate.id);
    if (claimed !== undefined && claimed.terms.size > 0) {
      total = total.plus(claimed, -roundHalfUp(rebate.cents * settings.worth.rebate_bp, 10_000));
    }
  }
  for (const bonus of trip.set_bonuses) {
    const won = bonuses.get(bonus.id);
    if (won !== undefined) total.add(won, -roundHalfUp(bonus.cents * settings.worth.rebate_bp, 10_000));
  }
  const byId = productById(trip);
  const wants = new Map(trip.wants.map((want) => [want.id, want]));
  for (const [wanted, units] of assigned) {
    const [want, product] = spotOf(wanted);
    const stockUp = known(wants, want).stock_up;
    if (stockUp !== null) total = total.plus(units, -worthCents(known(byId, product), stockUp));
  }
  return dues(blocks).plus(total, scope === 'apart' ? APART_SCALE : 1);
}

/** All that the registers ask for, at some stores or (null) at all.
 * @param {Blocks} blocks @param {readonly string[] | null} [stores] */
export function dues(blocks, stores = null) {
  const asked = [...blocks].filter(([store]) => stores === null || stores.includes(store));
  return added(asked.flatMap(([, each]) => each.map(due)));
}

/** Units more or fewer per spot than in the plan she left home with.
 * @param {Program} program @param {Situation} situation @param {Blocks} blocks */
export function changesFromHome(program, situation, blocks) {
  const total = new Sum();
  if (situation.home === null) return total;
  for (const [spot, units] of spotSums(blocks)) {
    const change = program.variable(0, 20_000);
    const [store, product] = spotOf(spot);
    const planned = (situation.home.get(spot) ?? 0) - bought(situation, store, product);
    program.require(one(change).plus(units, -1), { low: -planned });
    program.require(one(change).plus(units), { low: planned });
    total.add(change, 1);
  }
  return total;
}

/** The rank of each unit's product in the want that likes it best (0 for the first).
 * @param {readonly Filled<Want>[]} wants @param {ReadonlyMap<string, Shelf>} shelves
 * @param {Blocks} blocks */
export function preferences(wants, shelves, blocks) {
  /** @type {Map<string, number>} */
  const ranks = new Map();
  for (const want of wants) {
    for (const [rank, product] of want.products.entries()) {
      ranks.set(product, Math.min(rank, ranks.get(product) ?? rank, 15));
    }
  }
  const total = new Sum();
  for (const [store, each] of blocks) {
    const ranked = known(shelves, store).columns.map((column) =>
      sum(column.ways.map((way) => known(ranks, way.product))),
    );
    for (const block of each) {
      for (const [place, variable] of block.columns.entries()) total.add(variable, ranked[place]);
    }
  }
  return total;
}
