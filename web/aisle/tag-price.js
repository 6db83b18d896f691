/** The tag shows another price than the one packed: enter it, see how far buying is right. */

import { html, nothing } from 'lit';
import { moneyEntry } from '../phone/money-entry.js';
import { PageElement } from '../phone/page-element.js';
import { money } from '../phone/report-words.js';

/** @import { Trip } from '../engine/types.js' */
/** @import { AisleLine } from '../phone/lines.js' */
/** @import { TripInHand } from '../phone/trip-in-hand.js' */

class TagPrice extends PageElement {
  static properties = { trip: {}, line: {}, inHand: {}, breakEven: { state: true }, mend: { state: true } };

  constructor() {
    super();
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {AisleLine | null} */
    this.line = null;
    /** @type {TripInHand | null} */
    this.inHand = null;
    /** @type {number | null} highest tag at which buying is still right, null while unknown or none */
    this.breakEven = null;
    this.mend = '';
  }

  firstUpdated() {
    void this.#ask();
  }

  async #ask() {
    const { line, inHand } = this;
    if (!line || !inHand) return;
    try {
      this.breakEven = await inHand.breakEven(line.store, line.product);
    } catch {
      // A newer question overtook this one, or the engine is in trouble: the price can be noted without it.
    }
  }

  render() {
    const { trip, line } = this;
    if (!trip || !line) return nothing;
    return html`
      ${line.price ? html`<p>Packed as ${money(trip, line.price.cents)}.</p>` : nothing}
      <p role="status">${this.breakEven === null
        ? nothing
        : html`Buying as planned is right up to <b>${money(trip, this.breakEven)}</b>.`}</p>
      ${moneyEntry(trip, {
        label: 'The tag shows',
        button: 'Note the price',
        mend: this.mend,
        extra: line.price?.deal
          ? html`<label class="tick"><input type="checkbox" name="without-deal"> The deal on the tag is gone</label>`
          : nothing,
        take: (cents, form) => this.report([{
          kind: 'price_seen', store: line.store, product: line.product, cents,
          without_deal: new FormData(form).has('without-deal'),
        }]),
        refuse: (mend) => { this.mend = mend; },
      })}`;
  }
}

customElements.define('tag-price', TagPrice);
