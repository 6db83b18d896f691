/**
 * The server's addresses that the phone page knows, in one place.
 *
 * The page never needs one of them to work: each is asked when there is a network, and a
 * silent server is an ordinary answer.
 */

/** The page itself; the service worker answers it from its cache, with or without a network. */
export const PHONE = '/';

/** Trips that this phone may carry: `GET` -> `{trips: [{id, title, day, version}]}`. */
export const TRIPS = '/api/trips';

/**
 * One trip to carry: `GET` -> `{trip: Trip, plan: Plan | null}`.
 * @param {string} trip
 */
export const packageOf = (trip) => `/api/trips/${encodeURIComponent(trip)}/package`;

/**
 * Events both ways: `POST {device, cursor, events}` -> `{acknowledged: [event id],
 * unknown_trips: [event id], events: [Event], cursor, more}`. Safe to repeat.
 */
export const SYNC = '/sync';

/** The service worker, served from the root so that its scope is the whole site. */
export const SERVICE_WORKER = '/sw.js';

/** What the service worker keeps: `{version, files: [{url, sha256, bytes}]}`. */
export const PRECACHE = '/precache.json';
