/**
 * What a report says, as the shopper would: for the history, for undo, for announcements. Pure.
 */

import { show } from '../engine/money.js';

/** @import { Event, Report, Trip } from '../engine/types.js' */

/**
 * The trip's money, shown exactly.
 * @param {Trip} trip @param {number} cents
 */
export const money = (trip, cents) => show(cents, trip.currency, trip.exponent);

/**
 * A day as the phone says it: `Saturday, December 19`, with its year where that is another than `near`'s.
 * @param {string} day ISO date @param {string} [near] ISO date
 */
export const longDay = (day, near = day) =>
  new Date(`${day}T00:00:00Z`).toLocaleDateString('en', {
    weekday: 'long',
    day: 'numeric',
    month: 'long',
    year: day.slice(0, 4) === near.slice(0, 4) ? undefined : 'numeric',
    timeZone: 'UTC',
  });

/** @param {Trip} trip @param {string} id */
export const productName = (trip, id) =>
  trip.products.find((product) => product.id === id)?.description ?? id;

/** @param {Trip} trip @param {string} id */
export const storeName = (trip, id) => trip.stores.find((store) => store.id === id)?.name ?? id;

/** @param {Trip} trip @param {string} id */
export const couponName = (trip, id) =>
  trip.coupons?.find((coupon) => coupon.id === id)?.description ?? id;

/** What to call a want: its own name, or its first product's. @param {Trip} trip @param {string} id */
export function wantName(trip, id) {
  const want = trip.wants?.find((other) => other.id === id);
  if (!want) return id;
  return want.name || productName(trip, want.products[0]);
}

/** A count of things in words. @param {number} count @param {string} one @param {string} [many] */
export const counted = (count, one, many = `${one}s`) => `${count} ${count === 1 ? one : many}`;

/**
 * One report in one sentence, without a full stop.
 * @param {Trip} trip @param {Report} what
 * @returns {string}
 */
export function sayReport(trip, what) {
  switch (what.kind) {
    case 'in_trolley': {
      const units = Math.abs(what.units);
      const name = productName(trip, what.product);
      return what.units < 0 ? `${units} × ${name} put back` : `${units} × ${name} in the trolley`;
    }
    case 'shelf_empty':
      return `Shelf empty: ${productName(trip, what.product)} at ${storeName(trip, what.store)}`;
    case 'price_seen':
      return `Tag shows ${money(trip, what.cents)}: ${productName(trip, what.product)} at ${storeName(trip, what.store)}`;
    case 'found':
      return `Found for ${money(trip, what.cents)}: ${what.product_data?.description ?? productName(trip, what.product)}`;
    case 'coupon_copies':
      return what.copies < 0
        ? `Coupon not at hand, ${counted(-what.copies, 'copy', 'copies')}: ${couponName(trip, what.coupon)}`
        : `${counted(what.copies, 'more copy', 'more copies')}: ${couponName(trip, what.coupon)}`;
    case 'coupon_found':
      return `Coupon found, ${counted(what.coupon.copies ?? 1, 'copy', 'copies')}: ${what.coupon.description}`;
    case 'chosen':
      return `Chosen: ${what.units} × ${productName(trip, what.product)} at ${storeName(trip, what.store)}`;
    case 'need_changed':
      return what.welcome === 0 && what.need === 0
        ? `Left: ${wantName(trip, what.want)}`
        : `Now ${what.welcome} × ${wantName(trip, what.want)}`;
    case 'rain_check_taken': {
      const until = what.until ? `, good until ${longDay(what.until, trip.day)}` : '';
      return `Rain check: ${what.units} × ${productName(trip, what.product)} at ${money(trip, what.cents)}${until}`;
    }
    case 'transaction_done': {
      const name = what.transaction.store.name;
      return what.shown_total_cents === undefined || what.shown_total_cents === null
        ? `Through the register at ${name}`
        : `Through the register at ${name}, which showed ${money(trip, what.shown_total_cents)}`;
    }
    case 'not_printed':
      return 'A reward did not come out';
    case 'undone':
      return 'Taken back';
  }
}

/**
 * The reports of one tap in one sentence; what was chosen for an empty shelf is said as its answer.
 * @param {Trip} trip @param {readonly Report[]} reports
 */
export function sayReports(trip, reports) {
  const [first] = reports;
  return reports.map((what) => {
    if (first.kind !== 'shelf_empty' || what.kind !== 'chosen') return sayReport(trip, what);
    const where = what.store === first.store ? '' : ` at ${storeName(trip, what.store)}`;
    return `instead ${what.units} × ${productName(trip, what.product)}${where}`;
  }).join('; ');
}

/**
 * The names of the products that the reports are about.
 * @param {Trip} trip @param {readonly Report[]} reports
 */
export const namesIn = (trip, reports) =>
  reports.flatMap((what) => ('product' in what ? [productName(trip, what.product)] : []));

/**
 * The events that one tap wrote: same device, same moment (`append` stamps a batch once).
 * @param {readonly Event[]} events standing events in id order
 * @param {Event} event
 */
export const ofOneTap = (events, event) =>
  events.filter((other) => other.device === event.device && other.at === event.at && other.trip === event.trip);
