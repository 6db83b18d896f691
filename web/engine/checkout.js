/**
 * Checkout order: which transaction first, and which slips pay where, exactly.
 * Twin of `server/engine/checkout.py`, which has the search explained and a case worked by hand.
 */

import { sum } from './belt.js';
import { cartesian } from './choices.js';
import { slipId } from './history.js';
import { lapses, rewardWorth } from './objective.js';
import { compare, sorted } from './order.js';
import { isRefusal, priceFilled } from './register.js';
import { cashSpent, houseOf, transactionsDone } from './situation.js';
import { holdsOn } from './shelf.js';
import { GIFT_CARD_CATEGORY } from './tenders.js';

/** @import { Key } from './order.js' */
/** @import { Situation } from './situation.js' */
/** @import { Filled, Receipt, RewardOffer, Tender, Transaction } from './types.js' */

/** A slip in hand on the way: `worth` is what spending it on the trip adds (only where it would
 * otherwise lapse).
 * @typedef {{id: string, cents: number, offer: string | null, worth: number}} Held */

/** A transaction in its place: its input with tenders, and the receipt that it gives.
 * @typedef {{transaction: Filled<Transaction>, receipt: Receipt}} Paid */

/**
 * What the search needs of a transaction: due, what of it slips may pay, room for slips, rewards by offer.
 * @typedef {object} Bill
 * @property {string} key
 * @property {Filled<Transaction>} transaction
 * @property {number} due
 * @property {number} forSlips
 * @property {number} slipsAllowed
 * @property {[string, number, number][]} earns offer, times, cents each
 */

/** One stop of an order: the bill, the slips that pay it, gift card cents, cash.
 * @typedef {{place: number, slips: readonly Held[], card: number, cash: number}} Step */

/**
 * One way through a house's registers: `gain` is the worth of rewards earned.
 * @typedef {object} Order
 * @property {number} gain
 * @property {number} cash
 * @property {number} peak
 * @property {number} left
 * @property {string[]} keys
 * @property {Step[]} steps
 */

/** @param {Order} order @returns {Key} */
const rank = (order) => [order.cash, order.peak, order.left, order.keys];

/** @type {Filled<Tender>} */
const CASH = Object.freeze({ kind: 'cash', cents: null });

/**
 * A packed transaction as the search sees it. Throws where the register refuses it.
 * @param {Filled<Transaction>} transaction @param {Situation} situation
 * @returns {Bill}
 */
export function billOf(transaction, situation) {
  const receipt = accepted(withTenders(transaction, [CASH], situation.earned));
  const rules = transaction.store.rules;
  const issuers = new Map(transaction.coupons.map((coupon) => [coupon.id, coupon.issuer]));
  const makers = transaction.uses.filter((use) => issuers.get(use.coupon) === 'manufacturer').length;
  let room = 10_000;
  if (rules.slip_counts_as_manufacturer_coupon && rules.coupons_no_more_than_items) {
    room = Math.max(receipt.units.length - makers, 0);
  }
  // The household's limit is reckoned along the order, so here the transaction's own times.
  const free = accepted(withTenders(transaction, [CASH], new Map()));
  return {
    key: transactionKey(transaction),
    transaction,
    due: receipt.total_cents,
    forSlips: receipt.total_cents - notForSlips(receipt, transaction),
    slipsAllowed: room,
    earns: free.earned.map((earned) => [earned.offer, earned.times, earned.each_cents]),
  };
}

/** What is paid for gift cards on sale, where slips do not pay for them.
 * @param {Receipt} receipt @param {Filled<Transaction>} transaction */
function notForSlips(receipt, transaction) {
  if (transaction.store.rules.slips_buy_gift_cards) return 0;
  const onSale = transaction.products.filter((each) => each.category === GIFT_CARD_CATEGORY);
  const cards = new Set(onSale.map((each) => each.id));
  return sum(receipt.units.filter((unit) => cards.has(unit.product)).map((unit) => unit.paid_cents));
}

/** The register does not take a planned transaction as it was packed. */
export class RefusedAtTheRegister extends Error {}

