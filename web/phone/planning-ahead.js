/**
 * What she may tap next, planned before she does.
 *
 * A shelf found empty is what a shopper waits for: a cluster of wants is solved anew, and a house spread.
 * So once the plan in view is settled and she walks on, the worker aside plans the next lines without
 * their shelf, one after the other, each once. The tap then finds its plan made. What lies in the
 * trolley as planned changes none of them.
 */

import { Superseded } from './engine-bridge.js';
import { keyOf } from './fold.js';

/** @import { Happened, Plan, Report, Trip } from '../engine/types.js' */
/** @import { EngineBridge, Proven } from './engine-bridge.js' */
/** @import { StoreSection } from './lines.js' */

/** Milliseconds without a tap before planning ahead is begun: she walks on, and reads no news. */
const REST = 2_500;

/** So many lines ahead: what she reaches before the next rest, and no more of the battery. */
const LINES = 8;

/**
 * Where the trip stands.
 * @typedef {object} Standing
 * @property {Plan} plan in view
 * @property {Trip} trip as carried
 * @property {Happened} happened
 * @property {Plan | undefined} home the proven plan that she left home with
 * @property {() => readonly StoreSection[]} sections as she walks them
 */

export class PlanningAhead {
  /** @param {EngineBridge} aside */
  constructor(aside) {
    this.aside = aside;
    /** @type {Map<string, Proven>} plans without a shelf, by `keyOf`, that the engine was not told yet */
    this.made = new Map();
    /** @type {Set<string>} lines planned without their shelf, by `keyOf` */
    this.done = new Set();
    /** What is bought in the plan that they stand on. */
    this.basis = '';
    this.round = 0;
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    this.timer = undefined;
  }

  /** The plan in view counts no longer. */
  leave() {
    this.round += 1;
    clearTimeout(this.timer);
  }

  /**
   * Plans the next lines without their shelf, after a rest.
   * @param {Standing} standing
   */
  begin(standing) {
    this.leave();
    const { round } = this;
    this.timer = setTimeout(() => void this.#ask(round, standing), REST);
  }

  /** What was planned for the case that now came, to be told to the engine once. @param {Report | undefined} report */
  madeFor(report) {
    if (report?.kind !== 'shelf_empty') return [];
    const key = keyOf(report.store, report.product);
    const made = this.made.get(key) ?? [];
    this.made.delete(key);
    return made;
  }

  /** @param {number} round @param {Standing} standing */
  async #ask(round, { plan, trip, happened, home, sections }) {
    const basis = JSON.stringify(plan.transactions.map(({ store, transaction }) => [store, transaction.lines]));
    if (basis !== this.basis) {
      this.basis = basis;
      this.made.clear();
      this.done.clear();
    }
    const lines = sections().flatMap((section) => section.places.flatMap((place) => place.lines));
    try {
      for (const { key, store, product } of lines.filter((line) => line.state === 'to find').slice(0, LINES)) {
        if (round !== this.round) return;
        if (this.done.has(key)) continue;
        /** @type {[string, Report]} */
        const empty = ['', { kind: 'shelf_empty', store, product }];
        const made = await this.aside.ahead(trip, { entries: [...happened.entries, empty] }, home ? { home } : {});
        if (basis !== this.basis) return;
        this.done.add(key);
        this.made.set(key, made);
      }
    } catch (error) {
      // Then the tap is answered when it comes, as ever.
      if (!(error instanceof Superseded)) console.error(error);
    }
  }
}
