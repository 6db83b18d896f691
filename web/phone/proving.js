/**
 * The proof of the plan in view, asked in a worker aside once she has stopped tapping.
 *
 * The plan that follows a tap comes without it, so that she need not wait. The proof mostly finds
 * nothing better, and then nothing moves on the screen; where it does, what changed is told in words.
 */

import { Superseded } from './engine-bridge.js';

/** @import { Happened, Plan, Trip } from '../engine/types.js' */
/** @import { EngineBridge, Proven } from './engine-bridge.js' */

/** Milliseconds without a tap before a proof is begun. */
const REST = 800;

/** Dispatches `proved` with the plan and its proof in `detail`, and `changed` where there is none to be had. */
export class Proving extends EventTarget {
  /** @param {EngineBridge} aside */
  constructor(aside) {
    super();
    this.aside = aside;
    /** It is not known yet whether anything is better than the plan in view. */
    this.checking = false;
    /** @type {Proven} what the worker that answers the taps may learn */
    this.proven = [];
    this.round = 0;
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    this.timer = undefined;
  }

  /** The plan in view counts no longer. */
  leave() {
    this.round += 1;
    this.checking = false;
    clearTimeout(this.timer);
    this.aside.leavePieces();
  }

  /**
   * Asks for the proof of a plan, after a rest.
   * @param {Plan} plan @param {Trip} trip as carried @param {Happened} happened
   * @param {Plan | undefined} home the proven plan that she left home with
   */
  begin(plan, trip, happened, home) {
    this.leave();
    if (plan.proof.optimal) return;
    this.checking = true;
    const { round } = this;
    this.timer = setTimeout(() => void this.#ask(round, plan, trip, happened, home), REST);
  }

  /** @param {number} round @param {Plan} plan @param {Trip} trip @param {Happened} happened @param {Plan | undefined} home */
  async #ask(round, plan, trip, happened, home) {
    try {
      const { plan: proved, proven } = await this.aside.proof(trip, happened, home ? { home } : {});
      if (round !== this.round) return;
      this.proven = proven;
      // Among equals the plan in view stays.
      const found = isEqual(plan, proved) ? { ...plan, proof: proved.proof } : proved;
      this.checking = false;
      this.dispatchEvent(new CustomEvent('proved', { detail: found }));
    } catch (error) {
      if (error instanceof Superseded || round !== this.round) return;
      // The plan stands as it is told: good, by so much.
      console.error(error);
      this.checking = false;
      this.dispatchEvent(new CustomEvent('changed'));
    }
  }
}

/** Whether two plans of one trip are worth the same to her. @param {Plan} one @param {Plan} other */
function isEqual(one, other) {
  const missing = (/** @type {Plan} */ plan) => (plan.unmet ?? []).reduce((sum, each) => sum + each.missing, 0);
  const value = (/** @type {Plan} */ { totals }) => (totals.net_cents ?? 0) - (totals.worth_cents ?? 0);
  const units = (/** @type {Plan} */ plan) =>
    plan.transactions.flatMap(({ transaction }) => transaction.lines).reduce((sum, line) => sum + line.units, 0);
  return (
    missing(one) === missing(other) &&
    value(one) === value(other) &&
    units(one) === units(other) &&
    one.totals.out_of_pocket_cents === other.totals.out_of_pocket_cents &&
    one.totals.transactions === other.totals.transactions
  );
}
