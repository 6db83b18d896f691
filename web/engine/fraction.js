/**
 * Exact ratios of whole numbers, as Python's `fractions` has them: for sizes, stock-up prices and
 * unit prices, where no float may lie between an input and a printed cent.
 */

/** In lowest terms, `denominator` above zero. Immutable. */
export class Fraction {
  /** @param {bigint} numerator @param {bigint} [denominator] not zero */
  constructor(numerator, denominator = 1n) {
    if (denominator === 0n) throw new RangeError('a fraction over zero');
    const common = greatestCommonDivisor(numerator, denominator) * (denominator < 0n ? -1n : 1n);
    this.numerator = numerator / common;
    this.denominator = denominator / common;
    Object.freeze(this);
  }

  /** From decimal text such as `28.349523125`, read exactly. @param {string} text */
  static read(text) {
    const [whole, after = ''] = text.split('.');
    return new Fraction(BigInt(whole + after), 10n ** BigInt(after.length));
  }

  /** From a whole number. @param {number} whole */
  static of(whole) {
    return new Fraction(BigInt(whole));
  }

  /** @param {Fraction} other */
  times(other) {
    return new Fraction(this.numerator * other.numerator, this.denominator * other.denominator);
  }

  /** @param {Fraction} other not zero */
  over(other) {
    return new Fraction(this.numerator * other.denominator, this.denominator * other.numerator);
  }

  /** Below zero, zero or above it, as `this` is less than, equal to or more than `other`.
   * @param {Fraction} other */
  compare(other) {
    const difference = this.numerator * other.denominator - other.numerator * this.denominator;
    return difference < 0n ? -1 : Number(difference > 0n);
  }

  /** The largest whole number not above it. */
  floor() {
    const cut = this.numerator / this.denominator;
    return Number(this.numerator < 0n && cut * this.denominator !== this.numerator ? cut - 1n : cut);
  }

  /** The nearest whole number of `1 / parts`; a half goes up. @param {bigint} [parts] */
  roundHalfUp(parts = 1n) {
    return new Fraction(2n * parts * this.numerator + this.denominator, 2n * this.denominator).floor();
  }
}

/** @param {bigint} one @param {bigint} other */
function greatestCommonDivisor(one, other) {
  let [a, b] = [one < 0n ? -one : one, other < 0n ? -other : other];
  while (b > 0n) [a, b] = [b, a % b];
  return a;
}
