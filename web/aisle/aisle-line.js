/**
 * One line of the Aisle: a ticket with its money on the left and, past the perforation, the stub that is
 * tapped when the units lie in the trolley; beneath it a small one for when there are none.
 */

import { html, nothing } from 'lit';
import { PageElement } from '../phone/page-element.js';
import { money } from '../phone/report-words.js';
import { shapeOf } from '../phone/shapes.js';
import { breakEvenWords, countWords, limitsOf, netWords, pullWords, stacksOf, trolleysWords, verdictWords } from './line-words.js';

/** @import { Trip } from '../engine/types.js' */
/** @import { AisleLine } from '../phone/lines.js' */

class AisleLineElement extends PageElement {
  static properties = { trip: {}, line: {}, upTo: {}, device: {} };

  constructor() {
    super();
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {AisleLine | null} */
    this.line = null;
    /** @type {number | null | undefined} the highest tag at which buying is still right, undefined while unknown */
    this.upTo = undefined;
    this.device = '';
  }

  render() {
    const { trip, line } = this;
    if (!trip || !line) return nothing;
    const units = line.planned || line.inTrolley || line.bought;
    return html`
      <article class="ticket" data-state=${line.state}>
        <div class="ticket-body">
          <h4>
            <button class="ticket-name" aria-haspopup="dialog" @click=${this.#more}>
              ${units > 0 ? html`<span class="times">${units} ×</span>` : nothing} ${line.details.description}
            </button>
          </h4>
          ${line.placeNote ? html`<p class="place-note">${line.placeNote}</p>` : nothing}
          ${trolleysWords(line, this.device) ? html`<p class="two-trolleys">${trolleysWords(line, this.device)}</p>` : nothing}
          ${line.state === 'bought' ? nothing : this.#money(trip, line)}
        </div>
        ${this.#stub(line)}
      </article>`;
  }

  /** @param {Trip} trip @param {AisleLine} line */
  #money(trip, line) {
    return html`
      ${stacksOf(trip, line).map(({ times, sum, parts }) => html`
        <p class="stack">${times > 1 ? html`<span class="times">${times} ×</span> ` : nothing}${sum}
          ${parts ? html`<span class="small">${parts}</span>` : nothing}</p>`)}
      ${line.deals.map((deal) => html`
        <p class="net"><b>${money(trip, deal.net_cents)}</b> <span>${netWords(trip, deal)}</span></p>
        ${deal.unit_price
          ? html`<p class="verdict" data-verdict=${deal.verdict}>${verdictWords(deal)}</p>`
          : nothing}`)}
      ${pullWords(trip, line).map((words) => html`<p class="pull">${words}</p>`)}
      ${line.state === 'to find' ? html`<p class="limits">${[...breakEvenWords(trip, line, this.upTo), ...limitsOf(trip, line)].join(' · ')}</p>` : nothing}
      ${line.seenCents !== undefined ? html`<p class="place-note">the tag showed ${money(trip, line.seenCents)}</p>` : nothing}`;
  }

  /** @param {AisleLine} line */
  #stub(line) {
    const takes = line.state === 'to find';
    return html`
      <div class="ticket-stubs">
        <button class="ticket-stub" @click=${takes ? this.#take : this.#more}
          aria-haspopup=${takes ? nothing : 'dialog'}>
          ${shapeOf(line.state)}
          <span class="stub-word">${line.state}</span>
          <span class="stub-count">${takes && line.inTrolley === 0 ? `take ${line.toFind}` : countWords(line)}</span>
          <span class="unseen">${line.details.description}</span>
        </button>
        ${takes ? html`
          <button class="stub-none" aria-haspopup="dialog" @click=${this.#empty}>
            <b>shelf empty</b> <span class="unseen">${line.details.description}</span>
          </button>` : nothing}
      </div>`;
  }

  #take() {
    const { line } = this;
    if (!line) return;
    this.report([{ kind: 'in_trolley', store: line.store, product: line.product, units: line.toFind }]);
  }

  #empty() {
    this.dispatchEvent(new CustomEvent('empty'));
  }

  #more() {
    this.dispatchEvent(new CustomEvent('more'));
  }
}

customElements.define('aisle-line', AisleLineElement);
