/**
 * Sends what the server has not acknowledged and takes in what other phones added.
 *
 * A sync may be cut anywhere and repeated: events leave the outbox only in `settle`, by
 * acknowledged id. It is tried at the start, on focus, when the network comes back (there the
 * browser wakes the service worker, where it can) and soon after each change; a failure waits longer each time and never blocks the screen.
 */

import { SYNC } from './addresses.js';
import { sendSharedTexts } from './shared-texts.js';

/** @import { Event } from '../engine/types.js' */
/** @import { PhoneStore } from './phone-store.js' */

/** Milliseconds that a burst of taps is gathered for. */
const GATHER = 400;
/** Milliseconds before a silent server is given up on. */
const PATIENCE = 15_000;
/** Milliseconds of the first wait after a failure; doubled each time up to the last. */
const FIRST_WAIT = 2_000;
const LAST_WAIT = 120_000;
/** Events in one request: the body stays far below the server's limit. */
const BATCH = 100;
const PROTOCOL = 1;

/** @typedef {'resting' | 'sending' | 'waiting' | 'refused'} SyncState */

/**
 * @typedef {object} Answer
 * @property {string[]} acknowledged
 * @property {Event[]} events
 * @property {number} cursor
 * @property {boolean} more
 * @property {{id: string, mend: string}[]} refused
 * @property {number | null} trip_version
 * @property {string} [log]
 * @property {string} [clock_note]
 */

/** Dispatches `changed` when its state changes, `news` when others' events came in, `synced` when all went through. */
export class Sync extends EventTarget {
  /** @param {PhoneStore} store @param {() => {id: string, version?: number} | null} inHand the trip in hand */
  constructor(store, inHand) {
    super();
    this.store = store;
    this.inHand = inHand;
    /** @type {SyncState} */
    this.state = 'resting';
    this.unsent = 0;
    /** Texts shared with the phone that the Desk was given since the page was opened. */
    this.sharedSent = 0;
    /** What the server said when it refused. */
    this.refusal = '';
    this.failures = 0;
    /** The trip has a newer version at home. */
    this.edited = false;
    /** What the server says of this phone's clock, '' when nothing. */
    this.clockNote = '';
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    this.timer = undefined;
  }

  /** Syncs now, and from here on whenever it may help. */
  start() {
    addEventListener('online', () => this.soon());
    addEventListener('focus', () => this.soon());
    navigator.serviceWorker?.addEventListener('message', (event) => {
      if (event.data?.say === 'sync') this.soon(0);
    });
    document.addEventListener('visibilitychange', () => {
      if (document.visibilityState === 'visible') this.soon();
    });
    void this.count();
    this.soon(0);
  }

  /** Syncs soon; taps in between are gathered. @param {number} [milliseconds] */
  soon(milliseconds = GATHER) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.now(), milliseconds);
  }

  /** Counts what is unsent, for the screen. */
  async count() {
    this.unsent = await this.store.unsentCount();
    this.#tell();
  }

  /** One sync, unless one is under way in this or another tab: that one will go round again. */
  async now() {
    if (this.state === 'sending') {
      this.soon();
      return;
    }
    if (!navigator.locks) {
      await this.#try();
      return;
    }
    await navigator.locks.request('counterfoil-sync', { ifAvailable: true }, async (lock) => {
      if (lock) await this.#try();
      else this.soon(FIRST_WAIT);
    });
  }

  async #try() {
    this.state = 'sending';
    this.#tell();
    try {
      let more = true;
      while (more) more = await this.#exchange();
      this.sharedSent += await sendSharedTexts();
      this.failures = 0;
      this.state = this.refusal === '' ? 'resting' : 'refused';
      this.dispatchEvent(new CustomEvent('synced'));
    } catch (error) {
      this.#waitLonger(error);
    }
    await this.count();
  }

  /** One request and its answer; true when there is more to send or to take in. */
  async #exchange() {
    const trip = this.inHand();
    if (!trip) return false;
    const { device, cursor, log } = await this.store.greeting(trip.id);
    const unsent = await this.store.unsent();
    const events = unsent.slice(0, BATCH);
    const response = await fetch(SYNC, {
      method: 'POST',
      headers: { 'Content-Type': 'application/json', Accept: 'application/json' },
      body: JSON.stringify({ protocol: PROTOCOL, device, trip: trip.id, cursor, log, events }),
      signal: AbortSignal.timeout(PATIENCE),
    });
    if (!response.ok) throw new Refused(response.status, await saidBy(response));
    /** @type {Answer} */
    const answer = await response.json();
    const others = answer.events.map((event) => bare(event));
    const fresh = await this.store.settle(trip.id, answer.acknowledged, others, answer.cursor, answer.log);
    if (fresh > 0) this.dispatchEvent(new CustomEvent('news'));
    // It is read off what was sent: an answer to nothing takes back no word of the clock.
    if (events.length > 0) this.clockNote = answer.clock_note ?? '';
    this.refusal = answer.refused[0]?.mend ?? '';
    this.edited = (answer.trip_version ?? 0) > (trip.version ?? 1);
    // What is left may also be what a server that lost it must be sent again.
    const progress = answer.acknowledged.length > 0 && (await this.store.unsentCount()) > 0;
    return progress || answer.more;
  }

  /** @param {unknown} error */
  #waitLonger(error) {
    this.failures += 1;
    if (error instanceof Refused) {
      this.state = 'refused';
      this.refusal = error.message;
    } else {
      this.state = 'waiting';
      void askLater();
    }
    const longest = Math.min(LAST_WAIT, FIRST_WAIT * 2 ** (this.failures - 1));
    // Jitter: the phones of a town do not all come back in the same second.
    this.soon(longest / 2 + Math.random() * (longest / 2));
  }

  #tell() {
    this.dispatchEvent(new CustomEvent('changed'));
  }
}

/**
 * Asks the browser to wake the service worker when the network is back, even with the page closed
 * (Background Sync, where it exists; elsewhere focus and `online` must do).
 */
async function askLater() {
  try {
    const registration = await navigator.serviceWorker?.getRegistration();
    const { sync } = /** @type {{sync?: {register: (tag: string) => Promise<void>}}} */ (registration ?? {});
    await sync?.register('outbox');
  } catch {
    // Not allowed here: the page's own occasions remain.
  }
}

/** The server answered, and said no. */
class Refused extends Error {
  /** @param {number} status @param {string} mend */
  constructor(status, mend) {
    super(mend || `The server answered ${status}. What happened stays on the phone.`);
  }
}

/** The mend in an error answer, '' where there is none. @param {Response} response */
async function saidBy(response) {
  try {
    const { error } = await response.json();
    return typeof error?.mend === 'string' ? error.mend : '';
  } catch {
    return '';
  }
}

/** The event alone, without what the server notes beside it. @param {Event} event @returns {Event} */
const bare = ({ id, device, counter, at, trip, what }) => ({ id, device, counter, at, trip, what });

/** Unsent events as a file that can be read in again by hand. @param {readonly Event[]} events */
export function unsentFile(events) {
  const text = JSON.stringify({ format: 'counterfoil-unsent-1', events }, null, 2);
  return new File([text], 'counterfoil-unsent.json', { type: 'application/json' });
}
