/** Keeps the screen on while the register is in view, and lets the phone tick in the hand: where it can. */

/** Holds the screen awake from `hold` to `release`; the browser lets go whenever the page is hidden. */
export class Awake {
  constructor() {
    /** @type {WakeLockSentinel | null} */
    this.lock = null;
    this.wanted = false;
  }

  hold() {
    this.wanted = true;
    document.addEventListener('visibilitychange', this.#again);
    void this.#take();
  }

  release() {
    this.wanted = false;
    document.removeEventListener('visibilitychange', this.#again);
    void this.lock?.release();
    this.lock = null;
  }

  #again = () => {
    if (document.visibilityState === 'visible') void this.#take();
  };

  async #take() {
    try {
      const lock = await navigator.wakeLock?.request('screen');
      if (this.wanted) this.lock = lock ?? null;
      else void lock?.release();
    } catch {
      // A low battery or a hidden page: then the screen goes dark as it always does.
    }
  }
}

/** One short tick: a coupon is handed over, a transaction is done. */
export function tick() {
  // Browsers do it only after a touch, and some not at all.
  navigator.vibrate?.(30);
}
