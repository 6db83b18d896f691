/**
 * The service worker: keeps the whole phone page on the phone and serves it cache first.
 *
 * When: on install everything in /precache.json is fetched, checked against its SHA-256 and
 * kept; unchanged files are taken over from the version before, and where many are new the small ones
 * come in one pack. A newer worker waits until the
 * page says "take over". What: exactly that list; events, trips and the Desk are never cached.
 * How: only this version's own cache is ever read, so old and new files never mix.
 *
 * A classic script: modules as service workers are not everywhere. What reminds of deadlines is the page's too
 * and comes in by `importScripts`.
 */

// @ts-check
/// <reference lib="webworker" />
/// <reference path="../phone/what-to-remind.js" />
/// <reference path="../phone/due-kept.js" />
/* global counterfoilDue */

importScripts('/web/phone/what-to-remind.js', '/web/phone/due-kept.js');

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
const PACK = '/precache.pack';
/** So many new files are asked for one by one. */
const ONE_BY_ONE = 20;
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
  if (event.data?.say === 'let go') letGoOfPages();
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
  if (sync.tag === OUTBOX) sync.waitUntil(sendOutbox().finally(remindOfDue));
});
// Where the browser wakes an installed app now and then (Periodic Background Sync).
worker.addEventListener('periodicsync', (event) => {
  const sync = /** @type {ExtendableEvent & {tag: string}} */ (event);
  if (sync.tag === counterfoilDue.TAG) sync.waitUntil(remindOfDue());
});
worker.addEventListener('notificationclick', (event) => {
  event.notification.close();
  event.waitUntil(showTrip());
});

/** What is due by the server's word, or by what is kept here where it does not answer. */
async function remindOfDue() {
  // No reason for the browser to send the outbox again.
  try {
    await counterfoilDue.refresh();
    await counterfoilDue.remind(worker.registration);
  } catch (error) {
    console.error(error);
  }
}

/** The Trip screen, in the page that is open, else in a new one. What is typed at the Desk is left alone. */
async function showTrip() {
  const pages = await worker.clients.matchAll({ type: 'window' });
  const open = pages.find((page) => new URL(page.url).pathname === SHELL);
  if (!open) {
    await worker.clients.openWindow(`${SHELL}#/trip`);
    return;
  }
  open.postMessage({ say: 'show trip' });
  await open.focus();
}

/**
 * The network is back. An open page syncs by itself when told; with none open, the outbox and what other
 * apps shared are sent from here. Rejects where they could not be, so that the browser tries again.
 */
async function sendOutbox() {
  const pages = await worker.clients.matchAll({ type: 'window' });
  for (const page of pages) page.postMessage({ say: 'sync' });
  if (pages.length > 0) return;
  await sendEvents();
  await sendShared();
}

async function sendEvents() {
  const db = await openKept(PHONE);
  try {
    const events = await unsentIn(db);
    if (events.length === 0) return;
    // Only the page takes in what others added: the cursor is not moved here.
    const answer = await post('/sync', { protocol: 1, device: events[0].device, trip: events[0].trip, cursor: null, events });
    if (!answer.ok) throw new Error(`/sync: ${answer.status}`);
    const { acknowledged } = /** @type {{acknowledged: string[]}} */ (await answer.json());
    await letGo(db, 'outbox', acknowledged);
  } finally {
    db.close();
  }
}

/** As `sendSharedTexts` of the page does. */
async function sendShared() {
  const db = await openKept(SHARED).catch(() => null);
  if (!db) return;
  try {
    for (const text of await sharedIn(db)) {
      const answer = await post('/desk/inbox/shared', { texts: [text] });
      if (answer.status === 404) return;
      if (!answer.ok) continue;
      const { kept } = /** @type {{kept: string[]}} */ (await answer.json());
      await letGo(db, 'texts', kept);
    }
  } finally {
    db.close();
  }
}

/** @param {string} address @param {object} body */
const post = (address, body) =>
  fetch(address, {
    method: 'POST',
    headers: { 'Content-Type': 'application/json', Accept: 'application/json' },
    body: JSON.stringify(body),
  });

