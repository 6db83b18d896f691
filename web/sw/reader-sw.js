/**
 * The service worker of a published site: keeps what a reader carries, with the host out of reach too.
 *
 * When: on install everything in app/<hash>/files.json is fetched, checked against its SHA-256 and kept;
 * a newer worker waits until the page says "take over". What: exactly that list, and the pages and trips
 * that were looked at. How: the app comes from its own version's cache only; what is read comes
 * from the host first, and from what was kept when the host does not answer.
 *
 * A classic script, and in one file: modules as service workers are not everywhere. It lies at the site's
 * root, and its scope is that folder: a host may hold other sites beside it, so every name says which one.
 */

// @ts-check
/// <reference lib="webworker" />

(() => {
  const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));

  /** The app's hash that belongs to this worker, from its own address. */
  const APP = new URL(worker.location.href).searchParams.get('app') ?? '';
  const ROOT = new URL('./', worker.location.href).href;
  const OURS = `counterfoil-reader ${new URL(ROOT).pathname} `;
  const CACHE = `${OURS}${APP}`;
  const READ = `${OURS}read`;
  const LIST = new URL(`app/${APP}/files.json`, ROOT).href;
  /** Pages and trips that are kept because they were looked at, the latest. */
  const MOST_READ = 80;
  /** Milliseconds before what is kept is shown: one bar in a store is as good as none. */
  const PATIENCE = 4_000;

  /** @typedef {{url: string, hash: string}} Kept */

  worker.addEventListener('install', (event) => event.waitUntil(keepAll()));
  worker.addEventListener('activate', (event) => event.waitUntil(takeOver()));
  worker.addEventListener('message', (event) => {
    if (event.data?.say === 'take over') void worker.skipWaiting();
    if (event.data?.say === 'let go') letGoOfPages();
    if (event.data?.say === 'keep') event.waitUntil(keepRead(event.data.urls));
  });
  worker.addEventListener('fetch', (event) => {
    const { request } = event;
    if (request.method !== 'GET' || !request.url.startsWith(ROOT)) return;
    const address = addressOf(request.url);
    const inApp = address === `${ROOT}carry.html` || address.startsWith(`${ROOT}app/`);
    event.respondWith(inApp ? fromApp(address, request) : fromHost(address, request, event));
  });

  /** Ends what is asked of the host for a page: a newer worker takes over only when that is done. */
  let underWay = new AbortController();

  function letGoOfPages() {
    underWay.abort();
    underWay = new AbortController();
  }

  /** @param {Request} request */
  function ask(request) {
    // A navigation that is asked with anything more is no navigation any longer.
    if (request.mode === 'navigate') return fetch(request);
    const { signal } = underWay;
    return fetch(request, { signal: 'any' in AbortSignal ? AbortSignal.any([request.signal, signal]) : signal });
  }

  /** Without what only the page reads; a folder is its index. @param {string} url */
  function addressOf(url) {
    const address = url.split(/[?#]/)[0];
    return address.endsWith('/') ? `${address}index.html` : address;
  }

  /** Fetches everything of this version; rejects, and so does not install, when one file is not right. */
  async function keepAll() {
    const response = await fetch(LIST, { cache: 'no-cache' });
    if (!response.ok) throw new Error(`${LIST}: ${response.status}`);
    /** @type {{app: string, files: Kept[]}} */
    const list = await response.json();
    if (list.app !== APP) throw new Error(`${LIST} is of ${list.app}, not ${APP}`);
    const cache = await caches.open(CACHE);
    await Promise.all(list.files.map((file) => keep(cache, file)));
  }

  /** @param {Cache} cache @param {Kept} file */
  async function keep(cache, { url, hash }) {
    const address = new URL(url, ROOT).href;
    const response = await fetch(address, { cache: 'no-cache' });
    if (!response.ok) throw new Error(`${url}: ${response.status}`);
    if ((await sha256(response.clone())) !== hash) throw new Error(`${url} is not what ${LIST} says`);
    await cache.put(address, response);
  }

  /** @param {Response} response @returns {Promise<string>} in hex */
  async function sha256(response) {
    const digest = await crypto.subtle.digest('SHA-256', await response.arrayBuffer());
    return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  }

  /** This version serves from now on: the other versions' caches go, what was read stays. */
  async function takeOver() {
    const names = await caches.keys();
    const others = names.filter((name) => name.startsWith(OURS) && name !== CACHE && name !== READ);
    await Promise.all(others.map((name) => caches.delete(name)));
    await worker.clients.claim();
  }

  /** Keeps pages that the reader may want with no network. @param {readonly string[]} urls */
  async function keepRead(urls) {
    const cache = await caches.open(READ);
    for (const url of urls) {
      const address = addressOf(new URL(url, ROOT).href);
      if (!address.startsWith(ROOT)) continue;
      // Without a network it is kept the next time.
      const response = await fetch(address, { signal: underWay.signal }).catch(() => null);
      if (response?.ok) await cache.put(address, response);
    }
    await forgetOldest(cache);
  }

  /** @param {Cache} cache */
  async function forgetOldest(cache) {
    const kept = await cache.keys();
    await Promise.all(kept.slice(0, Math.max(0, kept.length - MOST_READ)).map((request) => cache.delete(request)));
  }

  /** @param {string} address @param {Request} request */
  async function fromApp(address, request) {
    const cache = await caches.open(CACHE);
    return (await cache.match(address)) ?? ask(request);
  }

  /** @param {string} address @param {Request} request @param {FetchEvent} event */
  async function fromHost(address, request, event) {
    const asked = ask(request).then(async (response) => {
      if (!response.ok) return response;
      const cache = await caches.open(READ);
      // Put anew, it is the latest.
      await cache.delete(address);
      await cache.put(address, response.clone());
      await forgetOldest(cache);
      return response;
    });
    event.waitUntil(asked.catch(() => {}));
    const kept = async () => (await caches.match(address, { cacheName: READ })) ?? caches.match(address, { cacheName: CACHE });
    const late = new Promise((resolve) => { setTimeout(resolve, PATIENCE); }).then(kept);
    return Promise.race([asked, late.then((response) => response ?? asked)])
      .catch(async (error) => {
        const response = await kept();
        if (response) return response;
        throw error;
      });
  }
})();
