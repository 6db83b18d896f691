/**
 * From what happened to a situation: the fold over the shopper's reports.
 * Twin of `server/engine/history.py`.
 */

import { sum } from './belt.js';
import { daysAfter } from './calendar.js';
import { filledTrip } from './offers.js';
import { sorted } from './order.js';
import { filledReport } from './papers.js';
import { isRefusal, priceFilled } from './register.js';
import { mostWelcome, settleOrder, situationOf, spotKey, spotOf, tagAt } from './situation.js';
import { holdsOn } from './shelf.js';

/** @import { Done, Situation, Spot } from './situation.js' */
/** @import { Coupon, Filled, Found, GiftCard, Happened, PriceSeen, Receipt, Report } from './types.js' */
/** @import { ShelfPrice, Slip, Transaction, TransactionDone, Trip, Want } from './types.js' */

/**
 * The situation while it is being built. `printed`: slips per event of a finished transaction.
 * @typedef {object} Fold
 * @property {Filled<Trip>} trip
 * @property {Map<Spot, number>} trolley
 * @property {Map<Spot, number>} chosen
 * @property {Set<Spot>} empty
 * @property {Done[]} done
 * @property {Map<string, number>} used
 * @property {Map<string, number>} earned
 * @property {Map<string, number>} offerTransactions
 * @property {Map<string, readonly Filled<Slip>[]>} printed
 */

/**
 * The situation after the reports.
 * @param {Trip} trip @param {Happened} happened
 * @param {ReadonlyMap<Spot, number> | null} [home] units per spot of the plan she left home with
 * @returns {Situation}
 */
export function situationAfter(trip, happened, home = null) {
  const undone = takenBack(happened);
  const settled = settledTrip(trip);
  /** @type {Fold} */
  const fold = {
    trip: settled,
    trolley: new Map(),
    chosen: new Map((trip.pinned ?? []).map((each) => [spotKey(each.store, each.product), each.units])),
    empty: new Set(),
    done: [],
    used: new Map(),
    earned: new Map(),
    offerTransactions: new Map(),
    printed: new Map(),
  };
  for (const [event, report] of happened.entries) {
    if (!undone.has(event) || event === '') apply(fold, event, filledReport(report));
  }
  for (const [spot, units] of fold.chosen) {
    if (units > (fold.trolley.get(spot) ?? 0)) fold.trolley.set(spot, units);
  }
  keepUnplanned(fold);
  const held = [...fold.trolley].filter(([, units]) => units > 0);
  return situationOf({
    trip: fold.trip === settled ? settled : settleOrder(fold.trip),
    trolley: new Map(sorted(held, ([spot]) => spotOf(spot))),
    empty: fold.empty,
    done: fold.done,
    used: fold.used,
    earned: fold.earned,
    offerTransactions: fold.offerTransactions,
    home,
  });
}

// A trip is the same object through many reports, and so is what is made of it.
/** @type {WeakMap<Trip, Filled<Trip>>} */
const SETTLED = new WeakMap();

/** The trip as packed, written out and in order. @param {Trip} trip @returns {Filled<Trip>} */
function settledTrip(trip) {
  const settled = SETTLED.get(trip) ?? settleOrder(filledTrip(trip));
  SETTLED.set(trip, settled);
  return settled;
}

/** Events that are taken back, by a taking-back that is not itself taken back.
 * @param {Happened} happened */
function takenBack(happened) {
  /** @type {Set<string>} */
  const undone = new Set();
  for (const [event, report] of [...happened.entries].reverse()) {
    if (report.kind === 'undone' && (event === '' || !undone.has(event))) undone.add(report.event);
  }
  return undone;
}

/**
 * Whether a report names a store and a product of the trip; one that does not, from a foreign or
 * broken client, changes nothing.
 * @param {Filled<Trip>} trip @param {Report} report
 */
function concerns(trip, report) {
  const isStore = (/** @type {string} */ id) => trip.stores.some((store) => store.id === id);
  const isProduct = (/** @type {string} */ id) => trip.products.some((product) => product.id === id);
  switch (report.kind) {
    case 'in_trolley':
    case 'shelf_empty':
    case 'chosen':
    case 'price_seen':
    case 'rain_check_taken':
      return isStore(report.store) && isProduct(report.product);
    case 'found':
      return isStore(report.store) && (isProduct(report.product) || (report.product_data ?? null) !== null);
    case 'transaction_done':
      return isStore(report.transaction.store.id);
    default:
      return true;
  }
}

