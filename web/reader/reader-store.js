/**
 * What a reader's phone keeps: published trips, what is hers of each, and what happened in the stores.
 *
 * Events, plans and the trip in hand lie in a phone store like the household's, whose outbox nobody
 * sends. A host may hold several sites, which share one origin: each has stores of its own, by its folder.
 */

import { openDB } from 'idb';
import { openPhoneStore } from '../phone/phone-store.js';
import { herTrip, isChanged, nothingOfHers } from './her-trip.js';

/** @import { DBSchema, IDBPDatabase } from 'idb' */
/** @import { Plan, Trip } from '../engine/types.js' */
/** @import { Moments, PhoneStore } from '../phone/phone-store.js' */
/** @import { Mine } from './her-trip.js' */

/**
 * A trip as the host has it.
 * @typedef {object} PublishedTrip
 * @property {string} slug
 * @property {string} digest changes whenever anything told does
 * @property {Trip} trip
 * @property {Plan} plan
 */

/** @typedef {DBSchema & {published: {key: string, value: PublishedTrip}, mine: {key: string, value: Mine & {slug: string}}}} Schema */

/** @param {string} folder the site's, as in its address @param {Moments} moments @returns {Promise<ReaderStore>} */
export async function openReaderStore(folder, moments) {
  const phone = await openPhoneStore(moments, `counterfoil-reader ${folder}`);
  /** @type {IDBPDatabase<Schema>} */
  const db = await openDB(`counterfoil-reader ${folder} published`, 1, {
    upgrade(fresh) {
      fresh.createObjectStore('published', { keyPath: 'slug' });
      fresh.createObjectStore('mine', { keyPath: 'slug' });
    },
  });
  return new ReaderStore(db, phone);
}

export class ReaderStore {
  /** @param {IDBPDatabase<Schema>} db @param {PhoneStore} phone */
  constructor(db, phone) {
    this.db = db;
    this.phone = phone;
  }

  /** The trips that she carries. @returns {Promise<PublishedTrip[]>} */
  trips() {
    return this.db.getAll('published');
  }

  /** @param {string} slug @returns {Promise<PublishedTrip | undefined>} */
  published(slug) {
    return this.db.get('published', slug);
  }

  /** @param {string} slug @returns {Promise<Mine>} */
  async mine(slug) {
    return (await this.db.get('mine', slug)) ?? nothingOfHers();
  }

  /**
   * Keeps a published trip with what is hers, and makes it the one in hand.
   * @param {PublishedTrip} published @param {Mine} mine
   */
  async take(published, mine) {
    const tx = this.db.transaction(['published', 'mine'], 'readwrite', { durability: 'strict' });
    await tx.objectStore('published').put(published);
    await tx.objectStore('mine').put({ ...mine, slug: published.slug });
    await tx.done;
    await this.phone.carry({
      id: published.slug,
      trip: herTrip(published.trip, mine),
      // Her own trip has no plan yet; the one that nobody changed has.
      plan: isChanged(mine) ? null : published.plan,
      packageVersion: `${published.digest} ${mine.version}`,
    });
  }
}
