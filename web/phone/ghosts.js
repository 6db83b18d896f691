/** Grey shapes where something will stand: never a spinner. */

import { html } from 'lit';

/** @param {number} count @param {string} words for those who cannot see them */
export const ghosts = (count, words) => html`
  <div class="ghosts" aria-busy="true">
    <p class="unseen" role="status">${words}</p>
    ${Array.from({ length: count }, () => html`<div class="ghost"></div>`)}
  </div>`;
