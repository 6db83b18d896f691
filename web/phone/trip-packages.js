/** Fetches trips to carry. A silent server is an ordinary answer: null. */

import { TRIPS, packageOf } from './addresses.js';

/** @import { Carried } from './phone-store.js' */

/** @typedef {{id: string, title: string, day: string, version: number, package_version: string}} TripHead */

/** The trips at the server, or null when it does not answer. @returns {Promise<TripHead[] | null>} */
export async function fetchTrips() {
  const answer = await fetchDocument(TRIPS);
  return answer?.trips ?? null;
}

/**
 * The trip that leaves nothing to choose, with its plan: the only one at the server, or the only one that is not
 * over; null where there is none such.
 * @param {string} [today] ISO day @returns {Promise<Carried | null>}
 */
export async function fetchOnlyTrip(today = localDay(new Date())) {
  const trips = (await fetchTrips()) ?? [];
  const coming = trips.filter(({ day }) => day >= today);
  const only = [trips, coming].find(({ length }) => length === 1)?.[0];
  return only ? fetchTrip(only.id) : null;
}

/** One trip with its plan, or null. @param {string} trip @returns {Promise<Carried | null>} */
export async function fetchTrip(trip) {
  const answer = await fetchDocument(packageOf(trip));
  if (!answer) return null;
  return { id: answer.trip.id, trip: answer.trip, plan: answer.plan, packageVersion: answer.package_version };
}

/** @param {Date} now */
function localDay(now) {
  return new Date(now.getTime() - now.getTimezoneOffset() * 60_000).toISOString().slice(0, 10);
}

/** @param {string} address @returns {Promise<any>} */
async function fetchDocument(address) {
  try {
    const response = await fetch(address, { headers: { Accept: 'application/json' } });
    return response.ok ? await response.json() : null;
  } catch {
    return null;
  }
}
