/**
 * The phone's own memory: IndexedDB by way of idb. The truth of a trip is its event list here.
 *
 * What must hold, and where it is made sure of:
 * - An event, its place in the outbox and the device's counter are written in one transaction
 *   (`append`): killed between any two writes, either all of it is there or nothing.
 * - An event leaves the outbox only in `settle`, by the id that the server acknowledged.
 * - Events are never edited and never deleted; one that is known already is not added twice.
 */

import { openDB } from 'idb';
import { later, nextId } from './identifiers.js';

/** @import { DBSchema, IDBPDatabase } from 'idb' */
/** @import { Event, Plan, Report, Trip } from '../engine/types.js' */
/** @import { Part, Shown } from './last-shown.js' */

/**
 * @typedef {object} Carried a trip as the server packed it
 * @property {string} id
 * @property {Trip} trip
 * @property {Plan | null} plan the plan that she left home with
 * @property {string} packageVersion changes whenever the trip does
 */

/**
 * @typedef {object} KeptPlan the last plan worked out here, so that a cold start shows it at once
 * @property {string} trip
 * @property {string} basis which trip version and events it stands on
 * @property {Plan} plan
 */

/**
 * @typedef {object} Device
 * @property {'device'} key
 * @property {string} id
 * @property {number} counter running number of the device's next event
 * @property {string} lastId greatest event id seen
 */

/**
 * A report to be noted, or one that is made once the ids of the batch's earlier events are known: it
 * names one of them.
 * @typedef {Report | ((ids: readonly string[]) => Report)} Reported
 */

/**
 * What the first paint needs: the trip in hand with its events, the last plan worked out here, and its first lines.
 * @typedef {{device: string, carried: Carried | null, events: Event[], kept: KeptPlan | null, shown: Shown | null}} Taken
 */

/** @typedef {Shown | {key: 'current', trip: string} | {key: `cursor ${string}`, cursor: number, log?: string}} Note */

/**
 * @typedef {DBSchema & {
 *   trips: {key: string, value: Carried},
 *   events: {key: string, value: Event, indexes: {trip: string}},
 *   outbox: {key: string, value: {id: string}},
 *   plans: {key: string, value: KeptPlan},
 *   notes: {key: string, value: Device | Note},
 * }} Schema
 */

/**
 * The awkward moments of a store that several tabs share.
 * @typedef {object} Moments
 * @property {() => void} blocked another tab holds an older store open
 * @property {() => void} blocking this tab holds a newer one up: it lets go, and must reload
 * @property {() => void} terminated the browser closed the store under us
 */

const NAME = 'counterfoil';
const VERSION = 1;

/** Opens the store, making it on first use. @param {Moments} moments @param {string} [name] of the database @returns {Promise<PhoneStore>} */
export async function openPhoneStore(moments, name = NAME) {
  /** @type {IDBPDatabase<Schema>} */
  const db = await openDB(name, VERSION, {
    upgrade(fresh) {
      fresh.createObjectStore('trips', { keyPath: 'id' });
      fresh.createObjectStore('events', { keyPath: 'id' }).createIndex('trip', 'trip');
      fresh.createObjectStore('outbox', { keyPath: 'id' });
      fresh.createObjectStore('plans', { keyPath: 'trip' });
      fresh.createObjectStore('notes', { keyPath: 'key' });
    },
    blocked: () => moments.blocked(),
    blocking: () => {
      db.close();
      moments.blocking();
    },
    terminated: () => moments.terminated(),
  });
  return new PhoneStore(db);
}

export class PhoneStore {
  /** @param {IDBPDatabase<Schema>} db */
  constructor(db) {
    this.db = db;
  }

