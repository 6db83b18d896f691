/**
 * What the host is asked: which trips it has, one trip, and whether there is a newer app. A silent host is an
 * ordinary answer: null. Every address is relative to the folder that `carry.html` lies in.
 */

import { ServiceWorkerBridge } from '../phone/service-worker-bridge.js';

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

/** Keeps the app on the phone, in the version that the host has, and what was read. */
export class Keeper extends ServiceWorkerBridge {
  /** @param {string} app the hash of the app that this page runs */
  constructor(app) {
    super('Open it over https.');
    this.app = app;
  }

  async newest() {
    const app = (await fetchSite())?.app ?? this.app;
    return `sw.js?app=${encodeURIComponent(app)}`;
  }

  /** Keeps pages for reading without a network. @param {readonly string[]} urls */
  async keep(urls) {
    if (!('serviceWorker' in navigator)) return;
    const { active } = await navigator.serviceWorker.ready;
    active?.postMessage({ say: 'keep', urls });
  }
}
