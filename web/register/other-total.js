/**
 * The register shows another total: enter it as it stands there, see what most likely went otherwise,
 * and ask before paying; or plan again without what is not taken; or pay, as it is.
 */

import { html, nothing } from 'lit';
import { moneyEntry } from '../phone/money-entry.js';
import { Sheet } from '../phone/page-element.js';
import { money } from '../phone/report-words.js';
import { causeWords, likelyCauses } from './likely-causes.js';

/** @import { PlannedTransaction, Report, Transaction, Trip } from '../engine/types.js' */
/** @import { Cause } from './likely-causes.js' */

/** What went through: the total that the register showed, and the transaction as it really went. @typedef {{cents: number, transaction: Transaction}} Paid */

export class OtherTotal extends Sheet {
  static properties = { ...Sheet.properties, trip: {}, planned: {}, mend: { state: true }, shown: { state: true } };

  constructor() {
    super();
    this.heading = 'The register shows another total';
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {PlannedTransaction | null} */
    this.planned = null;
    this.mend = '';
    /** @type {number | null} what was entered, in cents */
    this.shown = null;
    this.addEventListener('report', () => this.close());
  }

  async ask() {
    this.shown = null;
    this.mend = '';
    await this.show();
  }

  /** @param {Map<string, unknown>} changed */
  updated(changed) {
    if (changed.has('shown') && this.shown !== null) this.seeAnswer();
  }

  content() {
    const { trip, planned, shown } = this;
    if (!trip || !planned) return nothing;
    return html`
      <p>Planned: <b>${money(trip, planned.receipt.total_cents)}</b>. Ask before you pay; afterwards the receipt decides.</p>
      ${moneyEntry(trip, {
        name: 'shown',
        label: 'The register shows',
        button: 'Why?',
        first: true,
        mend: this.mend,
        take: (cents) => { this.mend = ''; this.shown = cents; },
        refuse: (mend) => { this.mend = mend; this.shown = null; },
      })}
      <div class="answer" role="status">${shown === null ? nothing : this.#causes(trip, planned, shown)}</div>`;
  }

  /** @param {Trip} trip @param {PlannedTransaction} planned @param {number} shown */
  #causes(trip, planned, shown) {
    const causes = likelyCauses(trip, planned.transaction, shown);
    return html`
      <p>${causes.some((cause) => cause.exact) ? 'The likeliest cause:' : causes.length > 0
        ? 'No single thing explains it. The nearest:' : 'No single thing explains it.'}</p>
      <ul class="plainlist causes">
        ${causes.map((cause) => html`
          <li data-exact=${cause.exact}>
            <p><b>${cause.words}</b> <span class="small">${causeWords(trip, cause)}</span></p>
            ${cause.coupons.length > 0
              ? html`<button class="choice" @click=${() => this.#refused(cause)}>Not taken, not paid: plan without it</button>` : nothing}
            ${cause.exact
              ? html`<button class="choice" @click=${() => this.#paid(shown, cause.transaction)}>Paid so: done</button>` : nothing}
          </li>`)}
      </ul>
      <button class="go wide" @click=${() => this.#paid(shown, planned.transaction)}>Paid ${money(trip, shown)} all the same: done</button>`;
  }

  /** @param {Cause} cause */
  #refused({ coupons }) {
    const ids = [...new Set(coupons)];
    this.report(ids.map((coupon) => /** @type {Report} */ ({
      kind: 'coupon_copies', coupon, copies: -coupons.filter((id) => id === coupon).length,
    })));
  }

  /** @param {number} cents @param {Transaction} transaction */
  #paid(cents, transaction) {
    this.close();
    this.dispatchEvent(new CustomEvent('shown', { detail: { cents, transaction } }));
  }
}

customElements.define('other-total', OtherTotal);
