/** The register shows another total: enter it as it stands there. */

import { html, nothing } from 'lit';
import { moneyEntry } from '../phone/money-entry.js';
import { Sheet } from '../phone/page-element.js';
import { money } from '../phone/report-words.js';

/** @import { PlannedTransaction, Trip } from '../engine/types.js' */

export class OtherTotal extends Sheet {
  static properties = { ...Sheet.properties, trip: {}, planned: {}, mend: { state: true } };

  constructor() {
    super();
    this.heading = 'The register shows another total';
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {PlannedTransaction | null} */
    this.planned = null;
    this.mend = '';
  }

  content() {
    const { trip, planned } = this;
    if (!trip || !planned) return nothing;
    return html`
      <p>Planned: <b>${money(trip, planned.receipt.total_cents)}</b>. Look first: was every coupon taken, was the
        account given, was an offer applied? Ask before you pay; afterwards the receipt decides.</p>
      ${moneyEntry(trip, {
        label: 'The register shows',
        button: 'Paid: done',
        mend: this.mend,
        take: (cents) => {
          this.close();
          this.dispatchEvent(new CustomEvent('shown', { detail: cents }));
        },
        refuse: (mend) => { this.mend = mend; },
      })}`;
  }
}

customElements.define('other-total', OtherTotal);
