/** The coupons that she has in hand, by copies. */

import { html } from 'lit';
import { longDay } from '../phone/report-words.js';
import { withHers } from './her-trip.js';
import { wholeNumber } from './whole-number.js';

/** @import { Coupon } from '../engine/types.js' */
/** @import { Part } from './mine-screen.js' */

/** @param {Part} part */
export function herCoupons(part) {
  const here = new Set((part.trip.coupons ?? []).map(({ id }) => id));
  const coupons = (part.published.coupons ?? []).filter(({ id }) => here.has(id));
  return html`
    <section class="store" aria-labelledby="coupons">
      <div class="store-head"><h2 id="coupons">Coupons in your hand</h2></div>
      ${coupons.map((coupon) => copies(part, coupon))}
      ${coupons.length === 0 ? html`<p>No coupon belongs to this trip.</p>` : ''}
    </section>`;
}

/** @param {Part} part @param {Coupon} coupon as published */
function copies({ trip, mine, plan, change, refuse }, coupon) {
  const published = coupon.copies ?? 1;
  const used = (plan?.transactions ?? []).flatMap(({ hand_over: ids }) => ids).filter((id) => id === coupon.id).length;
  const set = (/** @type {number} */ count) =>
    change({ ...mine, copies: withHers(mine.copies, coupon.id, count, count === published) });
  const hers = mine.copies[coupon.id] ?? published;
  const take = (/** @type {HTMLInputElement} */ field) => {
    const count = wholeNumber(field.value);
    refuse(field, count === null ? 'Write a whole number, 0 to 999.' : '');
    if (count !== null) set(count);
  };
  const id = `copies-${coupon.id}`;
  return html`
    <label class="own" for=${id}><span>${coupon.description}
        <span class="small">${used > 0 ? `${used} in your plan` : 'not in your plan'}${coupon.until ? `; until ${longDay(coupon.until, trip.day)}` : ''}${coupon.where ? `; ${coupon.where}` : ''}</span></span>
      <input id=${id} inputmode="numeric" autocomplete="off" size="3" .value=${String(hers)} aria-describedby="${id}-mend"
        @change=${(/** @type {Event} */ event) => take(/** @type {HTMLInputElement} */ (event.target))}></label>
    <p id="${id}-mend" class="mend" role="alert"></p>`;
}