// Receipts of transactions planned lately: after a tap most are those of the plan before.
/** @type {Map<string, Receipt>} */
const RECEIPTS = new Map();
const MOST_RECEIPTS = 200;

/**
 * The register's receipt of a transaction that we planned. Throws where it refuses.
 * @param {Filled<Transaction>} transaction
 */
function accepted(transaction) {
  const key = JSON.stringify(transaction);
  const receipt = RECEIPTS.get(key) ?? priceFilled(transaction);
  if (isRefusal(receipt)) {
    throw new RefusedAtTheRegister(`the register refuses a planned transaction: ${receipt.sentence}`);
  }
  RECEIPTS.delete(key);
  RECEIPTS.set(key, receipt);
  for (const oldest of RECEIPTS.keys()) {
    if (RECEIPTS.size <= MOST_RECEIPTS) break;
    RECEIPTS.delete(oldest);
  }
  return receipt;
}

/** No receipt is remembered: for benches. */
export function forget() {
  RECEIPTS.clear();
}

/** A name of a transaction's content that is the same in both twins.
 * @param {Filled<Transaction>} transaction */
export function transactionKey(transaction) {
  const lines = transaction.lines.map((line) => `${line.product}*${line.units}${line.rain_check || ''}`);
  const uses = transaction.uses.map((use) => `${use.coupon}:${use.units.join('.')}`);
  return `${lines.join(',')}|${uses.join(',')}`;
}

/**
 * The transaction with its tenders and what the household earned before.
 * @param {Filled<Transaction>} transaction @param {Filled<Tender>[]} tenders
 * @param {ReadonlyMap<string, number>} earnedBefore
 * @returns {Filled<Transaction>}
 */
export function withTenders(transaction, tenders, earnedBefore) {
  const relevant = new Set(transaction.rewards.map((reward) => reward.id));
  const earned = sorted(earnedBefore, ([offer]) => offer);
  return {
    ...transaction,
    tenders,
    earned_before: Object.fromEntries(earned.filter(([offer, times]) => relevant.has(offer) && times > 0)),
  };
}

/**
 * The best order for each worth of rewards that some order earns, most worth first.
 * @param {Situation} situation @param {string} house
 * @param {readonly Filled<Transaction>[]} transactions of one house; those of a store that she drives
 *   to earlier come first
 * @returns {Order[]}
 */
export function orders(situation, house, transactions) {
  const trip = situation.trip;
  const stores = new Map(trip.stores.map((store) => [store.id, houseOf(store)]));
  const walk = new Walk(
    situation,
    transactions.map((transaction) => billOf(transaction, situation)),
    new Map(transactions.flatMap((each) => each.rewards.map((reward) => [reward.id, reward]))),
    trip.stores.map((store) => store.id),
  );
  const hand = trip.wallet.slips
    .filter((slip) => stores.get(slip.store) === house && holdsOn(trip.day, null, slip.until))
    .map((slip) => ({ id: slip.id, cents: slip.cents, offer: slip.offer, worth: 0 }));
  const cards = trip.wallet.gift_cards.filter((card) => stores.get(card.store) === house);
  const balance = sum(cards.map((card) => card.cents));
  /** @type {Map<number, Order>} */
  const best = new Map();
  for (const found of walk.on([...transactions.keys()], hand, balance, new Map(situation.earned))) {
    const held = best.get(found.gain);
    if (held === undefined || compare(rank(found), rank(held)) < 0) best.set(found.gain, found);
  }
  return sorted(best.values(), (order) => -order.gain);
}

/** What stays the same while every order is tried. */
class Walk {
  /**
   * @param {Situation} situation @param {readonly Bill[]} bills
   * @param {ReadonlyMap<string, Filled<RewardOffer>>} rewards @param {readonly string[]} drive
   */
  constructor(situation, bills, rewards, drive) {
    this.situation = situation;
    this.bills = bills;
    this.rewards = rewards;
    this.drive = drive;
  }

