/** An empty shelf: what to do about it, best first, each with what it does to the whole trip. */

import { html, nothing } from 'lit';
import './rain-check.js';
import { EngineAnswer } from '../phone/engine-answer.js';
import { ghosts } from '../phone/ghosts.js';
import { PageElement } from '../phone/page-element.js';
import { money, productName, storeName } from '../phone/report-words.js';

/** @import { Swap, Trip } from '../engine/types.js' */
/** @import { AisleLine } from '../phone/lines.js' */
/** @import { TripInHand } from '../phone/trip-in-hand.js' */

class EmptyShelf extends PageElement {
  static properties = { trip: {}, line: {}, inHand: {} };

  constructor() {
    super();
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {AisleLine | null} */
    this.line = null;
    /** @type {TripInHand | null} */
    this.inHand = null;
    /** @type {EngineAnswer<Swap[]>} */
    this.swaps = new EngineAnswer(this, (inHand) => inHand.swaps(this.line?.store ?? '', this.line?.product ?? ''));
  }

  render() {
    const { trip, line } = this;
    if (!trip || !line) return nothing;
    if (this.swaps.trouble) {
      return html`
        <p>The swaps could not be worked out. The empty shelf can still be noted.</p>
        <div class="choices"><button class="choice" @click=${() => this.report([emptied(line)])}>Note the empty shelf</button></div>`;
    }
    if (!this.swaps.value) return ghosts(3, 'Working out what to do instead');
    return html`
      <p>Shelf empty. What it does to the net cost of the whole trip:</p>
      <ol class="choices">
        ${inOrder(this.swaps.value).map((swap) => html`
          <li>
            <button class="choice swap" data-action=${swap.action} @click=${() => this.report(swap.reports)}>
              <span class="swap-action">${actionWords(trip, swap)}</span>
              <span class="swap-words">${swap.product === null
                ? 'Do without it on this trip'
                : `${swap.units} × ${productName(trip, swap.product)}`}</span>
              <b class="swap-net">${netChange(trip, swap.net_change_cents)}</b>
            </button>
          </li>`)}
        <li><rain-check .trip=${trip} .line=${line}></rain-check></li>
      </ol>`;
  }
}

/**
 * As ranked, but what brings the thing home before "leave it": without a stock-up price, going
 * without always costs least.
 * @param {Swap[]} swaps
 */
const inOrder = (swaps) => [
  ...swaps.filter(({ action }) => action !== 'leave'),
  ...swaps.filter(({ action }) => action === 'leave'),
];

/** What she would do. @param {Trip} trip @param {Swap} swap */
function actionWords(trip, { action, store }) {
  switch (action) {
    case 'swap':
      return 'Take instead, here';
    case 'elsewhere':
      return `Get it at ${storeName(trip, store ?? '')}`;
    case 'leave':
      return 'Leave it';
  }
}

/** @param {Trip} trip @param {number} cents */
function netChange(trip, cents) {
  if (cents === 0) return 'net stays';
  return cents > 0 ? `net ${money(trip, cents)} more` : `net ${money(trip, -cents)} less`;
}

/** @param {AisleLine} line @returns {import('../engine/types.js').Report} */
const emptied = ({ store, product }) => ({ kind: 'shelf_empty', store, product });

customElements.define('empty-shelf', EmptyShelf);
