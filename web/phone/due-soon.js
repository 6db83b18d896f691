/**
 * What is due, for the page: fetched at the start or with the syncs, kept on the phone, and reminders where she
 * wants them.
 *
 * Nothing here is asked or shown by itself but a notification that she turned on. A reminder may be due when
 * the page opens, when it comes back into view (on another day, maybe) and when a sync brought news; with the
 * page closed the service worker sees to it.
 */

import './what-to-remind.js';
import './due-kept.js';

/** @import { Sync } from './sync.js' */

export const reminding = /** @type {typeof counterfoilReminding} */ (Reflect.get(globalThis, 'counterfoilReminding'));
const due = /** @type {typeof counterfoilDue} */ (Reflect.get(globalThis, 'counterfoilDue'));

/** Milliseconds between two questions at the least: a sync follows every burst of taps. */
const SELDOM = 60_000;
/** Milliseconds between two wake-ups of the worker, where the browser grants them. */
const TWICE_A_DAY = 12 * 3_600_000;

/**
 * @typedef {'unsupported' | 'not on the home screen' | 'denied' | 'off' | 'on'} Reminding
 * `unsupported`: this browser shows none for this page, over http for instance
 */

/** Dispatches `changed`. */
export class DueSoon extends EventTarget {
  /** @param {Sync} sync */
  constructor(sync) {
    super();
    this.sync = sync;
    /** @type {DueList | null} null while none was ever fetched */
    this.list = null;
    /** She turned reminders on here. */
    this.wanted = false;
    /** The browser asked her, and she let the question be. */
    this.unanswered = false;
    this.askedAt = -Infinity;
    /** The server has said what is due, or does not answer. */
    this.looked = false;
  }

  async start() {
    this.sync.addEventListener('synced', () => void this.#fetch());
    document.addEventListener('visibilitychange', () => {
      if (document.visibilityState === 'visible') void this.#remind();
    });
    navigator.serviceWorker?.addEventListener('message', (event) => {
      if (event.data?.say === 'show trip') location.hash = '#/trip';
    });
    await this.#read();
    // What is unsent may change it: then it is asked after the sync.
    await this.sync.count();
    await (this.sync.unsent === 0 ? this.#fetch() : this.#remind());
  }

  /** Whether this phone reminds, and if not, why. @returns {Reminding} */
  get reminding() {
    if (!('Notification' in globalThis) || !('serviceWorker' in navigator)) {
      // Only Safari on an iPhone or iPad has this property, and there only installed pages may remind.
      return Reflect.get(navigator, 'standalone') === false ? 'not on the home screen' : 'unsupported';
    }
    if (Notification.permission === 'denied') return 'denied';
    return this.wanted && Notification.permission === 'granted' ? 'on' : 'off';
  }

  /** She tapped that she wants reminders: the one place where the browser asks for the permission. */
  async turnOn() {
    const answer = await Notification.requestPermission();
    this.unanswered = answer === 'default';
    if (answer === 'granted') {
      const registration = await navigator.serviceWorker.ready;
      await due.want(true, registration);
      await periodically(registration, (wakeUps) => wakeUps.register(due.TAG, { minInterval: TWICE_A_DAY }));
    }
    await this.#read();
    await this.#remind();
  }

  async turnOff() {
    const registration = await navigator.serviceWorker.ready;
    await due.want(false, registration);
    await periodically(registration, (wakeUps) => wakeUps.unregister(due.TAG));
    await this.#read();
  }

  async #fetch() {
    if (performance.now() - this.askedAt < SELDOM) return;
    this.askedAt = performance.now();
    try {
      if (await due.refresh()) await this.#read();
    } catch (error) {
      // A store that is full or closed: the list is a convenience, and the next sync asks again.
      console.error(error);
    }
    this.looked = true;
    await this.#remind();
  }

  async #read() {
    try {
      const { list, reminders } = await due.kept();
      this.list = list;
      this.wanted = reminders.on;
    } catch (error) {
      console.error(error);
    }
    this.#tell();
  }

  async #remind() {
    this.#tell();
    if (this.reminding !== 'on') return;
    try {
      await due.remind(await navigator.serviceWorker.ready);
    } catch (error) {
      console.error(error);
    }
  }

  #tell() {
    this.dispatchEvent(new CustomEvent('changed'));
  }
}

/** @typedef {{register: (tag: string, options: {minInterval: number}) => Promise<void>, unregister: (tag: string) => Promise<void>}} WakeUps */

/**
 * Arranges the browser's own wake-ups of the worker, which only some have, and for installed apps only.
 * @param {ServiceWorkerRegistration} registration @param {(wakeUps: WakeUps) => Promise<void>} arrange
 */
async function periodically(registration, arrange) {
  const { periodicSync } = /** @type {{periodicSync?: WakeUps}} */ (/** @type {unknown} */ (registration));
  // Not granted here: the page's own occasions remain.
  if (periodicSync) await arrange(periodicSync).catch(() => {});
}
