/** The sheet of one line: what may have happened there, each at most two taps away. */

import { html, nothing } from 'lit';
import { Sheet } from '../phone/page-element.js';
import { money } from '../phone/report-words.js';
import './another-kind.js';
import './coupons-at-hand.js';
import './empty-shelf.js';
import './how-many.js';
import './tag-price.js';
import { limitsOf } from './line-words.js';

/** @import { Event as Noted, Plan, Trip } from '../engine/types.js' */
/** @import { Standing } from '../phone/fold.js' */
/** @import { AisleLine } from '../phone/lines.js' */
/** @import { TripInHand } from '../phone/trip-in-hand.js' */

/** @typedef {'menu' | 'empty' | 'price' | 'another' | 'coupons' | 'how many'} View */

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
    this.view = 'menu';
    this.addEventListener('report', () => this.close());
    this.addEventListener('take-back', () => this.close());
  }

  /** @param {Map<string, unknown>} changed */
  willUpdate(changed) {
    if (changed.has('line')) this.heading = this.line?.details.description ?? '';
  }

  async showMenu() {
    this.view = 'menu';
    await this.show();
  }

  content() {
    const { trip, line, view } = this;
    if (!trip || !line) return nothing;
    switch (view) {
      case 'menu':
        return this.#menu(trip, line);
      case 'empty':
        return html`<empty-shelf .trip=${trip} .line=${line} .inHand=${this.inHand}></empty-shelf>`;
      case 'price':
        return html`<tag-price .trip=${trip} .line=${line} .inHand=${this.inHand}></tag-price>`;
      case 'coupons':
        return html`<coupons-at-hand .trip=${trip} .plan=${this.plan} .line=${line}></coupons-at-hand>`;
      case 'another':
        return html`<another-kind .trip=${trip} .line=${line}></another-kind>`;
      case 'how many':
        return html`<how-many .trip=${trip} .plan=${this.plan} .line=${line} .standing=${this.standing}
          .inHand=${this.inHand}></how-many>`;
    }
  }

  /** @param {Trip} trip @param {AisleLine} line */
  #menu(trip, line) {
    const emptied = this.#emptied(line);
    const left = this.#left(line);
    return html`
      ${line.placeNote ? html`<p>${line.placeNote}</p>` : nothing}
      ${line.price ? html`<p>On the tag: <b>${money(trip, line.seenCents ?? line.price.cents)}</b></p>` : nothing}
      ${limitsOf(trip, line).map((words) => html`<p class="small">${words}</p>`)}
      ${line.planned > 0 || line.inTrolley > 0 ? this.#count(line) : nothing}
      <div class="choices">
        ${line.toFind > 0 ? this.#choice('Shelf empty', 'empty') : nothing}
        ${this.#choice('The tag shows another price', 'price')}
        ${line.want ? this.#choice('Another kind or size is here', 'another') : nothing}
        ${this.#choice('A coupon is not at hand, or there is one more', 'coupons')}
        ${line.want ? this.#choice('How many to buy', 'how many') : nothing}
        ${line.want && line.toFind > 0
          ? html`<button class="choice" @click=${() => this.#leave(line)}>Leave it</button>`
          : nothing}
        ${emptied.length > 0
          ? html`<button class="choice" @click=${() => this.#takeBack(emptied)}>It is on the shelf after all</button>`
          : nothing}
        ${left.length > 0
          ? html`<button class="choice" @click=${() => this.#takeBack(left)}>Do not leave it after all</button>`
          : nothing}
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

  /** @param {string} words @param {View} view */
  #choice(words, view) {
    return html`<button class="choice" @click=${() => { this.view = view; }}>${words}</button>`;
  }

  /** Stays open: counting on is likely. @param {AisleLine} line @param {number} units */
  #put(line, units) {
    /** @type {import('../engine/types.js').Report} */
    const what = { kind: 'in_trolley', store: line.store, product: line.product, units };
    this.parentElement?.dispatchEvent(new CustomEvent('report', { detail: [what], bubbles: true }));
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

customElements.define('line-sheet', LineSheet);