  /**
   * Every order of the open transactions from here, with every choice of slips.
   * @param {readonly number[]} openBills @param {readonly Held[]} hand @param {number} balance
   * @param {ReadonlyMap<string, number>} earned
   * @returns {Generator<Order>}
   */
  *on(openBills, hand, balance, earned) {
    if (openBills.length === 0) {
      yield { gain: 0, cash: 0, peak: 0, left: hand.length, keys: [], steps: [] };
      return;
    }
    const places = openBills.map((place) => this.drive.indexOf(this.bills[place].transaction.store.id));
    const first = Math.min(...places);
    const tried = new Set();
    for (const [index, place] of openBills.entries()) {
      const bill = this.bills[place];
      // The same content elsewhere is the same order.
      if (places[index] > first || tried.has(bill.key)) continue;
      tried.add(bill.key);
      const rest = openBills.filter((other) => other !== place);
      for (const slips of slipChoices(hand, bill.forSlips, bill.slipsAllowed)) {
        const due = bill.due - sum(slips.map((slip) => slip.cents));
        const card = Math.min(balance, due);
        const cash = due - card;
        const number = this.number(bill, rest);
        const { gain, kept, loaded, after } = this.earn(bill, slips, hand, earned, number);
        for (const later of this.on(rest, kept, balance - card + loaded, after)) {
          yield {
            gain: gain + later.gain,
            cash: cash + later.cash,
            peak: Math.max(cash, later.peak),
            left: later.left,
            keys: [bill.key, ...later.keys],
            steps: [{ place, slips, card, cash }, ...later.steps],
          };
        }
      }
    }
  }

  /** The running number of this transaction at its store.
   * @param {Bill} bill @param {readonly number[]} rest */
  number(bill, rest) {
    const store = bill.transaction.store.id;
    const planned = this.bills.filter((each) => each.transaction.store.id === store).length;
    const toCome = rest.filter((other) => this.bills[other].transaction.store.id === store).length;
    return transactionsDone(this.situation, store) + planned - toCome;
  }

  /**
   * Worth gained, slips in hand, cents loaded on gift cards, times earned, after a transaction.
   * @param {Bill} bill @param {readonly Held[]} slips @param {readonly Held[]} hand
   * @param {ReadonlyMap<string, number>} earned @param {number} number
   */
  earn(bill, slips, hand, earned, number) {
    const after = new Map(earned);
    const kept = hand.filter((slip) => !slips.includes(slip));
    let gain = sum(slips.map((slip) => slip.worth));
    let loaded = 0;
    for (const [offer, most, each] of bill.earns) {
      const reward = /** @type {Filled<RewardOffer>} */ (this.rewards.get(offer));
      if (!reward.rolls && slips.some((slip) => slip.offer === offer)) continue;
      const before = after.get(offer) ?? 0;
      const times =
        reward.per_household === null ? most : Math.min(most, Math.max(reward.per_household - before, 0));
      after.set(offer, before + times);
      const worth = rewardWorth(reward, each, this.situation.trip.settings.worth);
      const late = lapses(reward, this.situation);
      gain += late ? 0 : times * worth;
      loaded += reward.kind === 'gift_card' ? times * each : 0;
      if (reward.kind === 'slip') {
        const store = bill.transaction.store.id;
        for (let k = 0; k < times; k += 1) {
          kept.push({ id: slipId(offer, store, number, k), cents: each, offer, worth: late ? worth : 0 });
        }
      }
    }
    return { gain, kept, loaded, after };
  }
}

/**
 * Every choice of whole slips worth no more than `most` cents; of equal slips the first ones.
 * @param {readonly Held[]} hand @param {number} most @param {number} allowed
 * @returns {Generator<Held[]>}
 */
function* slipChoices(hand, most, allowed) {
  /** @type {Map<string, Held[]>} */
  const kinds = new Map();
  for (const slip of hand) {
    const kind = JSON.stringify([slip.cents, slip.offer, slip.worth]);
    kinds.set(kind, [...(kinds.get(kind) ?? []), slip]);
  }
  const groups = [...kinds.values()];
  for (const counts of cartesian(groups.map((group) => [...Array(group.length + 1).keys()]))) {
    const chosen = groups.flatMap((group, place) => group.slice(0, counts[place]));
    const fits = sum(chosen.map((slip) => slip.cents)) <= most && chosen.length <= allowed;
    if (chosen.length === 0 || fits) yield chosen;
  }
}

