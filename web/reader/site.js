/**
 * What the host is asked: which trips it has, one trip, and whether there is a newer app. A silent host is an
 * ordinary answer: null. Every address is relative to the folder that `carry.html` lies in.
 */

/** @import { PublishedTrip } from './reader-store.js' */

/** @typedef {{slug: string, title: string, day: string, digest: string, summary: string}} Listed */
/** @typedef {{title: string, author: string, app: string, trips: Listed[]}} Site */

/** The folder of the site, with a slash at its end. */
export const folder = () => new URL('./', document.baseURI).pathname;

/** @param {string} slug */
export const articleOf = (slug) => `trips/${encodeURIComponent(slug)}/index.html`;

/** @param {string} slug */
export const documentOf = (slug) => `trips/${encodeURIComponent(slug)}/trip.json`;

/** @returns {Promise<Site | null>} */
export const fetchSite = () => fetchDocument('site.json');

/** @param {string} slug @returns {Promise<PublishedTrip | null>} */
export async function fetchPublished(slug) {
  const found = await fetchDocument(documentOf(slug));
  return found?.format === 'counterfoil-published-1'
    ? { slug: found.slug, digest: found.digest, trip: found.trip, plan: found.plan } : null;
}

/** @param {string} address @returns {Promise<any>} */
async function fetchDocument(address) {
  try {
    const response = await fetch(new URL(address, document.baseURI), { cache: 'no-cache' });
    return response.ok ? await response.json() : null;
  } catch {
    return null;
  }
}

/** The page's half of the service worker. Dispatches `changed`. */
export class Keeper extends EventTarget {
  /** @param {string} app the hash of the app that this page runs */
  constructor(app) {
    super();
    this.app = app;
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
      this.missing = 'This browser keeps no page for use without a network here: open it over https.';
      this.#tell();
      return;
    }
    const { serviceWorker } = navigator;
    serviceWorker.addEventListener('controllerchange', () => {
      if (this.agreed) location.reload();
    });
    try {
      const newest = (await fetchSite())?.app ?? this.app;
      const registration = await serviceWorker.register(`sw.js?app=${encodeURIComponent(newest)}`, { updateViaCache: 'none' });
      this.#notice(registration.waiting);
      registration.addEventListener('updatefound', () => this.#follow(registration.installing));
      this.#follow(registration.installing);
      await serviceWorker.ready;
      this.ready = true;
    } catch (error) {
      this.ready = serviceWorker.controller !== null;
      if (!this.ready) {
        console.error(error);
        this.missing = 'The page could not be kept for use without a network. Reload it where there is one.';
      }
    }
    this.#tell();
  }

  /** Keeps pages for reading without a network. @param {readonly string[]} urls */
  async keep(urls) {
    if (!('serviceWorker' in navigator)) return;
    const { active } = await navigator.serviceWorker.ready;
    active?.postMessage({ say: 'keep', urls });
  }

  /** The reader's word: the newer version takes over and this tab is reloaded. */
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

  /** A worker that waits behind another is an update. @param {ServiceWorker | null} worker */
  #notice(worker) {
    if (!worker || !navigator.serviceWorker.controller) return;
    this.waiting = worker;
    this.#tell();
  }

  #tell() {
    this.dispatchEvent(new CustomEvent('changed'));
  }
}
