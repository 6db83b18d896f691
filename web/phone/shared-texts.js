/**
 * Texts that other apps shared with this page (offers, mostly), kept until they are read at the Desk.
 * The service worker writes them before it answers; a store of their own, so that it needs no library.
 */

import { openDB } from 'idb';

/** As in `web/sw/sw.js`, which makes the same store. */
const NAME = 'counterfoil-shared';
const STORE = 'texts';

/** @typedef {{id: number, at: string, text: string}} SharedText */

const open = () => openDB(NAME, 1, { upgrade: (fresh) => void fresh.createObjectStore(STORE, { keyPath: 'id', autoIncrement: true }) });

/** @returns {Promise<SharedText[]>} oldest first */
export async function sharedTexts() {
  const db = await open();
  const texts = await db.getAll(STORE);
  db.close();
  return texts;
}

/** She has read it at the Desk, or does not want it. @param {number} id */
export async function removeSharedText(id) {
  const db = await open();
  await db.delete(STORE, id);
  db.close();
}
