/**
 * The service worker: keeps the whole phone page on the phone and serves it cache first.
 *
 * When: on install everything in /precache.json is fetched, checked against its SHA-256 and
 * kept; unchanged files are taken over from the version before. A newer worker waits until the
 * page says "take over". What: exactly that list; events, trips and the Desk are never cached.
 * How: only this version's own cache is ever read, so old and new files never mix.
 *
 * A classic script, and in one file: modules as service workers are not everywhere.
 */

// @ts-check
/// <reference lib="webworker" />

const SHARE = '/share';
/** As in `web/phone/shared-texts.js`, which makes the same store. */
const SHARED = 'counterfoil-shared';
/** As in `web/phone/phone-store.js` and `web/phone/sync.js`. */
const PHONE = 'counterfoil';
const OUTBOX = 'outbox';
const MOST_SENT = 100;

const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));

/**
 * The version of /precache.json that belongs to this worker, from its own address. So an old
 * worker never reads the cache of the one that waits behind it.
 */
const VERSION = new URL(worker.location.href).searchParams.get('version');
const CACHE = `counterfoil ${VERSION}`;
const PRECACHE = '/precache.json';
const SHELL = '/';
/** Not on the list, as most browsers never ask for it: kept from the first time that it is fetched. */
const KEPT_ONCE_ASKED = '/web/vendor/zxing-wasm/';

/** @typedef {{url: string, hash: string}} Kept */
/** @typedef {{version: string, files: Kept[]}} Precache */

worker.addEventListener('install', (event) => {
  event.waitUntil(keepAll());
  event.waitUntil(answerWithoutUs(event));
});
worker.addEventListener('activate', (event) => event.waitUntil(takeOver()));
worker.addEventListener('message', (event) => {
  if (event.data?.say === 'take over') void worker.skipWaiting();
});
worker.addEventListener('fetch', (event) => {
  const url = new URL(event.request.url);
  if (url.origin !== worker.location.origin) return;
  if (event.request.method === 'POST' && url.pathname === SHARE) event.respondWith(takeShared(event.request));
  if (event.request.method !== 'GET') return;
  const wanted = event.request.mode === 'navigate' && url.pathname === SHELL ? SHELL : url.pathname;
  event.respondWith(serve(wanted, event.request));
});

worker.addEventListener('sync', (event) => {
  // The type library does not know Background Sync.
  const sync = /** @type {ExtendableEvent & {tag: string}} */ (event);
  if (sync.tag === OUTBOX) sync.waitUntil(sendOutbox());
});

/**
 * The network is back. An open page syncs by itself when told; with none open, the outbox is sent from
 * here. Rejects where it could not be, so that the browser tries again.
 */
async function sendOutbox() {
  const pages = await worker.clients.matchAll({ type: 'window' });
  for (const page of pages) page.postMessage({ say: 'sync' });
  if (pages.length > 0) return;
  const db = await openPhone();
  try {
    const events = await unsentIn(db);
    if (events.length === 0) return;
    const response = await fetch('/sync', {
      method: 'POST',
      headers: { 'Content-Type': 'application/json', Accept: 'application/json' },
      // Only the page takes in what others added: the cursor is not moved here.
      body: JSON.stringify({ protocol: 1, device: events[0].device, trip: events[0].trip, cursor: null, events }),
    });
    if (!response.ok) throw new Error(`/sync: ${response.status}`);
    const { acknowledged } = /** @type {{acknowledged: string[]}} */ (await response.json());
    await letGo(db, acknowledged);
  } finally {
    db.close();
  }
}

/** The page's store, as `web/phone/phone-store.js` made it; never made here. @returns {Promise<IDBDatabase>} */
function openPhone() {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open(PHONE);
    opening.onupgradeneeded = () => opening.transaction?.abort();
    opening.onerror = () => reject(opening.error);
    opening.onsuccess = () => resolve(opening.result);
  });
}

/** What the server has not acknowledged, oldest first, no more than one request takes.
 * @param {IDBDatabase} db @returns {Promise<{id: string, device: string, trip: string}[]>} */
function unsentIn(db) {
  return new Promise((resolve, reject) => {
    const tx = db.transaction(['events', 'outbox']);
    /** @type {IDBRequest<{id: string, device: string, trip: string}>[]} */
    let asked = [];
    const waiting = tx.objectStore('outbox').getAllKeys();
    waiting.onsuccess = () => {
      asked = waiting.result.slice(0, MOST_SENT).map((id) => tx.objectStore('events').get(id));
    };
    tx.oncomplete = () => resolve(asked.map((request) => request.result).filter(Boolean));
    tx.onabort = () => reject(tx.error);
  });
}

