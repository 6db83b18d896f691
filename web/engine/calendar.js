/**
 * Days of the calendar as texts, without a clock: what Python's `datetime` does on the server.
 */

import { floorDivide } from './money.js';

/**
 * The date so many days after another.
 * @param {string} day ISO 8601 @param {number} days
 */
export function daysAfter(day, days) {
  const [year, month, date] = day.split('-').map(Number);
  return written(dayNumber(year, month, date) + days);
}

/**
 * Days since 1 March of the year 0, in the Gregorian calendar; years begin in March, so that the
 * leap day is the last of its year.
 * @param {number} year @param {number} month 1 to 12 @param {number} date
 */
function dayNumber(year, month, date) {
  const fromMarch = (month + 9) % 12;
  const marchYear = month < 3 ? year - 1 : year;
  return 365 * marchYear + leapDays(marchYear) + floorDivide(153 * fromMarch + 2, 5) + date - 1;
}

/** Leap days in the years before the one that ends with such a February. @param {number} year */
const leapDays = (year) => floorDivide(year, 4) - floorDivide(year, 100) + floorDivide(year, 400);

/** @param {number} number of the day */
function written(number) {
  // 146,097 days are 400 years; the quotient is at most one year too high.
  let year = floorDivide(400 * number + 400, 146_097);
  if (dayNumber(year, 3, 1) > number) year -= 1;
  if (dayNumber(year + 1, 3, 1) <= number) year += 1;
  const dayOfYear = number - dayNumber(year, 3, 1);
  const fromMarch = floorDivide(5 * dayOfYear + 2, 153);
  const date = dayOfYear - floorDivide(153 * fromMarch + 2, 5) + 1;
  const month = ((fromMarch + 2) % 12) + 1;
  return [
    String(month < 3 ? year + 1 : year).padStart(4, '0'),
    String(month).padStart(2, '0'),
    String(date).padStart(2, '0'),
  ].join('-');
}
