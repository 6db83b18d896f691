/**
 * Coupons that touch a line: one left at home or refused, one more at hand, one peeled off a package
 * that nobody knew of.
 */

import { html, nothing } from 'lit';
import { moneyEntry } from '../phone/money-entry.js';
import { PageElement } from '../phone/page-element.js';
import { counted, money } from '../phone/report-words.js';

/** @import { Coupon, Plan, Trip } from '../engine/types.js' */
/** @import { AisleLine } from '../phone/lines.js' */

class CouponsAtHand extends PageElement {
  static properties = { trip: {}, plan: {}, line: {}, mend: { state: true } };

  constructor() {
    super();
    /** @type {Trip | null} */
    this.trip = null;
    /** @type {Plan | null} */
    this.plan = null;
    /** @type {AisleLine | null} */
    this.line = null;
    this.mend = '';
  }

  render() {
    const { trip, plan, line } = this;
    if (!trip || !line) return nothing;
    const isUsed = (/** @type {Coupon} */ coupon) => line.coupons.includes(coupon.id);
    const coupons = (trip.coupons ?? []).filter((coupon) => isUsed(coupon) || asksFor(coupon, line.product));
    return html`
      <ul class="plainlist coupons-at-hand">
        ${coupons.sort((a, b) => Number(isUsed(b)) - Number(isUsed(a))).map((coupon) => html`
          <li>
            <p><b>${coupon.description}</b>${coupon.where ? html`<br>${coupon.where}` : nothing}
              <br>${counted(usesOf(plan, coupon.id), 'copy', 'copies')} in the plan</p>
            <div class="choices pair">
              ${isUsed(coupon) ? this.#choice('One copy fewer', coupon, -1) : nothing}
              ${this.#choice('One copy more', coupon, 1)}
              ${isUsed(coupon) && (coupon.copies ?? 1) > 1
                ? this.#choice('Left at home, every copy', coupon, -(coupon.copies ?? 1)) : nothing}
            </div>
          </li>`)}
      </ul>
      <details ?open=${coupons.length === 0}>
        <summary>Peeled off the package: another coupon</summary>
        ${moneyEntry(trip, {
          name: 'peeled',
          label: 'It takes off one',
          button: 'One copy at hand',
          mend: this.mend,
          take: (cents) => this.#peeled(trip, line, cents),
          refuse: (mend) => { this.mend = mend; },
        })}
        <p class="small">A coupon is for the product, size and date printed on it. Leave on the shelf what you do not buy.</p>
      </details>`;
  }

  /** @param {string} words @param {Coupon} coupon @param {number} copies more, or fewer */
  #choice(words, coupon, copies) {
    return html`
      <button class="choice" @click=${() => this.report([{ kind: 'coupon_copies', coupon: coupon.id, copies }])}>
        <span>${words}<span class="unseen">: ${coupon.description}</span></span></button>`;
  }

  /** @param {Trip} trip @param {AisleLine} line @param {number} cents */
  #peeled(trip, line, cents) {
    if (cents === 0) {
      this.mend = 'A coupon takes something off: write its value.';
      return;
    }
    this.report([{
      kind: 'coupon_found',
      coupon: {
        // The same peelable on the next package is one more copy of this one.
        id: `peeled-${cents}-${line.product}`.slice(0, 80),
        description: `${money(trip, cents)} off one ${line.details.description}, peeled off the package`,
        issuer: 'manufacturer',
        form: 'on_package',
        gives: { kind: 'cents_off', cents },
        asks: [{ products: [line.product] }],
        where: 'On the package',
      },
    }]);
  }
}

/** @param {Coupon} coupon @param {string} product */
const asksFor = (coupon, product) => coupon.asks.some((asks) => asks.products?.includes(product));

/** @param {Plan | null} plan @param {string} coupon */
const usesOf = (plan, coupon) =>
  (plan?.transactions ?? []).flatMap((transaction) => transaction.hand_over).filter((id) => id === coupon).length;

customElements.define('coupons-at-hand', CouponsAtHand);
