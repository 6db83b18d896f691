/**
 * The world outside of the phone, in one import: what the first lines do not wait for.
 */

export { DueSoon } from './due-soon.js';
export { ServiceWorkerBridge } from './service-worker-bridge.js';
export { Sync } from './sync.js';
export { fetchOnlyTrip, fetchTrip } from './trip-packages.js';
