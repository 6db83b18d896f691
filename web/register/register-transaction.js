/** One transaction at the register, step by step in the order in which things are done there. */

import { html, nothing } from 'lit';
import { painted } from '../phone/frames.js';
import { PageElement } from '../phone/page-element.js';
import { counted, money, productName, storeName } from '../phone/report-words.js';
import { couponToHand } from './coupon-to-hand.js';
import { Awake, tick } from './awake.js';
import { accountFirst, doneReports, notInTrolley, slipWords } from './checkout.js';
import { tenderWords } from './tender-words.js';

/** @import { Plan, PlannedTransaction, Transaction, Trip } from '../engine/types.js' */
/** @import { Standing } from '../phone/fold.js' */
/** @import { Paid } from './other-total.js' */

class RegisterTransaction extends PageElement {
  static properties = {
    trip: {}, plan: {}, standing: {}, planned: {}, of: {}, waiting: { type: Boolean }, missing: { state: true },
  };

  constructor() {
    super();
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {Plan | null} */
    this.plan = null;
    /** @type {Standing | null} */
    this.standing = null;
    /** @type {PlannedTransaction | null} */
    this.planned = null;
    this.of = 1;
    this.waiting = false;
    /** @type {Set<string>} rewards that did not come out */
    this.missing = new Set();
    this.awake = new Awake();
  }

  connectedCallback() {
    super.connectedCallback();
    this.awake.hold();
  }

  disconnectedCallback() {
    super.disconnectedCallback();
    this.awake.release();
  }

  /** The sheet comes after the transaction is painted, and is there before a thumb is. */
  firstUpdated() {
    void painted().then(sheet);
  }

  render() {
    const { trip, planned } = this;
    if (!trip || !planned) return nothing;
    const { receipt } = planned;
    const total = money(trip, receipt.total_cents);
    return html`
      <section class="till" aria-labelledby="till-heading">
        <div class="store-head">
          <h2 id="till-heading">${storeName(trip, planned.store)}</h2>
          <p>transaction ${planned.number} of ${this.of}</p>
        </div>
        ${this.#stillToFind(trip, planned)}
        <ol class="steps">
          ${accountFirst(planned) ? html`
            <li><h3>The account first</h3>
              <p>Give the loyalty account before anything is scanned: offers and rewards hang on it.</p></li>` : nothing}
          <li><h3>On the belt, in this order</h3>${this.#belt(trip, planned)}</li>
          ${planned.hand_over.length > 0 ? html`
            <li><h3>Hand over ${counted(planned.hand_over.length, 'coupon')}, in this order</h3>
              <ol class="coupons" @change=${tick}>
                ${planned.hand_over.map((coupon, i) => html`<li>${couponToHand(trip, planned, coupon, i)}</li>`)}
              </ol></li>` : nothing}
          <li><h3>The register must show</h3>
            <p class="must-show">${total}</p>
            ${receipt.tax_cents ? html`<p>${money(trip, receipt.tax_cents)} of it is tax. Local law and the printed receipt decide about tax.</p>` : nothing}</li>
          <li><h3>Pay with</h3>
            <ul class="plainlist tenders">
              ${receipt.tenders.map((tender) => html`
                <li><span>${tenderWords(trip, tender)}</span> <b>${money(trip, tender.cents)}</b></li>`)}
              ${receipt.tenders.length === 0 ? html`<li>Nothing is due.</li>` : nothing}
            </ul></li>
          ${receipt.earned.length > 0 ? html`<li><h3>Must come back</h3>${this.#prints(trip, planned)}</li>` : nothing}
        </ol>
        <div class="till-buttons">
          <button class="go wide" ?disabled=${this.waiting} @click=${() => this.#done(receipt.total_cents, planned.transaction)}>It shows ${total}: done</button>
          <button class="plain wide" ?disabled=${this.waiting} @click=${this.#other}>It shows another total</button>
        </div>
        <p class="small">A coupon is for the product, size and date printed on it, and the store may decide
          otherwise. Expired or copied coupons are fraud.</p>
        <other-total .trip=${trip} .planned=${planned}
          @shown=${(/** @type {CustomEvent<Paid>} */ { detail }) => this.#done(detail.cents, detail.transaction)}></other-total>
      </section>`;
  }

  /** @param {Trip} trip @param {PlannedTransaction} planned */
  #belt(trip, { transaction }) {
    return html`
      <ol class="belt">
        ${transaction.lines.map((line) => html`
          <li><span class="times">${line.units} ×</span> ${productName(trip, line.product)}
            ${line.rain_check ? html`<span class="small">with the rain check</span>` : nothing}</li>`)}
      </ol>`;
  }

  /** @param {Trip} trip @param {PlannedTransaction} planned */
  #prints(trip, planned) {
    const { receipt } = planned;
    return html`
      <ul class="plainlist">
        ${receipt.earned.map((earned) => html`
          <li><label class="tick">
            <input type="checkbox" .checked=${!this.missing.has(earned.offer)}
              @change=${(/** @type {Event} */ event) => this.#cameOut(earned.offer, event)}>
            <span><b>${money(trip, earned.cents)}</b> ${earned.times > 1 ? `(${earned.times} × ${money(trip, earned.each_cents)}) ` : ''}
              ${rewardName(trip, earned.offer)}
              <span class="small">${earned.kind === 'slip' ? slipWords(planned, earned) : earned.kind === 'gift_card' ? 'gift card' : 'points'};
                take the tick away if it does not come out</span></span>
          </label></li>`)}
      </ul>`;
  }

  /** @param {Trip} trip @param {PlannedTransaction} planned */
  #stillToFind(trip, planned) {
    if (!this.plan || !this.standing) return nothing;
    const open = notInTrolley(this.plan, this.standing, planned.store);
    if (open.length === 0) return nothing;
    return html`
      <div class="note">
        <p>Not in the trolley yet:</p>
        <ul>${open.map(({ product, units }) => html`<li>${units} × ${productName(trip, product)}</li>`)}</ul>
        <p><a href="#/aisle">Back to the Aisle</a> to find or leave them; the totals here count them in.</p>
      </div>`;
  }

  /** @param {string} offer @param {Event} event */
  #cameOut(offer, event) {
    const missing = new Set(this.missing);
    if (/** @type {HTMLInputElement} */ (event.target).checked) missing.delete(offer);
    else missing.add(offer);
    this.missing = missing;
  }

  async #other() {
    await sheet();
    await /** @type {import('./other-total.js').OtherTotal | null} */ (this.querySelector('other-total'))?.ask();
  }

  /** @param {number} shownTotalCents @param {Transaction} transaction as it really went */
  #done(shownTotalCents, transaction) {
    tick();
    this.report(doneReports(transaction, shownTotalCents, this.missing));
  }
}

/** The sheet's own module, which brings the register's arithmetic with it. */
const sheet = () => import('./other-total.js');

/** @param {Trip} trip @param {string} offer */
const rewardName = (trip, offer) => trip.rewards?.find((reward) => reward.id === offer)?.description ?? offer;

customElements.define('register-transaction', RegisterTransaction);
