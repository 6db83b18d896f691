/**
 * The sheet of one line: all that may have happened there, so that the tap that opens it and one more note
 * it. An empty shelf alone is asked about by itself: its swaps are ranked for the whole trip.
 */

import { html, nothing } from 'lit';
import { Sheet } from '../phone/page-element.js';
import { money } from '../phone/report-words.js';
import './another-kind.js';
import './coupons-at-hand.js';
import './empty-shelf.js';
import './how-many.js';
import './tag-price.js';
import { limitsOf } from './line-words.js';

/** @import { Event as Noted, Plan, Report, Trip } from '../engine/types.js' */
/** @import { Standing } from '../phone/fold.js' */
/** @import { AisleLine } from '../phone/lines.js' */
/** @import { TripInHand } from '../phone/trip-in-hand.js' */

/** @typedef {'all' | 'empty'} View */

/** After these, more of the same is likely: the sheet stays open. @param {Report} what */
const isCount = (what) => what.kind === 'in_trolley' || (what.kind === 'need_changed' && what.welcome > 0);

export class LineSheet extends Sheet {
  static properties = {
    ...Sheet.properties,
    trip: {}, plan: {}, standing: {}, line: {}, inHand: {}, view: { state: true },
  };

  constructor() {
    super();
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {Plan | null} */
    this.plan = null;
    /** @type {Standing | null} */
    this.standing = null;
    /** @type {AisleLine | undefined} */
    this.line = undefined;
    /** @type {TripInHand | null} */
    this.inHand = null;
    /** @type {View} */
    this.view = 'all';
    this.addEventListener('report', (event) => {
      const { detail } = /** @type {CustomEvent<Report[]>} */ (event);
      if (!detail.every(isCount)) this.close();
    });
    this.addEventListener('take-back', () => this.close());
  }

  /** @param {Map<string, unknown>} changed */
  willUpdate(changed) {
    if (changed.has('line')) this.heading = this.line?.details.description ?? '';
  }

  updated() {
    // The replan took the line away.
    if (!this.line) this.close();
  }

  /** @param {View} view */
  async showView(view) {
    this.view = view;
    await this.show();
  }

  content() {
    const { trip, line, plan, standing, inHand } = this;
    if (!trip || !line) return nothing;
    if (this.view === 'empty') {
      return html`<empty-shelf .trip=${trip} .line=${line} .inHand=${inHand}></empty-shelf>`;
    }
    return html`
      ${line.placeNote ? html`<p>${line.placeNote}</p>` : nothing}
      ${line.price ? html`<p>On the tag: <b>${money(trip, line.seenCents ?? line.price.cents)}</b></p>` : nothing}
      ${limitsOf(trip, line).map((words) => html`<p class="small">${words}</p>`)}
      ${line.planned > 0 || line.inTrolley > 0 ? this.#count(line) : nothing}
      ${this.#choices(line)}
      ${part('price', 'The tag shows another price', html`<tag-price .trip=${trip} .line=${line} .inHand=${inHand}></tag-price>`)}
      ${part('coupons', 'A coupon is not at hand, or there is one more', html`
        <coupons-at-hand .trip=${trip} .plan=${plan} .line=${line}></coupons-at-hand>`)}
      ${line.want ? part('count', 'How many to buy', html`
        <how-many .trip=${trip} .plan=${plan} .line=${line} .standing=${standing} .inHand=${inHand}></how-many>`) : nothing}
      ${line.want ? part('kind', 'Another kind or size is here', html`
        <another-kind .trip=${trip} .line=${line}></another-kind>`) : nothing}`;
  }

  /** What takes one tap more and nothing else. @param {AisleLine} line */
  #choices(line) {
    const emptied = this.#emptied(line);
    const left = this.#left(line);
    return html`
      <div class="choices pair">
        ${line.toFind > 0
          ? html`<button class="choice" @click=${() => { this.view = 'empty'; }}>Shelf empty</button>` : nothing}
        ${line.want && line.toFind > 0
          ? html`<button class="choice" @click=${() => this.#leave(line)}>Leave it</button>` : nothing}
        ${emptied.length > 0
          ? html`<button class="choice" @click=${() => this.#takeBack(emptied)}>It is on the shelf after all</button>` : nothing}
        ${left.length > 0
          ? html`<button class="choice" @click=${() => this.#takeBack(left)}>Do not leave it after all</button>` : nothing}
      </div>`;
  }

  /** @param {AisleLine} line */
  #count(line) {
    const most = line.inTrolley + line.toFind;
    return html`
      <div class="stepper" role="group" aria-label="Units in the trolley">
        <button aria-label="Put one back" ?disabled=${line.inTrolley === 0} @click=${() => this.#put(line, -1)}>−</button>
        <output>${line.inTrolley} of ${most} in the trolley</output>
        <button aria-label="One more in the trolley" @click=${() => this.#put(line, 1)}>+</button>
      </div>`;
  }

  /** @param {AisleLine} line @param {number} units */
  #put({ store, product }, units) {
    this.report([{ kind: 'in_trolley', store, product, units }]);
  }

  /** @param {AisleLine} line */
  #leave(line) {
    this.report([{ kind: 'need_changed', want: line.want, need: 0, welcome: 0 }]);
  }

  /** @param {Noted[]} events */
  #takeBack(events) {
    this.dispatchEvent(new CustomEvent('take-back', { detail: events, bubbles: true }));
  }

  /** The standing reports that emptied this shelf. @param {AisleLine} line @returns {Noted[]} */
  #emptied(line) {
    return (this.inHand?.standingEvents ?? []).filter(({ what }) =>
      (what.kind === 'shelf_empty' || what.kind === 'rain_check_taken') && what.store === line.store && what.product === line.product);
  }

  /** The standing reports that left this want. @param {AisleLine} line @returns {Noted[]} */
  #left(line) {
    return (this.inHand?.standingEvents ?? []).filter(({ what }) =>
      what.kind === 'need_changed' && what.want === line.want && what.need === 0 && what.welcome === 0);
  }
}

/** @param {string} name @param {string} heading @param {unknown} content */
const part = (name, heading, content) => html`
  <section class="part" aria-labelledby="part-${name}"><h3 id="part-${name}">${heading}</h3>${content}</section>`;

customElements.define('line-sheet', LineSheet);