/**
 * The transactions in that order with their tenders, priced by the register.
 * @param {Situation} situation @param {string} house
 * @param {readonly Filled<Transaction>[]} transactions @param {Order} order
 * @returns {Paid[]}
 */
export function settle(situation, house, transactions, order) {
  const earned = new Map(situation.earned);
  const stores = new Map(situation.trip.stores.map((store) => [store.id, houseOf(store)]));
  const cards = situation.trip.wallet.gift_cards.filter((card) => stores.get(card.store) === house);
  return order.steps.map(({ place, slips, card }) => {
    /** @type {Filled<Tender>[]} */
    const tenders = slips.map(({ cents, id, offer }) => ({ kind: 'slip', cents, id, offer }));
    if (card > 0) tenders.push({ kind: 'gift_card', cents: card, id: cards[0]?.id ?? `${house} gift card` });
    tenders.push(CASH);
    const transaction = withTenders(transactions[place], tenders, earned);
    const receipt = accepted(transaction);
    for (const each of receipt.earned) {
      earned.set(each.offer, (earned.get(each.offer) ?? 0) + each.times);
    }
    return { transaction, receipt };
  });
}

/**
 * One order per house: the most worth that the cash ceilings allow, then the least cash.
 *
 * Where nothing keeps within the ceilings, the least cash: the plan then says so.
 * @param {Situation} situation @param {ReadonlyMap<string, readonly Order[]>} byHouse
 * @param {ReadonlyMap<string, readonly Filled<Transaction>[]>} packed
 * @returns {Map<string, Order>}
 */
export function chooseOrders(situation, byHouse, packed) {
  const houses = [...byHouse.keys()];
  /** @type {{rank: number[], chosen: Order[]} | null} */
  let best = null;
  for (const chosen of cartesian([...byHouse.values()])) {
    const cash = houses.flatMap((house, index) => {
      const transactions = packed.get(house) ?? [];
      return chosen[index].steps.map((step) => ({
        store: transactions[step.place].store.id,
        cents: step.cash,
      }));
    });
    const gain = sum(chosen.map((order) => order.gain));
    const rank = [overCeilings(situation, cash), -gain, sum(cash.map(({ cents }) => cents))];
    if (best === null || compare(rank, best.rank) < 0) best = { rank, chosen };
  }
  const found = /** @type {{chosen: Order[]}} */ (best).chosen;
  return new Map(houses.map((house, index) => [house, found[index]]));
}

/**
 * By how many cents the cash of the trip, with what is to be put down at the stores, passes the
 * ceilings of the trip and of each store.
 * @param {Situation} situation @param {readonly {store: string, cents: number}[]} cash
 */
export const overCeilings = (situation, cash) => sum([...overEachCeiling(situation, cash).values()]);

/**
 * The same per store whose own ceiling is passed, and under null for the trip's.
 * @param {Situation} situation @param {readonly {store: string, cents: number}[]} cash
 * @returns {Map<string | null, number>}
 */
export function overEachCeiling(situation, cash) {
  const { stores, wallet } = situation.trip;
  /** @type {Map<string | null, number | null>} */
  const ceilings = new Map([[null, wallet.cash_cents]]);
  for (const store of stores) ceilings.set(store.id, store.cash_ceiling_cents);
  /** @type {Map<string | null, number>} */
  const over = new Map();
  for (const [scope, ceiling] of ceilings) {
    if (ceiling === null) continue;
    const own = cash.filter(({ store }) => scope === null || scope === store).map(({ cents }) => cents);
    const spent = cashSpent(situation, scope ?? undefined) + sum(own);
    if (spent > ceiling) over.set(scope, spent - ceiling);
  }
  return over;
}
