/** The shapes that say a line's state beside its word. Drawn here; `currentColor` throughout. */

import { svg } from 'lit';

/** @import { LineState } from './lines.js' */

const drawn = (/** @type {unknown} */ inside) =>
  svg`<svg class="shape" viewBox="0 0 24 24" width="24" height="24" fill="none" stroke="currentColor"
    stroke-width="2.25" stroke-linecap="round" stroke-linejoin="round" aria-hidden="true">${inside}</svg>`;

/** @type {Record<LineState, () => unknown>} */
const STATES = {
  // An open ring: nothing in it yet.
  'to find': () => drawn(svg`<circle cx="12" cy="12" r="8" />`),
  // A full trolley.
  'in the trolley': () => drawn(svg`
    <path d="M2.5 4.5h3l2.2 10h10.6l2.2-7.5H6.3" fill="currentColor" />
    <circle cx="9.5" cy="19" r="1.4" fill="currentColor" /><circle cx="16.5" cy="19" r="1.4" fill="currentColor" />`),
  // A bare shelf.
  'shelf empty': () => drawn(svg`<path d="M3 4v16M21 4v16M3 9h18M3 18h18M9 13.5l6 0" stroke-dasharray="none" />`),
  // Walked past.
  left: () => drawn(svg`<path d="M4 12h16M14 6l6 6-6 6" />`),
  // A stub with its tick, torn off.
  bought: () => drawn(svg`
    <path d="M5 3.5h14v17l-2.3-1.6-2.4 1.6-2.3-1.6-2.3 1.6-2.4-1.6L5 20.5z" /><path d="M8.5 11l2.5 2.5 4.5-5" />`),
};

/** @param {LineState} state */
export const shapeOf = (state) => STATES[state]();

export const undoShape = () => drawn(svg`<path d="M8 5L4 9l4 4M4 9h10a5.5 5.5 0 0 1 0 11h-4" />`);
export const moreShape = () => drawn(svg`<path d="M9 5l7 7-7 7" />`);
