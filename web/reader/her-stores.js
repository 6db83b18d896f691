/** The stores that she goes to, and where she lives as far as prices differ by it. */

import { html, nothing } from 'lit';
import { regionsOf } from './her-trip.js';

/** @import { Part } from './mine-screen.js' */

/** @param {Part} part */
export function herStores({ published, mine, change }) {
  const regions = regionsOf(published);
  const gone = new Set(mine.leftOut);
  const goes = (/** @type {string} */ id, /** @type {boolean} */ yes) =>
    change({ ...mine, leftOut: yes ? mine.leftOut.filter((other) => other !== id) : [...mine.leftOut, id] });
  return html`
    <section class="store" aria-labelledby="stores">
      <div class="store-head"><h2 id="stores">Stores you go to</h2></div>
      <ul class="plainlist">
        ${published.stores.map((store) => html`
          <li><label class="tick">
            <input type="checkbox" .checked=${!gone.has(store.id)}
              ?disabled=${!gone.has(store.id) && gone.size === published.stores.length - 1}
              @change=${(/** @type {Event} */ event) => goes(store.id, /** @type {HTMLInputElement} */ (event.target).checked)}>
            <span>${store.name}${store.note ? html`<span class="small">${store.note}</span>` : nothing}</span>
          </label></li>`)}
      </ul>
      ${regions.length < 2 ? nothing : html`
        <label class="field">Your region, as coupons differ by it
          <select @change=${(/** @type {Event} */ event) => change({ ...mine, region: /** @type {HTMLSelectElement} */ (event.target).value })}>
            <option value="" ?selected=${mine.region === ''}>As published</option>
            ${regions.map((region) => html`<option value=${region} ?selected=${mine.region === region}>${region}</option>`)}
          </select></label>`}
    </section>`;
}
