/** Fetches trips to carry. A silent server is an ordinary answer: null. */

import { TRIPS, packageOf } from './addresses.js';

/** @import { Carried } from './phone-store.js' */

/** @typedef {{id: string, title: string, day: string, version: number, package_version: string}} TripHead */

/** The trips at the server, or null when it does not answer. @returns {Promise<TripHead[] | null>} */
export async function fetchTrips() {
  const answer = await fetchDocument(TRIPS);
  return answer?.trips ?? null;
}

/** One trip with its plan, or null. @param {string} trip @returns {Promise<Carried | null>} */
export async function fetchTrip(trip) {
  const answer = await fetchDocument(packageOf(trip));
  if (!answer) return null;
  return { id: answer.trip.id, trip: answer.trip, plan: answer.plan, packageVersion: answer.package_version };
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
