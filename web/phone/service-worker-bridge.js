/**
 * The page's half of a service worker: tells a first install from an update, and lets an update wait for the
 * word of whoever holds the phone. No tab is reloaded that did not agree.
 */

/** Milliseconds for the older worker to be done. */
const PATIENCE = 3_000;
/** In the history's state, over one reload: the address of the worker that the page was left for. */
const LEFT = 'counterfoil left';

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
    /** Whether the page changes over as soon as another worker serves it. */
    this.agreed = false;
    this.#goOnWith(history.state?.[LEFT] ?? '');
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
    const older = navigator.serviceWorker.controller?.scriptURL;
    this.agreed = true;
    this.#changeOver();
    setTimeout(() => {
      // It has gone, and the page is being loaded anew: her word is kept, and is for no later version.
      if (navigator.serviceWorker.controller?.scriptURL !== older) return;
      history.replaceState({ ...history.state, [LEFT]: older }, '');
      location.reload();
    }, PATIENCE);
  }

  /**
   * The page before this one was left so that a worker lets go. Where that one still serves, her word stands.
   * Where it does not, it may have served a part of this page: old and new files would mix, so it is loaded anew.
   * @param {string} left the worker's address, or ''
   */
  #goOnWith(left) {
    if (!left) return;
    history.replaceState({ ...history.state, [LEFT]: '' }, '');
    this.agreed = navigator.serviceWorker.controller?.scriptURL === left;
    if (!this.agreed) location.reload();
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
