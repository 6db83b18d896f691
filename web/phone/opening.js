/**
 * What the page does first: it opens the phone's store, shows the lines that were shown last, and has the shell
 * fetched.
 *
 * Little has to be loaded before it, so a cold start shows its first lines while most of the page is still on its
 * way. They are shown only where they stand on the trip and the events that lie in the store now.
 */

import { painted } from './frames.js';
import { showLast } from './last-shown.js';
import { basisOf, openPhoneStore } from './phone-store.js';
import { AISLE, askFor, routed } from './preloads.js';

/** @import { Carried, Taken } from './phone-store.js' */

/** What the store said before anybody listened. */
let unheard = '';
/** @type {(words: string) => void} */
let tell = (words) => {
  unheard = words;
  void loadShell();
};

/** Tells what stands in the store's way, in words for the shopper. @param {(words: string) => void} listener */
export function onTrouble(listener) {
  tell = listener;
  if (unheard) tell(unheard);
}

/** The phone's store; rejects where the browser keeps none. */
export const opened = openPhoneStore({
  blocked: () => tell('Another tab holds an older Counterfoil open. Close it, then reload this one.'),
  blocking: () => tell('A newer Counterfoil was opened in another tab. Reload this one.'),
  terminated: () => tell('The browser closed the phone\'s store. Reload the page; what was noted is kept.'),
});

/** What lay in the store when it was opened. */
export const taken = opened.then((store) => store.taken());

/** The trip that a phone without any is to carry, on its way before the shell is; null where she has to choose. */
export const firstTrip = taken.then(fetchFirst, () => null);

/** @param {Taken} taken @returns {Promise<Carried | null>} */
async function fetchFirst({ carried }) {
  if (carried) return null;
  const { fetchOnlyTrip } = await import('./trip-packages.js');
  return fetchOnlyTrip();
}

async function begin() {
  // Where the page is not kept on the phone yet, fetching it is what takes long. Only the aisle's lines are kept.
  if (navigator.serviceWorker?.controller && routed() === AISLE) {
    const lying = await taken.catch(() => null);
    if (lying && isShown(lying)) await painted();
  }
  await loadShell();
}

/** Shows the last lines where they still stand. @param {Taken} lying */
function isShown({ carried, events, shown }) {
  const beginning = document.querySelector('.beginning');
  if (!beginning || !carried || shown?.basis !== basisOf(carried.trip, events)) return false;
  showLast(beginning, shown.parts);
  return true;
}

/** All modules of the shell and of the screen are asked for at once. */
function loadShell() {
  askFor('shell', routed());
  return import('./main.js');
}

void begin();