/** Acknowledged events leave the outbox. @param {IDBDatabase} db @param {readonly string[]} acknowledged @returns {Promise<void>} */
function letGo(db, acknowledged) {
  return new Promise((resolve, reject) => {
    const tx = db.transaction('outbox', 'readwrite', { durability: 'strict' });
    for (const id of acknowledged) tx.objectStore('outbox').delete(id);
    tx.oncomplete = () => resolve();
    tx.onabort = () => reject(tx.error);
  });
}

/**
 * Has the browser answer from this version's cache by itself, where it can (Service Worker Static Routing):
 * a cold start then waits for no worker. What is not on the list still comes to `serve`.
 * @param {ExtendableEvent} event
 */
async function answerWithoutUs(event) {
  const source = { cacheName: CACHE };
  // The type library does not know it yet.
  const { addRoutes } = /** @type {{addRoutes?: (rules: object[]) => Promise<void>}} */ (/** @type {unknown} */ (event));
  await addRoutes?.call(event, [
    { condition: { urlPattern: { pathname: `${KEPT_ONCE_ASKED}*` } }, source: 'fetch-event' },
    { condition: { urlPattern: { pathname: SHELL, search: '' }, requestMethod: 'GET' }, source },
    { condition: { urlPattern: { pathname: '/web/*', search: '' }, requestMethod: 'GET' }, source },
  ]);
}

/** Fetches everything of this version; rejects, and so does not install, when one file is not right. */
async function keepAll() {
  const response = await fetch(PRECACHE, { cache: 'no-store' });
  if (!response.ok) throw new Error(`${PRECACHE}: ${response.status}`);
  /** @type {Precache} */
  const precache = await response.json();
  if (precache.version !== VERSION) throw new Error(`${PRECACHE} is of version ${precache.version}, not ${VERSION}`);
  const cache = await caches.open(CACHE);
  await Promise.all(precache.files.map((file) => keep(cache, file)));
}

/** @param {Cache} cache @param {Kept} file */
async function keep(cache, file) {
  const known = await caches.match(file.url);
  for (const find of [async () => known, () => fetch(file.url, { cache: 'no-cache' })]) {
    const response = await find();
    if (!response?.ok) continue;
    if ((await sha256(response.clone())) !== file.hash) continue;
    await cache.put(file.url, response);
    return;
  }
  throw new Error(`${file.url} is not what ${PRECACHE} says`);
}

/** @param {Response} response @returns {Promise<string>} in hex */
async function sha256(response) {
  const digest = await crypto.subtle.digest('SHA-256', await response.arrayBuffer());
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}

/** This version serves from now on: the others' caches go. */
async function takeOver() {
  const names = await caches.keys();
  const others = names.filter((name) => name.startsWith('counterfoil ') && name !== CACHE);
  await Promise.all(others.map((name) => caches.delete(name)));
  await worker.clients.claim();
}

/** What another app shares is kept before it is answered; the page shows it on its Trip screen. @param {Request} request */
async function takeShared(request) {
  const form = await request.formData();
  const text = ['title', 'text', 'url'].map((field) => String(form.get(field) ?? '').trim()).filter(Boolean).join('\n');
  if (text) await keepShared({ at: new Date().toISOString(), text });
  return Response.redirect(`${SHELL}#/trip`, 303);
}

/** @param {{at: string, text: string}} shared @returns {Promise<void>} */
function keepShared(shared) {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open(SHARED, 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore('texts', { keyPath: 'id', autoIncrement: true });
    opening.onerror = () => reject(opening.error);
    opening.onsuccess = () => {
      const tx = opening.result.transaction('texts', 'readwrite', { durability: 'strict' });
      tx.objectStore('texts').add(shared);
      tx.oncomplete = () => { opening.result.close(); resolve(); };
      tx.onabort = () => reject(tx.error);
    };
  });
}

/** @param {string} path @param {Request} request */
async function serve(path, request) {
  const cache = await caches.open(CACHE);
  const kept = await cache.match(path);
  if (kept) return kept;
  const response = await fetch(request);
  if (response.ok && path.startsWith(KEPT_ONCE_ASKED)) await cache.put(path, response.clone());
  return response;
}