/** @param {Fold} fold @param {string} event @param {Filled<Report>} report */
function apply(fold, event, report) {
  if (!concerns(fold.trip, report)) return;
  switch (report.kind) {
    case 'in_trolley': {
      const spot = spotKey(report.store, report.product);
      fold.trolley.set(spot, Math.max((fold.trolley.get(spot) ?? 0) + report.units, 0));
      break;
    }
    case 'shelf_empty': {
      const spot = spotKey(report.store, report.product);
      fold.empty.add(spot);
      fold.chosen.delete(spot);
      break;
    }
    case 'chosen':
      fold.chosen.set(spotKey(report.store, report.product), report.units);
      break;
    case 'price_seen':
      priceSeen(fold, report);
      break;
    case 'found':
      found(fold, report);
      break;
    case 'coupon_copies':
      changeCopies(fold, report.coupon, report.copies);
      break;
    case 'coupon_found':
      couponFound(fold, report.coupon);
      break;
    case 'need_changed': {
      const { want, need, welcome } = report;
      const wants = fold.trip.wants.map((each) => (each.id === want ? { ...each, need, welcome } : each));
      fold.trip = { ...fold.trip, wants };
      break;
    }
    case 'rain_check_taken': {
      // The paper is for a later visit: today the shelf is bare, and so much is asked for no more.
      const spot = spotKey(report.store, report.product);
      fold.empty.add(spot);
      fold.chosen.delete(spot);
      meet(fold, report.product, report.units);
      break;
    }
    case 'transaction_done':
      transactionDone(fold, event, report);
      break;
    case 'not_printed':
      notPrinted(fold, report.done, report.offer);
      break;
    case 'undone':
      break;
  }
}

/** The tag as seen, with the deal of the tag that held till then: a channel that had none of its own
 * had its parent's. It is the store's own for the day.
 * @param {Fold} fold @param {Filled<PriceSeen>} report */
function priceSeen(fold, report) {
  const { trip } = fold;
  const { store, product, cents } = report;
  const place = trip.stores.find((each) => each.id === store);
  const old = place === undefined ? null : tagAt(trip, place, product);
  /** @type {Filled<ShelfPrice>} */
  const seen =
    old === null
      ? newTag(store, product, cents)
      : { ...old, cents, low_cents: null, high_cents: null, deal: report.without_deal ? null : old.deal };
  const others = trip.prices.filter((tag) => {
    const isHere = tag.store === store && tag.product === product;
    return !isHere || !holdsOn(trip.day, tag.from_date, tag.until);
  });
  fold.trip = { ...trip, prices: [...others, seen] };
  fold.empty.delete(spotKey(store, product));
}

/**
 * @param {string} store @param {string} product @param {number} cents
 * @returns {Filled<ShelfPrice>}
 */
const newTag = (store, product, cents) => ({
  store,
  product,
  cents,
  regular_cents: null,
  low_cents: null,
  high_cents: null,
  kind: 'regular',
  deal: null,
  from_date: null,
  until: null,
  place: '',
  place_note: '',
  per_transaction: null,
  per_visit: null,
});

/** A variant found on the shelf joins the want, after the products that she named herself.
 * @param {Fold} fold @param {Filled<Found>} report */
function found(fold, report) {
  const { want, store, product, cents } = report;
  const data = report.product_data;
  if (data !== null && fold.trip.products.every((each) => each.id !== product)) {
    fold.trip = { ...fold.trip, products: [...fold.trip.products, data] };
  }
  const wants = fold.trip.wants.map((each) =>
    each.id === want && !each.products.includes(product)
      ? { ...each, products: [...each.products, product] }
      : each,
  );
  fold.trip = { ...fold.trip, wants };
  priceSeen(fold, { kind: 'price_seen', store, product, cents, without_deal: false });
}

/** @param {Fold} fold @param {string} coupon @param {number} copies */
function changeCopies(fold, coupon, copies) {
  /** @param {Filled<Coupon>} each */
  const changed = (each) => ({ ...each, copies: Math.min(Math.max(each.copies + copies, 0), 10_000) });
  const coupons = fold.trip.coupons.map((each) => (each.id === coupon ? changed(each) : each));
  fold.trip = { ...fold.trip, coupons };
}

