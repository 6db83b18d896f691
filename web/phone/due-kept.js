/**
 * What is due, as this phone keeps it, and the reminders: the same for the page and for the service worker.
 *
 * In a store of its own, so that it needs no library: `list` as the server gave it, `reminders` as she wants
 * them and what they told. One notification replaces the other by its tag; what it told is remembered once it
 * is shown, and one lock keeps page and worker from showing the same at once.
 *
 * A classic script, like `what-to-remind.js`, which must be there before it; it leaves `counterfoilDue`.
 */

/** @typedef {{today: string, remind_days: number, dues: DueThing[]}} DueList */
/** @typedef {{key: 'list', etag: string, list: DueList}} ListKept */
/** @typedef {{key: 'reminders', on: boolean, told: {on: string, keys: string[]}}} RemindersKept */

const counterfoilDue = (() => {
  const { localDay, reminderOf, worthKnowing } = /** @type {typeof counterfoilReminding} */ (Reflect.get(globalThis, 'counterfoilReminding'));

  const NAME = 'counterfoil-due';
  const STORE = 'kept';
  const ADDRESS = '/api/due';
  /** Of the notification, and of the browser's periodic wake-up. */
  const TAG = 'counterfoil-due';
  /** Milliseconds before a silent server is given up on. */
  const PATIENCE = 15_000;
  /** @type {RemindersKept} */
  const NEVER = { key: 'reminders', on: false, told: { on: '', keys: [] } };

  /** @returns {Promise<IDBDatabase>} */
  function open() {
    return new Promise((resolve, reject) => {
      const opening = indexedDB.open(NAME, 1);
      opening.onupgradeneeded = () => opening.result.createObjectStore(STORE, { keyPath: 'key' });
      opening.onerror = () => reject(opening.error);
      opening.onsuccess = () => resolve(opening.result);
    });
  }

  /** What is kept here. @returns {Promise<{list: DueList | null, etag: string, reminders: RemindersKept}>} */
  async function kept() {
    const db = await open();
    try {
      return await new Promise((resolve, reject) => {
        const tx = db.transaction(STORE);
        /** @type {IDBRequest<ListKept | undefined>} */
        const list = tx.objectStore(STORE).get('list');
        /** @type {IDBRequest<RemindersKept | undefined>} */
        const reminders = tx.objectStore(STORE).get('reminders');
        tx.oncomplete = () => resolve({
          list: list.result?.list ?? null, etag: list.result?.etag ?? '', reminders: reminders.result ?? NEVER,
        });
        tx.onabort = () => reject(tx.error);
      });
    } finally {
      db.close();
    }
  }

  /** @param {ListKept | RemindersKept} row @returns {Promise<void>} */
  async function keep(row) {
    const db = await open();
    try {
      await new Promise((resolve, reject) => {
        const tx = db.transaction(STORE, 'readwrite');
        tx.objectStore(STORE).put(row);
        tx.oncomplete = () => resolve(undefined);
        tx.onabort = () => reject(tx.error);
      });
    } finally {
      db.close();
    }
  }

  /** Asks the server what is due and keeps it; true where that is something new. A silent or older server changes nothing. */
  async function refresh() {
    const { etag } = await kept();
    const response = await fetch(ADDRESS, {
      headers: { Accept: 'application/json', ...(etag ? { 'If-None-Match': etag } : {}) },
      signal: AbortSignal.timeout(PATIENCE),
    }).catch(() => null);
    if (!response?.ok) return false;
    /** @type {DueList} */
    const list = await response.json();
    await keep({ key: 'list', etag: response.headers.get('etag') ?? '', list });
    return true;
  }

  /**
   * Shows the notification of this moment, where she wants one and there is something to tell.
   * @param {ServiceWorkerRegistration} registration @param {string} [today] @returns {Promise<boolean>} whether one was shown
   */
  function remind(registration, today = localDay(new Date())) {
    return alone(async () => {
      const { list, reminders } = await kept();
      if (!reminders.on || !list || Notification.permission !== 'granted') return false;
      const standing = await registration.getNotifications({ tag: TAG });
      const unread = standing.flatMap(({ data }) => /** @type {string[]} */ (data?.keys ?? []));
      const reminder = reminderOf(list.dues, { ...reminders.told, unread }, today, list.remind_days);
      if (!reminder) return false;
      const { title, body, keys } = reminder;
      // The type library does not know `renotify`: what takes another's place is told aloud all the same.
      await registration.showNotification(title, /** @type {NotificationOptions} */ ({
        body, tag: TAG, renotify: true, data: { keys }, icon: '/icons/icon-192.png', badge: '/icons/icon-192.png', lang: 'en',
      }));
      const told = { on: today, keys: worthKnowing([...new Set([...reminders.told.keys, ...keys])], today) };
      await keep({ ...reminders, told });
      return true;
    });
  }

  /** She wants reminders, or no more. What was told stays told; what stands there goes.
   * @param {boolean} on @param {ServiceWorkerRegistration} registration @returns {Promise<void>} */
  function want(on, registration) {
    return alone(async () => {
      const { reminders } = await kept();
      await keep({ ...reminders, on });
      if (on) return;
      for (const notification of await registration.getNotifications({ tag: TAG })) notification.close();
    });
  }

  /** One at a time, over all tabs and the worker. @template T @param {() => Promise<T>} act @returns {Promise<T>} */
  async function alone(act) {
    return navigator.locks ? navigator.locks.request(NAME, act) : act();
  }

  return { TAG, kept, refresh, remind, want };
})();

Object.assign(globalThis, { counterfoilDue });
