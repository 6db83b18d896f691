/**
 * Another variant or size stands here: one that the trip knows, or one that nobody wrote down, by the
 * barcode on it. Its price is noted, and the planner says whether it is the better one.
 */

import { html, nothing } from 'lit';
import { unitWord } from '../engine/measure.js';
import '../phone/barcode-entry.js';
import { moneyEntry } from '../phone/money-entry.js';
import { PageElement } from '../phone/page-element.js';
import { money } from '../phone/report-words.js';

/** @import { Product, Trip } from '../engine/types.js' */
/** @import { AisleLine } from '../phone/lines.js' */

/** How many of the trip's products are offered; the others are found by their barcode. */
const OFFERED = 8;

class AnotherKind extends PageElement {
  static properties = { trip: {}, line: {}, chosen: { state: true }, byCode: { state: true }, mend: { state: true } };

  constructor() {
    super();
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {AisleLine | null} */
    this.line = null;
    /** @type {Product | null} what was found; of one that is new here, what is known of it */
    this.chosen = null;
    this.byCode = false;
    this.mend = '';
  }

  /** @param {Map<string, unknown>} changed */
  updated(changed) {
    // Only a number is missing now: the keypad comes up for it.
    if (changed.has('chosen') && this.chosen) this.querySelector('input')?.focus();
  }

  render() {
    const { trip, line } = this;
    if (!trip || !line) return nothing;
    if (this.chosen) return this.#price(trip, line, this.chosen);
    if (this.byCode) {
      return html`<barcode-entry @gtin=${(/** @type {CustomEvent<string>} */ event) => this.#known(trip, line, event.detail)}></barcode-entry>`;
    }
    return html`
      <p>What stands here instead, or beside it?</p>
      <div class="choices">
        ${kindred(trip, line).map((product) => html`
          <button class="choice" @click=${() => { this.chosen = product; }}>${product.description}</button>`)}
        <button class="choice" @click=${() => { this.byCode = true; }}>Another one: by its barcode</button>
      </div>`;
  }

  /** @param {Trip} trip @param {AisleLine} line @param {Product} product */
  #price(trip, line, product) {
    const isNew = trip.products.every((each) => each.id !== product.id);
    const tag = trip.prices.find((each) => each.store === line.store && each.product === product.id);
    return html`
      <p>${isNew ? html`Nobody wrote this one down. Coupons count for it only where they name it.` : html`<b>${product.description}</b>`}</p>
      ${tag && !isNew ? html`
        <button class="go wide" @click=${() => this.#found(line, product, tag.cents, null)}>The tag shows ${money(trip, tag.cents)}</button>`
        : nothing}
      ${moneyEntry(trip, {
        name: 'kind',
        label: tag && !isNew ? 'Or it shows' : 'The tag shows',
        button: 'Note what was found',
        mend: this.mend,
        extra: isNew ? newProduct(line.details) : nothing,
        take: (cents, form) => this.#found(line, product, cents, isNew ? described(product, line.details, form) : null),
        refuse: (mend) => { this.mend = mend; },
      })}`;
  }

  /** @param {Trip} trip @param {AisleLine} line @param {string} gtin */
  #known(trip, line, gtin) {
    this.chosen = trip.products.find((product) => product.gtin?.padStart(14, '0') === gtin)
      ?? { id: `found-${gtin}`, description: '', gtin };
  }

  /** @param {AisleLine} line @param {Product} product @param {number} cents @param {Product | null} data */
  #found(line, product, cents, data) {
    this.report([{
      kind: 'found', want: line.want, store: line.store, product: product.id, cents, product_data: data,
    }]);
  }
}

/** What the shopper says of a product that is new here. @param {Product} like the one it stands in for */
const newProduct = (like) => html`
  <label class="field">What it is <input name="description" required maxlength="200" value="${like.description}"></label>
  ${like.size ? html`
    <label class="field">Size in ${unitWord(like.size.unit)}
      <input name="size" inputmode="decimal" pattern="[0-9]+([.][0-9]+)?" value=${like.size.amount}></label>` : nothing}`;

/** @param {Product} product @param {Product} like @param {HTMLFormElement} form @returns {Product} */
function described(product, like, form) {
  const said = new FormData(form);
  const amount = String(said.get('size') ?? '').trim();
  const size = like.size && /^[0-9]+([.][0-9]+)?$/.test(amount) ? { ...like.size, amount } : like.size;
  return {
    ...product,
    description: String(said.get('description')).trim() || 'Another kind',
    // Taxed and measured as the one it stands in for, until somebody knows better.
    ...(like.tax_class ? { tax_class: like.tax_class } : {}),
    ...(like.category ? { category: like.category } : {}),
    ...(size ? { size } : {}),
  };
}

/**
 * The trip's products that could stand in for a line's: those of its want, then of its category, then
 * what else this store has a tag for.
 * @param {Trip} trip @param {AisleLine} line
 */
function kindred(trip, line) {
  const wanted = trip.wants?.find((want) => want.id === line.want)?.products ?? [];
  const rank = (/** @type {Product} */ product) => {
    if (wanted.includes(product.id)) return 0;
    if (product.category && product.category === line.details.category) return 1;
    return trip.prices.some((tag) => tag.store === line.store && tag.product === product.id) ? 2 : 3;
  };
  return trip.products
    .filter((product) => product.id !== line.product)
    .sort((a, b) => rank(a) - rank(b))
    .slice(0, OFFERED);
}

customElements.define('another-kind', AnotherKind);