  /** All that the first paint needs, in one transaction. @returns {Promise<Taken>} */
  async taken() {
    const tx = this.db.transaction(['notes', 'trips', 'events', 'plans']);
    const notes = tx.objectStore('notes');
    const [known, note, shown] = await Promise.all(['device', 'current', 'shown'].map((key) => notes.get(key)));
    const trip = note?.key === 'current' ? note.trip : '';
    const [carried, events, kept] = await Promise.all([
      tx.objectStore('trips').get(trip),
      tx.objectStore('events').index('trip').getAll(trip),
      tx.objectStore('plans').get(trip),
    ]);
    const device = known?.key === 'device' ? known.id : (await this.greeting(trip)).device;
    return {
      device, carried: carried ?? null, events: inOrder(events), kept: kept ?? null,
      shown: shown?.key === 'shown' ? shown : null,
    };
  }

  /** Keeps a trip and makes it the one in hand. @param {Carried} carried */
  async carry(carried) {
    const tx = this.db.transaction(['trips', 'notes'], 'readwrite', { durability: 'strict' });
    await tx.objectStore('trips').put(carried);
    await tx.objectStore('notes').put({ key: 'current', trip: carried.id });
    await tx.objectStore('notes').delete('shown');
    await tx.done;
  }

  /** Makes a trip that is kept here the one in hand. @param {string} trip */
  async takeInHand(trip) {
    await this.db.put('notes', { key: 'current', trip });
  }

  /** The trips kept here. @returns {Promise<Carried[]>} */
  trips() {
    return this.db.getAll('trips');
  }

  /** A trip's events in id order, which is the order that every phone folds them in. @param {string} trip */
  async events(trip) {
    return inOrder(await this.db.getAllFromIndex('events', 'trip', trip));
  }

  /**
   * Writes reports as events, all or none. Rejects (quota, store gone) with nothing written.
   * @param {string} trip
   * @param {readonly Reported[]} reports
   * @returns {Promise<Event[]>}
   */
  async append(trip, reports) {
    const tx = this.db.transaction(['notes', 'events', 'outbox'], 'readwrite', { durability: 'strict' });
    return allOrNone(tx, async () => {
      const device = await theDevice(tx.objectStore('notes'));
      // One moment for the whole batch: undo takes back what one tap wrote by it.
      const now = Date.now();
      const at = new Date(now).toISOString();
      /** @type {Event[]} */
      const events = [];
      for (const reported of reports) {
        const what = typeof reported === 'function' ? reported(events.map((event) => event.id)) : reported;
        const id = nextId(device.lastId, now, crypto.getRandomValues(new Uint8Array(8)));
        events.push({ id, device: device.id, counter: device.counter, at, trip, what });
        device.lastId = id;
        device.counter += 1;
      }
      const writes = [
        () => tx.objectStore('notes').put(device),
        ...events.map((event) => () => tx.objectStore('events').add(event)),
        ...events.map(({ id }) => () => tx.objectStore('outbox').add({ id })),
      ];
      // At once: she waits for them with her thumb on the stub.
      await Promise.all(writes.map(async (write) => write()));
      return events;
    });
  }

  /** Events of all trips that the server has not acknowledged, in id order. @returns {Promise<Event[]>} */
  async unsent() {
    const tx = this.db.transaction(['events', 'outbox']);
    const waiting = await tx.objectStore('outbox').getAllKeys();
    const events = await Promise.all(waiting.map((id) => tx.objectStore('events').get(id)));
    return events.filter((event) => event !== undefined);
  }

  /** How many these are. */
  unsentCount() {
    return this.db.count('outbox');
  }

  /** The device's id, and up to where it knows which log of a trip at the server (0: nothing). @param {string} trip */
  async greeting(trip) {
    const tx = this.db.transaction('notes', 'readwrite');
    const device = await theDevice(tx.store);
    await tx.store.put(device);
    const note = await tx.store.get(`cursor ${trip}`);
    await tx.done;
    const known = note && 'cursor' in note ? note : { cursor: 0, log: undefined };
    return { device: device.id, cursor: known.cursor, log: known.log };
  }

