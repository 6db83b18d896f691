/** Copies of a line's coupons: one left at home or refused, one more found on a package. */

import { html, nothing } from 'lit';
import { counted } from '../phone/report-words.js';

/** @import { Plan, Report, Trip } from '../engine/types.js' */
/** @import { AisleLine } from '../phone/lines.js' */

/**
 * @param {Trip} trip @param {Plan | null} plan @param {AisleLine} line
 * @param {(reports: Report[]) => void} report
 */
export function couponsAtHand(trip, plan, line, report) {
  const coupons = (trip.coupons ?? []).filter((coupon) => line.coupons.includes(coupon.id));
  return html`
    <ul class="plainlist coupons-at-hand">
      ${coupons.map((coupon) => html`
        <li>
          <p><b>${coupon.description}</b>${coupon.where ? html`<br>${coupon.where}` : nothing}
            <br>${counted(usesOf(plan, coupon.id), 'copy', 'copies')} in the plan</p>
          <div class="choices">
            <button class="choice" @click=${() => report([{ kind: 'coupon_copies', coupon: coupon.id, copies: -1 }])}>
              One copy fewer</button>
            <button class="choice" @click=${() => report([{ kind: 'coupon_copies', coupon: coupon.id, copies: 1 }])}>
              One copy more</button>
            <button class="choice" @click=${() => report([
              { kind: 'coupon_copies', coupon: coupon.id, copies: -(coupon.copies ?? 1) }])}>
              Left at home, every copy</button>
          </div>
        </li>`)}
    </ul>`;
}

/** @param {Plan | null} plan @param {string} coupon */
const usesOf = (plan, coupon) =>
  (plan?.transactions ?? []).flatMap((transaction) => transaction.hand_over).filter((id) => id === coupon).length;
