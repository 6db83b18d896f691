/** My trip: the stores, deals and coupons as they are for her, and what that changes against the published plan. */

import { html, nothing } from 'lit';
import { totalsChanged, whatChanged } from '../phone/changes.js';
import { PageElement } from '../phone/page-element.js';
import { herCoupons } from './her-coupons.js';
import { herDeals } from './her-deals.js';
import { herStores } from './her-stores.js';
import { isChanged, nothingOfHers } from './her-trip.js';

/** @import { Plan, Trip } from '../engine/types.js' */
/** @import { Standing } from '../phone/fold.js' */
/** @import { Replanning } from '../phone/trip-in-hand.js' */
/** @import { Mine } from './her-trip.js' */
/** @import { PublishedTrip } from './reader-store.js' */

/** Sentences of change that are shown unasked. */
const AT_ONCE = 3;

/**
 * What the parts of the screen work with.
 * @typedef {object} Part
 * @property {Trip} published
 * @property {Trip} trip hers
 * @property {Plan | null} plan of hers, null while it is worked out
 * @property {Mine} mine
 * @property {(mine: Mine) => void} change
 * @property {(field: HTMLInputElement, mend: string) => void} refuse says below a field what is wrong with it; '' for nothing
 */

class MineScreen extends PageElement {
  static properties = { published: {}, mine: {}, trip: {}, plan: {}, standing: {}, replanning: {} };

  constructor() {
    super();
    /** @type {PublishedTrip | null} */
    this.published = null;
    /** @type {Mine | null} */
    this.mine = null;
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {Plan | null} */
    this.plan = null;
    /** @type {Standing | null} */
    this.standing = null;
    /** @type {Replanning} */
    this.replanning = 'initial';
  }

  render() {
    const { published, mine, trip, plan } = this;
    if (!published || !mine || !trip) return nothing;
    /** @type {Part} */
    const part = { published: published.trip, trip, plan, mine, change: (next) => this.#change(next), refuse };
    return html`
      ${this.#changes(published, trip)}
      ${herStores(part)}
      ${herDeals(part)}
      ${herCoupons(part)}
      <p class="small">What you enter stays on this phone. A coupon is for the product, size and dates printed on it, and
        the store may decide otherwise; expired or copied coupons are fraud. Tax follows local law; the printed receipt decides.</p>
      ${isChanged(mine) ? html`
        <button class="plain wide" @click=${() => this.#change({ ...nothingOfHers(), version: mine.version })}>
          Put everything back as published</button>` : nothing}`;
  }

  /** @param {PublishedTrip} published @param {Trip} trip */
  #changes(published, trip) {
    const { mine, plan, standing } = this;
    if (!mine || !standing) return nothing;
    // What she entered a moment ago is on its way to the trip.
    const replanning = mine.version === (trip.version ?? 1) ? this.replanning : 'pending';
    const words = replanning === 'complete' ? this.#words(published, trip) : [];
    return html`
      <section class="store" aria-labelledby="changes">
        <div class="store-head"><h2 id="changes">Against the published plan</h2></div>
        <div role="status" aria-busy=${replanning === 'pending'} data-replanning=${replanning}>
          ${replanning === 'error' ? html`<p class="alert">The plan could not be worked out. Reload the page; what you entered is kept.</p>` : nothing}
          ${replanning === 'pending' || !plan ? html`<p class="ghost-words">Working out your plan</p>` : html`
            ${words.slice(0, AT_ONCE).map((sentence) => html`<p>${sentence}</p>`)}
            ${words.length > AT_ONCE ? html`
              <details><summary>${words.length - AT_ONCE} more</summary>
                <ul>${words.slice(AT_ONCE).map((sentence) => html`<li>${sentence}</li>`)}</ul></details>` : nothing}
            ${words.length === 0 ? html`<p>${isChanged(mine)
              ? 'What you entered changes nothing in the plan.'
              : 'As published. Say below what is different for you; the plan follows at once.'}</p>` : nothing}
            <p class="small">${plan.proof.words}</p>`}
        </div>
        ${plan?.unmet.map(({ want, missing, because }) => html`
          <p class="note">${missing} × ${trip.wants?.find((other) => other.id === want)?.name || want}: not to be had. ${because}.</p>`)}
      </section>`;
  }

  /** @param {PublishedTrip} published @param {Trip} trip */
  #words(published, trip) {
    const { plan, standing } = this;
    if (!plan || !standing) return [];
    return [
      ...totalsChanged(trip, published.plan, plan),
      // Names of stores that she left out are only in the published trip.
      ...whatChanged({ ...trip, stores: published.trip.stores }, published.plan, plan, standing),
    ];
  }

  /** @param {Mine} next */
  #change(next) {
    this.dispatchEvent(new CustomEvent('mine', { detail: next, bubbles: true }));
  }
}

/** @param {HTMLInputElement} field @param {string} mend */
function refuse(field, mend) {
  field.setAttribute('aria-invalid', String(mend !== ''));
  const words = document.getElementById(`${field.id}-mend`);
  if (words) words.textContent = mend;
}

customElements.define('mine-screen', MineScreen);
