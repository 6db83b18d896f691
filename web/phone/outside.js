/**
 * The world outside of the phone, in one import: what the first lines do not wait for.
 */

export { DueSoon } from './due-soon.js';
export { PageKeeper } from './page-keeper.js';
export { Sync } from './sync.js';
export { fetchTrip } from './trip-packages.js';