/** A store as it was made elsewhere; never made here: rejects where there is none. @param {string} name @returns {Promise<IDBDatabase>} */
function openKept(name) {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open(name);
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

/** @param {IDBDatabase} db @returns {Promise<object[]>} */
function sharedIn(db) {
  return new Promise((resolve, reject) => {
    const asked = db.transaction('texts').objectStore('texts').getAll();
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

/** What the server has leaves the phone. @param {IDBDatabase} db @param {string} from @param {readonly string[]} ids @returns {Promise<void>} */
function letGo(db, from, ids) {
  return new Promise((resolve, reject) => {
    const tx = db.transaction(from, 'readwrite', { durability: 'strict' });
    for (const id of ids) tx.objectStore(from).delete(id);
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
  const known = await Promise.all(precache.files.map((file) => caches.match(file.url)));
  const packed = known.filter((response) => !response).length > ONE_BY_ONE ? await unpacked() : new Map();
  const cache = await caches.open(CACHE);
  await Promise.all(precache.files.map((file, place) => keep(cache, file, known[place] ?? packed.get(file.url))));
}

/**
 * The small files by address, as they would come one by one; none where there is no pack, or half of one.
 * @returns {Promise<Map<string, Response>>}
 */
async function unpacked() {
  /** @type {Map<string, Response>} */
  const found = new Map();
  try {
    const pack = await fetch(PACK, { cache: 'no-cache' });
    if (!pack.ok) return found;
    const bytes = new Uint8Array(await pack.arrayBuffer());
    let start = bytes.indexOf('\n'.charCodeAt(0)) + 1;
    /** @type {{url: string, type: string, bytes: number}[]} */
    const list = JSON.parse(new TextDecoder().decode(bytes.subarray(0, start)));
    for (const { url, type, bytes: length } of list) {
      // What the server says of its pack it says of each file: the policy above all.
      const headers = new Headers(pack.headers);
      for (const name of ['Content-Encoding', 'Content-Length', 'ETag']) headers.delete(name);
      headers.set('Content-Type', type);
      found.set(url, new Response(bytes.slice(start, start + length), { headers }));
      start += length;
    }
  } catch (error) {
    console.error(error);
  }
  return found;
}

/** @param {Cache} cache @param {Kept} file @param {Response} [atHand] */
async function keep(cache, file, atHand) {
  for (const find of [async () => atHand, () => fetch(file.url, { cache: 'no-cache' })]) {
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
  const [title, text, url] = ['title', 'text', 'url'].map((field) => String(form.get(field) ?? '').trim());
  const now = Date.now();
  if (title || text || url) await keepShared({ id: newId(now), at: new Date(now).toISOString(), title, text, url });
  return Response.redirect(`${SHELL}#/trip`, 303);
}

/** A UUIDv7 (RFC 9562, section 5.7): the Desk takes each text once, however often it is sent. @param {number} now */
function newId(now) {
  const hex = [...crypto.getRandomValues(new Uint8Array(10))].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  const time = now.toString(16).padStart(12, '0');
  return `${time.slice(0, 8)}-${time.slice(8)}-7${hex.slice(0, 3)}-8${hex.slice(3, 6)}-${hex.slice(6, 18)}`;
}

/** @param {{id: string, at: string, title: string, text: string, url: string}} shared @returns {Promise<void>} */
function keepShared(shared) {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open(SHARED, 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore('texts', { keyPath: 'id' });
    opening.onerror = () => reject(opening.error);
    opening.onsuccess = () => {
      const tx = opening.result.transaction('texts', 'readwrite', { durability: 'strict' });
      tx.objectStore('texts').add(shared);
      tx.oncomplete = () => { opening.result.close(); resolve(); };
      tx.onabort = () => reject(tx.error);
    };
  });
}

/** Ends what is asked of the network for a page: a newer worker takes over only when that is done. */
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

/** @param {string} path @param {Request} request */
async function serve(path, request) {
  const cache = await caches.open(CACHE);
  const kept = await cache.match(path);
  if (kept) return kept;
  const response = await ask(request);
  if (response.ok && path.startsWith(KEPT_ONCE_ASKED)) await cache.put(path, response.clone());
  return response;
}