/** A coupon from the shelf joins the trip's; one that the trip knows has more copies.
 * @param {Fold} fold @param {Filled<Coupon>} coupon */
function couponFound(fold, coupon) {
  if (fold.trip.coupons.some((each) => each.id === coupon.id)) {
    changeCopies(fold, coupon.id, coupon.copies);
  } else {
    fold.trip = { ...fold.trip, coupons: [...fold.trip.coupons, coupon] };
  }
}

/** A finished transaction: its units, copies, slips and limits are spent, its slips are real.
 * @param {Fold} fold @param {string} event @param {Filled<TransactionDone>} report */
function transactionDone(fold, event, report) {
  const transaction = report.transaction;
  let receipt = priceFilled(transaction);
  if (isRefusal(receipt)) {
    // The shopper may have done what the house rules forbid; the units are hers all the same.
    receipt = priceFilled({ ...transaction, uses: [], offer_uses: [] });
  }
  if (isRefusal(receipt)) return;
  const store = transaction.store.id;
  const shown = report.shown_total_cents ?? receipt.total_cents;
  const notCash = sum(receipt.tenders.filter((line) => line.kind !== 'cash').map((line) => line.cents));
  fold.done.push({
    event,
    transaction,
    receipt,
    paidCents: shown,
    outOfPocketCents: Math.max(shown - notCash, 0),
    lost: [],
  });
  for (const line of transaction.lines) {
    const spot = spotKey(store, line.product);
    fold.trolley.set(spot, Math.max((fold.trolley.get(spot) ?? 0) - line.units, 0));
    fold.chosen.set(spot, Math.max((fold.chosen.get(spot) ?? 0) - line.units, 0));
    meet(fold, line.product, line.units);
  }
  for (const use of transaction.uses) {
    fold.used.set(use.coupon, (fold.used.get(use.coupon) ?? 0) + 1);
    changeCopies(fold, use.coupon, -1);
  }
  for (const offer of new Set(transaction.offer_uses.map((use) => use.offer))) {
    fold.offerTransactions.set(offer, (fold.offerTransactions.get(offer) ?? 0) + 1);
  }
  for (const earned of receipt.earned) {
    fold.earned.set(earned.offer, (fold.earned.get(earned.offer) ?? 0) + earned.times);
  }
  spendAndPrint(fold, event, report, receipt);
}

/** Bought units meet the wants that accept them, needs first, in the order of their ids.
 * @param {Fold} fold @param {string} product @param {number} units */
function meet(fold, product, units) {
  const wants = new Map(fold.trip.wants.map((want) => [want.id, want]));
  for (const onlyNeeds of [true, false]) {
    for (const want of sorted(wants.values(), (each) => each.id)) {
      const room = onlyNeeds ? want.need : mostWelcome(want);
      const taken = want.products.includes(product) ? Math.min(units, room) : 0;
      if (taken > 0) {
        const need = Math.max(want.need - taken, 0);
        wants.set(want.id, { ...want, need, welcome: Math.max(mostWelcome(want) - taken, 0) });
        units -= taken;
      }
    }
  }
  fold.trip = { ...fold.trip, wants: [...wants.values()] };
}

/** Slips and balances after a transaction.
 * @param {Fold} fold @param {string} event @param {Filled<TransactionDone>} report @param {Receipt} receipt */
function spendAndPrint(fold, event, report, receipt) {
  const transaction = report.transaction;
  const store = transaction.store.id;
  let wallet = fold.trip.wallet;
  const number = fold.done.filter((done) => done.transaction.store.id === store).length;
  const spent = new Set(
    transaction.tenders.flatMap((tender) => (tender.kind === 'slip' ? [tender.id] : [])),
  );
  let drawn = sum(receipt.tenders.filter((line) => line.kind === 'gift_card').map((line) => line.cents));
  const cards = wallet.gift_cards.map((card) => {
    const cents = card.store === store ? Math.min(drawn, card.cents) : 0;
    drawn -= cents;
    return { ...card, cents: card.cents - cents };
  });
  if (transaction.tenders.some((tender) => tender.kind === 'gift_card')) {
    wallet = { ...wallet, gift_cards: cards };
  }
  const slips = report.printed ?? printedSlips(transaction, receipt, number);
  fold.printed.set(event, slips);
  /** @type {Filled<GiftCard>[]} */
  const loaded = receipt.earned
    .filter((earned) => earned.kind === 'gift_card')
    .map((earned) => ({ id: `${earned.offer}.${number}`, store, cents: earned.cents }));
  /** @param {string} check */
  const paidFor = (check) =>
    sum(transaction.lines.filter((line) => line.rain_check === check).map((line) => line.units));
  fold.trip = {
    ...fold.trip,
    wallet: {
      ...wallet,
      slips: [...wallet.slips.filter((slip) => !spent.has(slip.id)), ...slips],
      gift_cards: [...wallet.gift_cards, ...loaded],
      rain_checks: wallet.rain_checks
        .filter((check) => check.units > paidFor(check.id))
        .map((check) => ({ ...check, units: check.units - paidFor(check.id) })),
    },
  };
}

