/**
 * Item numbers: the check digit that GTIN-8, -12, -13 and -14 share.
 * Twin of `server/engine/gtin.py`, which names the source and works one by hand.
 */

/**
 * Whether the last digit of `gtin` (decimal digits only) is the check digit of the others.
 *
 * Zeros padded on the left change nothing, so any of the lengths may be given.
 * @param {string} gtin
 */
export function checkDigitHolds(gtin) {
  const weighted = [...gtin.slice(0, -1)]
    .reverse()
    .reduce((sum, digit, place) => sum + Number(digit) * (place % 2 === 0 ? 3 : 1), 0);
  return (weighted + Number(gtin.slice(-1))) % 10 === 0;
}
