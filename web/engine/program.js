/**
 * An integer program as plain data: variables, rows, and objectives as sums of terms.
 * Twin of `server/engine/program.py`.
 */

/** coefficient x variable, added up, plus a constant. */
export class Sum {
  /** @param {Map<number, number>} [terms] @param {number} [constant] */
  constructor(terms = new Map(), constant = 0) {
    this.terms = terms;
    this.constant = constant;
  }

  /** Adds `coefficient x variable`. @param {number} variable @param {number} coefficient */
  add(variable, coefficient) {
    this.terms.set(variable, (this.terms.get(variable) ?? 0) + coefficient);
  }

  /** This sum plus `factor` times another, as a new one. @param {Sum} other @param {number} [factor] */
  plus(other, factor = 1) {
    const total = new Sum(new Map(this.terms), this.constant + factor * other.constant);
    for (const [variable, coefficient] of other.terms) total.add(variable, factor * coefficient);
    return total;
  }

  /** What the sum comes to. @param {readonly number[]} values */
  value(values) {
    let total = this.constant;
    for (const [variable, each] of this.terms) total += each * values[variable];
    return total;
  }
}

/** `low <= terms <= high`.
 * @typedef {{terms: ReadonlyMap<number, number>, low: number, high: number}} Row */

/** Variables with bounds (all of them whole numbers) and rows. */
export class Program {
  /** @param {number[]} [lower] @param {number[]} [upper] @param {Row[]} [rows] */
  constructor(lower = [], upper = [], rows = []) {
    this.lower = lower;
    this.upper = upper;
    this.rows = rows;
  }

  /** A new whole-number variable; the answer is its index. @param {number} low @param {number} high */
  variable(low, high) {
    this.lower.push(low);
    this.upper.push(high);
    return this.lower.length - 1;
  }

  /** `low <= total <= high`, the total's constant counted in.
   * @param {Sum} total @param {{low?: number, high?: number}} bounds */
  require(total, { low = -Infinity, high = Infinity }) {
    const terms = new Map(total.terms);
    this.rows.push({ terms, low: low - total.constant, high: high - total.constant });
  }
}

/** A sum of one term. @param {number} variable @param {number} [coefficient] */
export const one = (variable, coefficient = 1) => new Sum(new Map([[variable, coefficient]]));

/** The sum of sums. @param {Iterable<Sum>} sums */
export function added(sums) {
  const total = new Sum();
  for (const each of sums) {
    total.constant += each.constant;
    for (const [variable, coefficient] of each.terms) total.add(variable, coefficient);
  }
  return total;
}
