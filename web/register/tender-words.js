/** How a tender is called at the register. Pure. */

import { longDay, money } from '../phone/report-words.js';

/** @import { TenderLine, Trip } from '../engine/types.js' */

/** @param {Trip} trip @param {TenderLine} tender */
export function tenderWords(trip, tender) {
  switch (tender.kind) {
    case 'cash':
      return 'Cash or card';
    case 'gift_card':
      return 'Gift card';
    case 'food_benefit':
      return 'Food benefits';
    case 'slip':
      return `Reward slip of ${money(trip, tender.cents)}${originOf(trip, tender)}`;
  }
}

/** Which slip it is: one from home, or one that an earlier transaction printed. @param {Trip} trip @param {TenderLine} tender */
function originOf(trip, tender) {
  const packed = trip.wallet?.slips?.find((slip) => slip.id === tender.id);
  if (packed) return packed.until ? `, from home, good until ${longDay(packed.until, trip.day)}` : ', from home';
  const number = /\.(\d+)\.\d+$/.exec(tender.id ?? '')?.[1];
  return number ? `, printed by transaction ${number}` : '';
}
