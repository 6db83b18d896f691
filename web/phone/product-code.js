/**
 * The digits under a barcode, checked and brought to 14, or what is wrong with them. Pure.
 *
 * The rules are those of `server/intake/product_code.py`, which names their sources.
 */

import { checkDigitHolds } from '../engine/gtin.js';

const MISREAD = 'The last digit does not fit the others: read the number again.';

/**
 * @param {string} digits as typed or as a reader gave them; spaces and hyphens do not matter
 * @returns {{gtin: string, mend: ''} | {gtin: '', mend: string}}
 */
export function readProductCode(digits) {
  const bare = digits.replace(/[\s-]/g, '');
  if (!/^[0-9]+$/.test(bare)) return wrong('Write the 8, 12, 13 or 14 digits under the barcode, digits only.');
  if (![8, 12, 13, 14].includes(bare.length)) {
    return wrong(`The digits under a barcode are 8, 12, 13 or 14, here are ${bare.length}: count them again.`);
  }
  // Eight digits that begin with 0 or 1 are likelier a shortened UPC than a number made up in a store.
  const short = bare.length === 8 && /^[01]/.test(bare) ? expandUpcE(bare) : '';
  const whole = short && checkDigitHolds(short) ? short : bare;
  if (!checkDigitHolds(whole)) return wrong(MISREAD);
  if (/^0+$/.test(whole)) return wrong('Zeros only are no product: read the number again.');
  return { gtin: whole.padStart(14, '0'), mend: '' };
}

/** The UPC-A that the eight digits of a UPC-E stand for. @param {string} digits */
function expandUpcE(digits) {
  const [system, a, b, c, d, e, last, check] = digits;
  if ('012'.includes(last)) return `${system}${a}${b}${last}0000${c}${d}${e}${check}`;
  if (last === '3') return `${system}${a}${b}${c}00000${d}${e}${check}`;
  if (last === '4') return `${system}${a}${b}${c}${d}00000${e}${check}`;
  return `${system}${a}${b}${c}${d}${e}0000${last}${check}`;
}

/** @param {string} mend @returns {{gtin: '', mend: string}} */
const wrong = (mend) => ({ gtin: '', mend });
