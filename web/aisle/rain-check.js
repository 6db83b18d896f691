/** The store gives a rain check for an empty shelf: at the tag's price in one tap, or on its own terms. */

import { html, nothing } from 'lit';
import { moneyEntry } from '../phone/money-entry.js';
import { PageElement } from '../phone/page-element.js';
import { money } from '../phone/report-words.js';

/** @import { Trip } from '../engine/types.js' */
/** @import { AisleLine } from '../phone/lines.js' */

class RainCheckTaken extends PageElement {
  static properties = { trip: {}, line: {}, mend: { state: true } };

  constructor() {
    super();
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {AisleLine | null} */
    this.line = null;
    this.mend = '';
  }

  render() {
    const { trip, line } = this;
    if (!trip || !line || line.toFind === 0) return nothing;
    // What a deal comes to per unit on a rain check is the store's to write down.
    const tag = line.price?.deal ? undefined : (line.seenCents ?? line.price?.cents);
    return html`
      ${tag === undefined ? nothing : html`
        <button class="choice" @click=${() => this.#taken(line, tag, null)}>
          <span>Rain check: ${line.toFind} at ${money(trip, tag)} on a later visit</span></button>`}
      <details>
        <summary>Rain check${tag === undefined ? '' : ' with other words on it'}</summary>
        ${moneyEntry(trip, {
          name: 'rain-check',
          label: 'Price of one on it',
          button: `Rain check for ${line.toFind} taken`,
          mend: this.mend,
          extra: html`<label class="field">Good until, if it says so <input type="date" name="until" min=${trip.day}></label>`,
          take: (cents, form) => this.#taken(line, cents, String(new FormData(form).get('until') || '') || null),
          refuse: (mend) => { this.mend = mend; },
        })}
      </details>`;
  }

  /** @param {AisleLine} line @param {number} cents @param {string | null} until */
  #taken({ store, product, toFind }, cents, until) {
    this.report([{ kind: 'rain_check_taken', store, product, units: toFind, cents, until }]);
  }
}

customElements.define('rain-check', RainCheckTaken);
