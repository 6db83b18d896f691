/** One coupon in handing-over order, large: its place, its value, what it is, where it is kept. */

import { html, nothing } from 'lit';
import { money } from '../phone/report-words.js';

/** @import { Coupon, PlannedTransaction, Trip } from '../engine/types.js' */

/** @type {Record<Coupon['form'], string>} */
const FORMS = {
  insert: 'cut from an insert',
  printable: 'printed at home',
  digital: 'loaded on the account: nothing to hand over',
  on_package: 'on the package: peel it off',
  register: 'printed by the register',
};

/**
 * @param {Trip} trip @param {PlannedTransaction} planned
 * @param {string} id the coupon's
 * @param {number} place in handing-over order, from 0
 */
export function couponToHand(trip, planned, id, place) {
  const coupon = trip.coupons?.find((other) => other.id === id);
  return html`
    <label class="coupon" data-form=${coupon?.form ?? nothing}>
      <input type="checkbox" class="unseen-tick">
      <span class="coupon-place">${place + 1}</span>
      <span class="coupon-words">
        <b class="coupon-value">${takenWords(trip, planned, place)}</b>
        <span>${coupon?.description ?? id}</span>
        <span class="small">${coupon?.issuer === 'store' ? 'store coupon' : 'manufacturer coupon'}${coupon
          ? `, ${FORMS[coupon.form]}` : ''}${coupon?.where ? `; ${coupon.where}` : ''}</span>
        ${coupon?.legible ? html`<span class="legible">${coupon.legible}</span>` : nothing}
      </span>
      <span class="handed" aria-hidden="true"></span>
    </label>`;
}

/**
 * What the register must take for the coupon at that place.
 * @param {Trip} trip @param {PlannedTransaction} planned @param {number} place
 */
function takenWords(trip, { receipt }, place) {
  const taken = receipt.coupons[place];
  return taken ? `−${money(trip, taken.cents)}` : '';
}
