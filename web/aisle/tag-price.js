/** The tag shows another price than the one packed: enter it, see how far buying is right. */

import { html, nothing } from 'lit';
import { EngineAnswer } from '../phone/engine-answer.js';
import { moneyEntry } from '../phone/money-entry.js';
import { PageElement } from '../phone/page-element.js';
import { money } from '../phone/report-words.js';
import { breakEvenWords } from './line-words.js';

/** @import { Trip } from '../engine/types.js' */
/** @import { AisleLine } from '../phone/lines.js' */
/** @import { TripInHand } from '../phone/trip-in-hand.js' */

class TagPrice extends PageElement {
  static properties = { trip: {}, line: {}, inHand: {}, mend: { state: true } };

  constructor() {
    super();
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {AisleLine | null} */
    this.line = null;
    /** @type {TripInHand | null} */
    this.inHand = null;
    /** @type {EngineAnswer<number | null>} the highest tag at which buying is still right; null where there is none */
    this.breakEven = new EngineAnswer(this, (inHand) => inHand.breakEven(this.line?.store ?? '', this.line?.product ?? ''));
    this.mend = '';
  }

  render() {
    const { trip, line } = this;
    if (!trip || !line) return nothing;
    return html`
      <p>${line.price ? `Packed as ${money(trip, line.price.cents)}.` : nothing}
        <span role="status">${breakEvenWords(trip, line, this.breakEven.value)
          .map((words) => `Buying as planned is ${words}.`)}</span></p>
      ${moneyEntry(trip, {
        name: 'price',
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
