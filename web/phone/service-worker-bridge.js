/**
 * The page's half of the service worker: tells a first install from an update, and lets an
 * update wait for the shopper's word. No tab is reloaded that did not agree.
 */

import { PRECACHE, serviceWorkerOf } from './addresses.js';

/** Dispatches `changed`. */
export class ServiceWorkerBridge extends EventTarget {
  constructor() {
    super();
    /** The page can be opened without a network from now on. */
    this.ready = false;
    /** @type {ServiceWorker | null} a newer version that is installed and waits */
    this.waiting = null;
    this.agreed = false;
    /** Why there is none, in words; '' when there is one. */
    this.missing = '';
  }

  async start() {
    if (!('serviceWorker' in navigator)) {
      this.missing = 'This browser keeps no page for use without a network here. Open it over https, or on localhost.';
      this.#tell();
      return;
    }
    navigator.serviceWorker.addEventListener('controllerchange', () => {
      if (this.agreed) location.reload();
    });
    try {
      const version = await versionAtServer();
      const registration = version === null
        ? await navigator.serviceWorker.ready
        : await navigator.serviceWorker.register(serviceWorkerOf(version), { updateViaCache: 'none' });
      this.#notice(registration.waiting);
      registration.addEventListener('updatefound', () => this.#follow(registration.installing));
      this.#follow(registration.installing);
      await navigator.serviceWorker.ready;
      this.ready = true;
      this.#tell();
    } catch (error) {
      this.ready = navigator.serviceWorker.controller !== null;
      if (!this.ready) this.missing = 'The page could not be kept for use without a network. Reload it where there is one.';
      console.error(error);
      this.#tell();
    }
  }

  /** The shopper's word: the newer version takes over and this tab is reloaded. */
  update() {
    this.agreed = true;
    this.waiting?.postMessage({ say: 'take over' });
  }

  /** @param {ServiceWorker | null} worker */
  #follow(worker) {
    worker?.addEventListener('statechange', () => {
      if (worker.state === 'installed') this.#notice(worker);
    });
  }

  /** A worker that waits behind another is an update; a first one takes over by itself. @param {ServiceWorker | null} worker */
  #notice(worker) {
    if (!worker || !navigator.serviceWorker.controller) return;
    this.waiting = worker;
    // One that came in between takes the place of the one that she agreed to.
    if (this.agreed) this.update();
    this.#tell();
  }

  #tell() {
    this.dispatchEvent(new CustomEvent('changed'));
  }
}

/** The version that the server has, or null where it cannot be asked: what is installed serves on. */
async function versionAtServer() {
  try {
    const response = await fetch(PRECACHE, { cache: 'no-store' });
    return response.ok ? /** @type {string} */ ((await response.json()).version) : null;
  } catch {
    return null;
  }
}
