/** The sheet for something unplanned: is it a deal, and into the trolley with it. */

import { html, nothing } from 'lit';
import { moneyEntry } from '../phone/money-entry.js';
import { Sheet } from '../phone/page-element.js';
import { money, wantName } from '../phone/report-words.js';
import { NotMoney, parse } from '../engine/money.js';
import { checkDeal } from './deal-check.js';

/** @import { Coupon, Product, Report, Store, Trip } from '../engine/types.js' */
/** @import { DealChecked } from './deal-check.js' */

/** @typedef {DealChecked & {cents: number, product: Product, isNew: boolean, peeled: Coupon | null, want: string}} Answer */

export class DealSheet extends Sheet {
  static properties = {
    ...Sheet.properties,
    trip: {}, store: {}, product: { state: true }, want: { state: true }, mend: { state: true }, answer: { state: true },
  };

  constructor() {
    super();
    this.heading = 'Is this a deal?';
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {Store | null} */
    this.store = null;
    /** Id of the product, '' for one that nobody wrote down. */
    this.product = '';
    /** Id of the want whose stock-up price it is held against, '' for none. */
    this.want = '';
    this.mend = '';
    /** @type {Answer | null} */
    this.answer = null;
    this.addEventListener('report', () => this.close());
  }

  async ask() {
    this.product = '';
    this.want = '';
    this.mend = '';
    this.answer = null;
    await this.show();
  }

  /** @param {Map<string, unknown>} changed */
  updated(changed) {
    if (changed.has('answer') && this.answer) this.seeAnswer();
  }

