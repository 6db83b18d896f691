/**
 * What the reported events add up to, for the screens. Pure; knows no screen and no clock.
 *
 * The engine folds the same events into a plan; this is the part that a shopper sees of them
 * at once, before any replan: what lies in the trolley, what is bought, which shelf is empty.
 */

/** @import { Event, TransactionDone } from '../engine/types.js' */

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
 * @property {Map<string, Map<string, number>>} hands of what lies in a trolley: units by device, by `keyOf`
 * @property {Map<string, number>} bought units that went through the register, by `keyOf`
 * @property {Set<string>} empty shelves reported empty, by `keyOf`
 * @property {Map<string, number>} seen cents that the tag was seen to show, by `keyOf`
 * @property {Map<string, number>} copies coupon id -> copies more or fewer than packed
 * @property {Map<string, {need: number, welcome: number}>} needs want id -> its numbers now
 * @property {Done[]} done transactions through the register, in order
 */

/**
 * Events that still count, in order: what an `undone` names is gone, and so is the `undone`.
 * @param {readonly Event[]} events in id order
 * @returns {Event[]}
 */
export function standingEvents(events) {
  const takenBack = new Set(events.map(({ what }) => (what.kind === 'undone' ? what.event : '')));
  return events.filter(({ id, what }) => what.kind !== 'undone' && !takenBack.has(id));
}

/**
 * Folds events into where the trip stands.
 * @param {readonly Event[]} events in id order
 * @returns {Standing}
 */
export function fold(events) {
  /** @type {Standing} */
  const standing = {
    trolley: new Map(), hands: new Map(), bought: new Map(), empty: new Set(), seen: new Map(),
    copies: new Map(), needs: new Map(), done: [],
  };
  for (const event of standingEvents(events)) report(standing, event);
  return standing;
}

/**
 * @param {Standing} standing changed in place
 * @param {Event} event
 */
function report(standing, { id, device, what }) {
  switch (what.kind) {
    case 'in_trolley':
      put(standing.trolley, keyOf(what.store, what.product), what.units);
      putInHand(standing.hands, keyOf(what.store, what.product), device, what.units);
      break;
    case 'shelf_empty':
    case 'rain_check_taken':
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
        put(standing.trolley, key, -line.units);
        // Whose units went over the belt nobody knows: what is left is told as one trolley's.
        standing.hands.delete(key);
      }
      break;
    case 'chosen':
    case 'coupon_found':
    case 'not_printed':
    case 'undone':
      // These change the plan, not what the shopper has in front of her.
      break;
  }
}

/**
 * A trolley never holds fewer than none of a thing, whatever was taken out.
 * @param {Map<string, number>} trolley @param {string} key @param {number} units
 */
function put(trolley, key, units) {
  trolley.set(key, Math.max(0, (trolley.get(key) ?? 0) + units));
}

/**
 * Two phones may have the same thing in two trolleys; each puts back only what it took.
 * @param {Map<string, Map<string, number>>} hands @param {string} key @param {string} device @param {number} units
 */
function putInHand(hands, key, device, units) {
  const mine = hands.get(key) ?? new Map();
  hands.set(key, mine);
  put(mine, device, units);
}

/** @param {Map<string, number>} map @param {string} key @param {number} units */
function add(map, key, units) {
  map.set(key, (map.get(key) ?? 0) + units);
}
