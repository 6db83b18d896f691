/**
 * The server's addresses that the phone page knows, in one place.
 *
 * The page never needs one of them to work: each is asked when there is a network, and a
 * silent server is an ordinary answer.
 */

/** The page itself; the service worker answers it from its cache, with or without a network. */
export const PHONE = '/';

/** Trips that this phone may carry: `GET` -> `{trips: [{id, title, day, version, package_version}]}`. */
export const TRIPS = '/api/trips';

/**
 * One trip to carry: `GET` -> `{trip: Trip, plan: Plan, package_version}`.
 * @param {string} trip
 */
export const packageOf = (trip) => `/api/trips/${encodeURIComponent(trip)}`;

/**
 * Events both ways: `POST {protocol, device, trip, cursor, events}` -> `{acknowledged: [event id],
 * refused: [{id, mend}], events: [Event of others], cursor, more, trip_version}`. Safe to repeat.
 */
export const SYNC = '/sync';

// What ends or is due is asked by `due-kept.js`, which the service worker shares and which so can import nothing:
// `GET /api/due` -> `{today, remind_days, dues: [{id, day, kind, words, act, trip}]}`.

/** Where a trip's claims are noted, at the Desk. @param {string} trip */
export const settleOf = (trip) => `/desk/trips/${encodeURIComponent(trip)}/settle`;

/**
 * Texts that other apps shared: `POST {texts: [{id, at, title, text, url}]}` -> `{kept: [id]}`. Safe to repeat.
 */
export const SHARED_TEXTS = '/desk/inbox/shared';

/**
 * The service worker of one version, served from the root so that its scope is the whole site.
 * The version is part of the address: a new one is a new worker, and each knows its own cache.
 * @param {string} version
 */
export const serviceWorkerOf = (version) => `/sw.js?version=${encodeURIComponent(version)}`;

/** What the service worker keeps: `{version, files: [{url, hash, bytes}]}`. */
export const PRECACHE = '/precache.json';
