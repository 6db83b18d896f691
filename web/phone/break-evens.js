/**
 * The break-even tags of the lines, worked out one by one in a worker aside, while nothing else waits.
 *
 * An answer holds for the events that it was asked with; after the next tap all are asked anew, and the
 * old ones are not shown: a tag that is no longer right would be worse than none.
 */

import { keyOf } from './fold.js';

/** @import { TripInHand } from './trip-in-hand.js' */

/** Milliseconds after a replan before the next ones are begun: she may still be tapping. */
const REST = 1_500;

/** Dispatches `changed`. */
export class BreakEvens extends EventTarget {
  /** @param {TripInHand} inHand */
  constructor(inHand) {
    super();
    this.inHand = inHand;
    this.basis = '';
    /** @type {Map<string, number | null>} by `keyOf`; null: no tag is low enough */
    this.tags = new Map();
    this.round = 0;
    inHand.addEventListener('changed', () => this.#look());
  }

  /** The highest tag at which buying is still right; undefined while unknown. @param {string} store @param {string} product */
  of(store, product) {
    return this.basis === this.inHand.basis ? this.tags.get(keyOf(store, product)) : undefined;
  }

  #look() {
    const { inHand } = this;
    if (inHand.replanning !== 'complete' || inHand.basis === this.basis) return;
    this.basis = inHand.basis;
    this.tags = new Map();
    this.round += 1;
    const round = this.round;
    setTimeout(() => void this.#ask(round), REST);
  }

  /** @param {number} round given up as soon as a newer one has begun */
  async #ask(round) {
    for (const { store, product } of this.inHand.plan?.deals ?? []) {
      if (round !== this.round || this.basis !== this.inHand.basis) return;
      if (document.visibilityState === 'hidden' || this.tags.has(keyOf(store, product))) continue;
      try {
        const cents = await this.inHand.breakEven(store, product);
        if (round !== this.round) return;
        this.tags.set(keyOf(store, product), cents);
        this.dispatchEvent(new CustomEvent('changed'));
      } catch {
        // Overtaken by the question of a sheet that is up, or the engine is in trouble: the line stands without.
      }
    }
  }
}