  /**
   * Takes the server's answer in, all or none: acknowledged events leave the outbox, others'
   * events come in, the cursor moves.
   * @param {string} trip
   * @param {readonly string[]} acknowledged
   * @param {readonly Event[]} others
   * @param {number} cursor
   * @param {string} [log] which log the cursor counts in
   * @returns {Promise<number>} how many events were new here
   */
  async settle(trip, acknowledged, others, cursor, log) {
    const tx = this.db.transaction(['notes', 'events', 'outbox'], 'readwrite', { durability: 'strict' });
    return allOrNone(tx, async () => {
      const device = await theDevice(tx.objectStore('notes'));
      let fresh = 0;
      if (await isAnotherLog(tx.objectStore('notes'), trip, log)) {
        // The server was put back from a backup: whatever it had of this phone since is gone there.
        for (const event of await tx.objectStore('events').getAll()) {
          if (event.device === device.id) await tx.objectStore('outbox').put({ id: event.id });
        }
      }
      for (const id of acknowledged) await tx.objectStore('outbox').delete(id);
      for (const event of others) {
        if (await tx.objectStore('events').getKey(event.id)) continue;
        await tx.objectStore('events').add(event);
        device.lastId = later(device.lastId, event.id);
        fresh += 1;
      }
      await tx.objectStore('notes').put(device);
      await tx.objectStore('notes').put({ key: `cursor ${trip}`, cursor, ...(log ? { log } : {}) });
      return fresh;
    });
  }

  /** Keeps a plan; what was shown of the one before is nothing to show any more. @param {KeptPlan} kept */
  async keepPlan(kept) {
    const tx = this.db.transaction(['notes', 'plans'], 'readwrite');
    await tx.objectStore('plans').put(kept);
    await tx.objectStore('notes').delete('shown');
    await tx.done;
  }

  /** Keeps the first lines of the trip in hand as they are shown. @param {string} basis @param {Part[]} parts */
  async keepShown(basis, parts) {
    await this.db.put('notes', { key: 'shown', basis, parts });
  }
}

/** Which trip and events a plan, and what is shown of it, stand on. @param {Trip} trip @param {readonly Event[]} events */
export const basisOf = ({ id, version }, events) => `${id} ${version} ${events.length} ${events.at(-1)?.id ?? ''}`;

/** Events in the order that every phone folds them in. @param {Event[]} events sorted in place */
export const inOrder = (events) => events.sort((a, b) => (a.id < b.id ? -1 : 1));

/**
 * Runs the writes of a transaction to their durable end. A write that throws before the database has
 * seen it would leave the ones before it to be committed: so it takes them back.
 * @template T
 * @param {{abort: () => void, done: Promise<void>}} tx
 * @param {() => Promise<T>} writes
 * @returns {Promise<T>}
 */
async function allOrNone(tx, writes) {
  // The abort below rejects it too, when nobody waits for it any more.
  tx.done.catch(() => {});
  try {
    const answer = await writes();
    await tx.done;
    return answer;
  } catch (error) {
    try {
      tx.abort();
    } catch {
      // It was over already: the database itself gave it up.
    }
    throw error;
  }
}

/**
 * Whether a trip's events are in another log at the server than this phone remembers.
 * @param {{get: (key: string) => Promise<Device | Note | undefined>}} notes @param {string} trip @param {string | undefined} log
 */
async function isAnotherLog(notes, trip, log) {
  const known = await notes.get(`cursor ${trip}`);
  return Boolean(log && known && 'log' in known && known.log && known.log !== log);
}

/**
 * This device's row: the stored one, or a new identity.
 * @param {{get: (key: string) => Promise<Device | Note | undefined>}} notes
 * @returns {Promise<Device>}
 */
async function theDevice(notes) {
  const known = await notes.get('device');
  if (known?.key === 'device') return known;
  const id = nextId('', Date.now(), crypto.getRandomValues(new Uint8Array(8)));
  return { key: 'device', id: `phone-${id}`, counter: 0, lastId: '' };
}
