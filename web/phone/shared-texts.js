/**
 * Texts that other apps shared with this page (offers, mostly): kept on the phone until the Desk has them.
 * The service worker writes them before it answers; a store of their own, so that it needs no library.
 */

import { openDB } from 'idb';
import { SHARED_TEXTS } from './addresses.js';

/** As in `web/sw/sw.js`, which makes the same store. */
const NAME = 'counterfoil-shared';
const STORE = 'texts';
/** Milliseconds before a silent server is given up on. */
const PATIENCE = 15_000;

/**
 * @typedef {object} SharedText
 * @property {string} id UUIDv7
 * @property {string} at when it was shared, ISO 8601
 * @property {string} title @property {string} text @property {string} url each '' where there is none
 */

const open = () => openDB(NAME, 1, { upgrade: (fresh) => void fresh.createObjectStore(STORE, { keyPath: 'id' }) });

/** @returns {Promise<SharedText[]>} oldest first */
export async function sharedTexts() {
  const db = await open();
  const texts = await db.getAll(STORE);
  db.close();
  return texts;
}

/** She does not want it, or the Desk has it. @param {string} id */
export async function removeSharedText(id) {
  const db = await open();
  await db.delete(STORE, id);
  db.close();
}

/** What was shared, as it is read. @param {SharedText} shared */
export const wordsOf = ({ title, text, url }) => [title, text, url].filter(Boolean).join('\n');

/**
 * Sends them home. One leaves the phone only when the Desk says that it has it; they go one by one, so that
 * one that the Desk refuses does not hold up the others.
 * @returns {Promise<number>} how many it has now
 */
export async function sendSharedTexts() {
  let sent = 0;
  for (const shared of await sharedTexts()) {
    const response = await fetch(SHARED_TEXTS, {
      method: 'POST',
      headers: { 'Content-Type': 'application/json', Accept: 'application/json' },
      body: JSON.stringify({ texts: [shared] }),
      signal: AbortSignal.timeout(PATIENCE),
    });
    // An older Desk does not know of them: they wait, and nobody is told of a fault.
    if (response.status === 404) return sent;
    if (!response.ok) continue;
    const { kept } = /** @type {{kept: string[]}} */ (await response.json());
    if (!kept.includes(shared.id)) continue;
    await removeSharedText(shared.id);
    sent += 1;
  }
  return sent;
}
