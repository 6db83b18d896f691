/**
 * One question to the engine for an element on the screen, as a lit controller: asked when the element is
 * there, and anew whenever it stands on other events than the last answer. The old answer stays meanwhile.
 */

import { Superseded } from './engine-bridge.js';

/** @import { ReactiveController, ReactiveControllerHost } from 'lit' */
/** @import { TripInHand } from './trip-in-hand.js' */

/**
 * @template T
 * @implements {ReactiveController}
 */
export class EngineAnswer {
  /**
   * @param {ReactiveControllerHost & {inHand: TripInHand | null}} host
   * @param {(inHand: TripInHand) => Promise<T>} ask
   */
  constructor(host, ask) {
    this.host = host;
    this.ask = ask;
    /** @type {T | undefined} undefined while it is worked out */
    this.value = undefined;
    /** The engine could not say. */
    this.trouble = false;
    /** What the newest question stands on. */
    this.basis = '';
    host.addController(this);
  }

  hostUpdated() {
    const { inHand } = this.host;
    if (inHand && inHand.basis !== this.basis) void this.#ask(inHand);
  }

  /** @param {TripInHand} inHand */
  async #ask(inHand) {
    const { basis } = inHand;
    this.basis = basis;
    try {
      const value = await this.ask(inHand);
      // A stale answer is dropped: the newer question is on its way.
      if (basis !== this.basis) return;
      this.value = value;
      this.trouble = false;
    } catch (error) {
      if (error instanceof Superseded || basis !== this.basis) return;
      console.error(error);
      this.trouble = true;
    }
    this.host.requestUpdate();
  }
}
