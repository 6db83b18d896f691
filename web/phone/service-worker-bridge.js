/**
 * The page's half of a service worker: tells a first install from an update, and lets an update wait for the
 * word of whoever holds the phone. No tab is reloaded that did not agree.
 */

/** Milliseconds for the older worker to be done. */
const PATIENCE = 3_000;
/** In the history's state, over one reload. */
const AGREED = 'agreed to a newer version';

/** Dispatches `changed`. */
export class ServiceWorkerBridge extends EventTarget {
  /** @param {string} elsewhere where a browser keeps pages that keeps none here, in words */
  constructor(elsewhere) {
    super();
    this.elsewhere = elsewhere;
    /** The page can be opened without a network from now on. */
    this.ready = false;
    /** @type {ServiceWorker | null} a newer version that is installed and waits */
    this.waiting = null;
    /** Whether the page changes over as soon as another worker serves it. From the page before this one too, if
     * that was left while the newer version was still to take over: old and new files would mix. */
    this.agreed = history.state?.[AGREED] ?? false;
    if (this.agreed) history.replaceState({ ...history.state, [AGREED]: false }, '');
    navigator.serviceWorker?.addEventListener('controllerchange', () => {
      if (this.agreed) location.reload();
    });
    /** Why there is none, in words; '' when there is one. */
    this.missing = '';
  }

  /** The address of the newest worker; null where nobody can be asked: what is installed serves on. @returns {Promise<string | null>} */
  async newest() {
    return null;
  }

  async start() {
    if (!('serviceWorker' in navigator)) {
      this.missing = `This browser keeps no page for use without a network here. ${this.elsewhere}`;
      this.#tell();
      return;
    }
    const { serviceWorker } = navigator;
    try {
      const address = await this.newest();
      const registration = address === null
        ? await serviceWorker.ready
        : await serviceWorker.register(address, { updateViaCache: 'none' });
      if (!registration.waiting) this.agreed = false;
      this.#notice(registration.waiting);
      registration.addEventListener('updatefound', () => this.#follow(registration.installing));
      this.#follow(registration.installing);
      await serviceWorker.ready;
      this.ready = true;
    } catch (error) {
      this.ready = serviceWorker.controller !== null;
      if (!this.ready) this.missing = 'The page could not be kept for use without a network. Reload it where there is one.';
      console.error(error);
    }
    this.#tell();
  }

  /**
   * The word: the newer version takes over and this tab is reloaded.
   *
   * An older worker that has anything under way keeps the newer one waiting, for minutes where the network
   * hardly answers: so it is asked to let go. What the browser itself counts as under way ends with the page at
   * the latest, which is loaded anew then all the same.
   */
  update() {
    this.agreed = true;
    this.#changeOver();
    setTimeout(() => {
      history.replaceState({ ...history.state, [AGREED]: true }, '');
      location.reload();
    }, PATIENCE);
  }

  #changeOver() {
    navigator.serviceWorker.controller?.postMessage({ say: 'let go' });
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
    // One that came in between takes the place of the one that was agreed to.
    if (this.agreed) this.#changeOver();
    this.#tell();
  }

  #tell() {
    this.dispatchEvent(new CustomEvent('changed'));
  }
}
