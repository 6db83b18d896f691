/**
 * The server's addresses that the phone page knows, in one place.
 *
 * The page never needs one of them to work: each is asked when there is a network, and a
 * silent server is an ordinary answer.
 */

/** The shell itself; the service worker answers every navigation below it from its cache. */
export const PHONE = '/phone';

/** Trips that this phone may carry: `GET` -> `{trips: [{id, title, day, version}]}`. */
export const TRIPS = '/phone/trips';

/**
 * One trip to carry: `GET` -> `{trip: Trip, plan: Plan | null}`.
 * @param {string} trip
 */
export const packageOf = (trip) => `/phone/trips/${encodeURIComponent(trip)}`;

/**
 * Events both ways: `POST {device, trip, cursor, events}` ->
 * `{acknowledged: [event id], events: [Event], cursor, trip_version}`. Safe to repeat.
 */
export const SYNC = '/sync';

/** The service worker, served from the root so that its scope is the whole site. */
export const SERVICE_WORKER = '/sw.js';
