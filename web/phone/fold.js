/**
 * What the reported events add up to, for the screens. Pure; knows no screen and no clock.
 *
 * The engine folds the same events into a plan; this is the part that a shopper sees of them
 * at once, before any replan: what lies in the trolley, what is bought, which shelf is empty.
 */

/** @import { Event, Report, TransactionDone } from '../engine/papers.js' */

/**
 * One thing on one store's shelf, as a key.
 * @param {string} store
 * @param {string} product
 */
export const keyOf = (store, product) => `${store} ${product}`;

/**
 * @typedef {object} Done
 * @property {string} event id of the event
 * @property {TransactionDone} report
 */

/**
 * @typedef {object} Standing
 * @property {Map<string, number>} trolley units that lie in the trolley, by `keyOf`
 * @property {Map<string, number>} bought units that went through the register, by `keyOf`
 * @property {Set<string>} empty shelves reported empty, by `keyOf`
 * @property {Map<string, number>} seen cents that the tag was seen to show, by `keyOf`
 * @property {Map<string, number>} copies coupon id -> copies more or fewer than packed
 * @property {Map<string, {need: number, welcome: number}>} needs want id -> its numbers now
 * @property {Done[]} done transactions through the register, in order
 */

/**
 * Events that still count, in order: one that a later `undone` names is gone, and so is an
 * `undone` that was itself taken back.
 * @param {readonly Event[]} events in id order
 * @returns {Event[]}
 */
export function standingEvents(events) {
  /** @type {Set<string>} */
  const takenBack = new Set();
  /** @type {Event[]} */
  const standing = [];
  for (let i = events.length - 1; i >= 0; i -= 1) {
    const event = events[i];
    if (takenBack.has(event.id)) continue;
    if (event.what.kind === 'undone') takenBack.add(event.what.event);
    else standing.push(event);
  }
  return standing.reverse();
}

/**
 * Folds events into where the trip stands.
 * @param {readonly Event[]} events in id order
 * @returns {Standing}
 */
export function fold(events) {
  /** @type {Standing} */
  const standing = {
    trolley: new Map(), bought: new Map(), empty: new Set(), seen: new Map(),
    copies: new Map(), needs: new Map(), done: [],
  };
  for (const event of standingEvents(events)) report(standing, event.id, event.what);
  return standing;
}

/**
 * @param {Standing} standing changed in place
 * @param {string} id
 * @param {Report} what
 */
function report(standing, id, what) {
  switch (what.kind) {
    case 'in_trolley':
      add(standing.trolley, keyOf(what.store, what.product), what.units);
      break;
    case 'shelf_empty':
      standing.empty.add(keyOf(what.store, what.product));
      break;
    case 'price_seen':
    case 'found':
      standing.seen.set(keyOf(what.store, what.product), what.cents);
      standing.empty.delete(keyOf(what.store, what.product));
      break;
    case 'coupon_copies':
      add(standing.copies, what.coupon, what.copies);
      break;
    case 'need_changed':
      standing.needs.set(what.want, { need: what.need, welcome: what.welcome });
      break;
    case 'transaction_done':
      standing.done.push({ event: id, report: what });
      for (const line of what.transaction.lines) {
        const key = keyOf(what.transaction.store.id, line.product);
        add(standing.bought, key, line.units);
        const lying = standing.trolley.get(key) ?? 0;
        standing.trolley.set(key, Math.max(0, lying - line.units));
      }
      break;
    case 'not_printed':
    case 'undone':
      break;
  }
}

/** @param {Map<string, number>} map @param {string} key @param {number} units */
function add(map, key, units) {
  map.set(key, (map.get(key) ?? 0) + units);
}