/**
 * The slips that a store's `number`-th transaction of the trip should have printed.
 * @param {Filled<Transaction>} transaction @param {Receipt} receipt @param {number} number
 * @returns {Filled<Slip>[]}
 */
export function printedSlips(transaction, receipt, number) {
  const offers = new Map(transaction.rewards.map((offer) => [offer.id, offer]));
  const store = transaction.store.id;
  return receipt.earned.flatMap((earned) => {
    const offer = offers.get(earned.offer);
    if (offer?.kind !== 'slip') return [];
    const until = daysAfter(transaction.day, offer.valid_days);
    return Array.from({ length: earned.times }, (_, k) => ({
      id: slipId(offer.id, store, number, k),
      store,
      cents: earned.each_cents,
      until,
      offer: offer.id,
    }));
  });
}

/** The name of the k-th slip (from 0) that a store's `number`-th transaction prints for an offer.
 * @param {string} offer @param {string} store @param {number} number @param {number} k */
export const slipId = (offer, store, number, k) => `${offer}.${store}.${number}.${k + 1}`;

/** A reward that did not come out: its slips are not in the wallet, its worth is not counted.
 * @param {Fold} fold @param {string} doneEvent @param {string} offer */
function notPrinted(fold, doneEvent, offer) {
  const printed = fold.printed.get(doneEvent) ?? [];
  const lost = new Set(printed.filter((slip) => slip.offer === offer).map((slip) => slip.id));
  const wallet = fold.trip.wallet;
  const slips = wallet.slips.filter((slip) => !lost.has(slip.id));
  fold.trip = { ...fold.trip, wallet: { ...wallet, slips } };
  fold.done.forEach((done, place) => {
    if (done.event === doneEvent) {
      fold.done[place] = { ...done, lost: [...done.lost, offer] };
      const earned = done.receipt.earned.filter((each) => each.offer === offer);
      const times = sum(earned.map((each) => each.times));
      fold.earned.set(offer, Math.max((fold.earned.get(offer) ?? 0) - times, 0));
    }
  });
}

/** Whatever lies in the trolley stays: a want's ceiling rises with it, and a product that no
 * want accepts becomes a want of its own.
 * @param {Fold} fold */
function keepUnplanned(fold) {
  const wants = new Map(fold.trip.wants.map((want) => [want.id, want]));
  const room = new Map(fold.trip.wants.map((want) => [want.id, mostWelcome(want)]));
  let anyUnplanned = false;
  /** @type {Map<string, number>} */
  const totals = new Map();
  for (const [spot, units] of sorted(fold.trolley, (each) => [...spotOf(each[0]), each[1]])) {
    const product = spotOf(spot)[1];
    totals.set(product, (totals.get(product) ?? 0) + units);
  }
  for (const [product, total] of totals) {
    let units = total;
    const takers = sorted(
      [...wants.values()].filter((want) => want.products.includes(product)),
      (want) => want.id,
    );
    for (const want of takers) {
      const taken = Math.min(units, room.get(want.id) ?? 0);
      room.set(want.id, (room.get(want.id) ?? 0) - taken);
      units -= taken;
    }
    if (units === 0) continue;
    anyUnplanned = true;
    if (takers.length > 0) {
      const held = takers[0];
      wants.set(held.id, { ...held, welcome: mostWelcome(held) + units });
    } else {
      const id = `unplanned.${product}`.slice(0, 80);
      /** @type {Filled<Want>} */
      const unplanned = { id, products: [product], name: '', need: 0, welcome: units, stock_up: null };
      wants.set(id, unplanned);
    }
  }
  if (anyUnplanned) fold.trip = { ...fold.trip, wants: [...wants.values()] };
}