  content() {
    const { trip, store, answer } = this;
    if (!trip || !store) return nothing;
    const per = this.#stockUp(trip)?.per ?? '';
    return html`
      <label class="field">What is it
        <select name="product" .value=${this.product} @change=${this.#pickProduct}>
          <option value="">Something that is not on the trip</option>
          ${trip.products.map((product) => html`<option value=${product.id}>${product.description}</option>`)}
        </select></label>
      <label class="field">Compare with your price for
        <select name="want" .value=${this.want} @change=${this.#pickWant}>
          <option value="">nothing in the price book</option>
          ${(trip.wants ?? []).filter((want) => want.stock_up).map((want) => html`
            <option value=${want.id} ?selected=${want.id === this.want}>${wantName(trip, want.id)}</option>`)}
        </select></label>
      ${moneyEntry(trip, {
        name: 'deal',
        label: 'The tag shows',
        button: 'Is it?',
        mend: this.mend,
        extra: html`
          ${this.product === '' ? html`
            <label class="field">Call it <input name="description" maxlength="200"></label>
            ${per ? html`<label class="field">How much is in it, in ${per} <input name="size" inputmode="decimal"></label>` : nothing}` : nothing}
          ${this.#couponsFor(trip, store).map((coupon) => html`
            <label class="tick"><input type="checkbox" name="coupon" value=${coupon.id}> ${coupon.description}</label>`)}
          <label class="field">Another coupon takes off one <input name="peeled" inputmode="decimal"></label>`,
        take: (cents, form) => this.#check(trip, store, cents, new FormData(form)),
        refuse: (mend) => { this.mend = mend; this.answer = null; },
      })}
      <div class="answer" role="status">${answer ? this.#verdict(trip, store, answer) : nothing}</div>`;
  }

  /** @param {Trip} trip @param {Store} store @param {Answer} answer */
  #verdict(trip, store, answer) {
    if (answer.refused) return html`<p class="note">The register would not take it so: ${answer.refused}</p>`;
    return html`
      <p class="verdict deal" data-verdict=${answer.verdict || 'no stock-up price'}>${answer.words}</p>
      <button class="go wide" @click=${() => this.report(this.#reports(trip, store, answer))}>
        ${answer.units > 1 ? `${answer.units} into the trolley` : 'Into the trolley'}</button>`;
  }

  /** @param {Event} event */
  #pickProduct(event) {
    this.product = /** @type {HTMLSelectElement} */ (event.target).value;
    this.want = this.trip?.wants?.find((want) => want.stock_up && want.products.includes(this.product))?.id ?? this.want;
    this.answer = null;
  }

  /** @param {Event} event */
  #pickWant(event) {
    this.want = /** @type {HTMLSelectElement} */ (event.target).value;
    this.answer = null;
  }

  /** @param {Trip} trip */
  #stockUp(trip) {
    return trip.wants?.find((want) => want.id === this.want)?.stock_up ?? null;
  }

  /** Coupons at hand that name the product and nothing else. @param {Trip} trip @param {Store} store */
  #couponsFor(trip, store) {
    return (trip.coupons ?? []).filter((coupon) =>
      (coupon.copies ?? 1) > 0
      && (!coupon.stores?.length || coupon.stores.includes(store.id))
      && coupon.asks.every((asks) => asks.products?.includes(this.product)));
  }

  /** @param {Trip} trip @param {Store} store @param {number} cents @param {FormData} said */
  #check(trip, store, cents, said) {
    this.mend = '';
    const known = trip.products.find((each) => each.id === this.product);
    const product = known ?? unwritten(said, this.#stockUp(trip)?.per ?? '');
    const picked = said.getAll('coupon').map(String);
    const coupons = (trip.coupons ?? []).filter((coupon) => picked.includes(coupon.id));
    try {
      const peeled = peeledOff(trip, product, String(said.get('peeled') ?? ''));
      const all = peeled ? [...coupons, peeled] : coupons;
      const checked = checkDeal(trip, store, product, cents, all, this.#stockUp(trip));
      this.answer = { ...checked, cents, product, isNew: known === undefined, peeled, want: this.want };
    } catch (error) {
      if (!(error instanceof NotMoney)) throw error;
      this.mend = `The coupon: ${error.mend}.`;
      this.answer = null;
    }
  }

  /** @param {Trip} trip @param {Store} store @param {Answer} answer @returns {Report[]} */
  #reports(trip, store, { product, cents, units, isNew, peeled, want }) {
    const tag = trip.prices.find((each) => each.store === store.id && each.product === product.id);
    /** @type {Report[]} */
    const reports = [];
    if (isNew || tag?.cents !== cents) {
      reports.push({
        kind: 'found', want: want || `unplanned.${product.id}`.slice(0, 80), store: store.id, product: product.id, cents,
        product_data: isNew ? product : null,
      });
    }
    if (peeled) reports.push({ kind: 'coupon_found', coupon: { ...peeled, copies: units } });
    return [...reports, { kind: 'in_trolley', store: store.id, product: product.id, units }];
  }
}

/** What the shopper says of a product that nobody wrote down. @param {FormData} said @param {string} per @returns {Product} */
function unwritten(said, per) {
  const amount = String(said.get('size') ?? '').trim();
  return {
    id: `found-${crypto.randomUUID()}`,
    description: String(said.get('description') ?? '').trim() || 'Something unplanned',
    ...(per && /^[0-9]+([.][0-9]+)?$/.test(amount) ? { size: { amount, unit: per } } : {}),
  };
}

/**
 * The coupon that she holds in her hand, or null. Throws `NotMoney`.
 * @param {Trip} trip @param {Product} product @param {string} value
 * @returns {Coupon | null}
 */
function peeledOff(trip, product, value) {
  if (value.trim() === '') return null;
  const cents = parse(value.replace(',', '.'), trip.currency, trip.exponent);
  if (cents === 0) return null;
  return {
    id: `peeled-${cents}-${product.id}`.slice(0, 80),
    description: `${money(trip, cents)} off one ${product.description}`,
    issuer: 'manufacturer', form: 'on_package',
    gives: { kind: 'cents_off', cents },
    asks: [{ products: [product.id] }],
  };
}

customElements.define('deal-sheet', DealSheet);
