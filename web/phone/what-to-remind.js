/**
 * What to remind of at this moment: a list of what is due, what was told of it, and the day, in; one
 * notification, or none, out. No clock, no store, no page.
 *
 * Days are `YYYY-MM-DD` and are reckoned in UTC, where each has 24 hours: no change of the clocks moves a
 * deadline. Nothing nags twice: a thing is told once for its day, and there is one notification a day at most.
 *
 * A classic script, since the service worker can import no module everywhere: it has `importScripts`, and
 * the page imports the file for what it leaves as `counterfoilReminding`.
 */

/**
 * @typedef {object} DueThing something that ends, or must be done, by the end of `day` (`server/routes/due.py`)
 * @property {string} id names it for good, whatever becomes of its day
 * @property {string} day
 * @property {string} kind
 * @property {string} words
 * @property {string} act what to do about it
 * @property {string} trip where it comes from, '' for none
 */

/**
 * @typedef {object} ToldOfDue
 * @property {string} on the day of the last notification, '' for none
 * @property {readonly string[]} keys what was told for good, each of `keyOf`
 * @property {readonly string[]} unread what stands in a notification that she has neither opened nor cleared
 */

/** @typedef {{title: string, body: string, keys: string[]}} DueReminder `keys`: what it tells of */

const counterfoilReminding = (() => {
  const DAY = 86_400_000;
  /** Lines of a notification; a phone shows few. */
  const MOST_LINES = 4;
  /** Not hers yet: what a store or maker offers everyone. All else costs her something when it lapses. */
  const OFFERS = new Set(['percent offer', 'reward', 'rebate offer', 'sale']);

  /**
   * The notification of this moment, or null.
   *
   * Told is what is due from `today` to `remindDays` later, both included, and was not told for that day. The
   * new notification takes the place of the one before, so what still stands unread there comes along.
   * @param {readonly DueThing[]} dues @param {ToldOfDue} told @param {string} today @param {number} remindDays
   * @returns {DueReminder | null}
   */
  function reminderOf(dues, told, today, remindDays) {
    if (told.on === today) return null;
    const unread = new Set(told.unread);
    const known = new Set([...told.keys, ...unread]);
    const open = dueWithin(dues, today, remindDays);
    if (open.every((due) => known.has(keyOf(due)))) return null;
    const telling = open.filter((due) => unread.has(keyOf(due)) || !known.has(keyOf(due)));
    return { title: titleOf(telling, today), body: bodyOf(telling, today), keys: telling.map(keyOf) };
  }

  /** What is due from `today` to `days` later, soonest first. @param {readonly DueThing[]} dues @param {string} today @param {number} days */
  function dueWithin(dues, today, days) {
    const last = daysAfter(today, days);
    return dues.filter(({ day }) => today <= day && day <= last).sort((a, b) => (a.day < b.day ? -1 : a.day > b.day ? 1 : 0));
  }

  /** A thing on its day: moved to another day, it is told again. @param {DueThing} due */
  const keyOf = ({ day, id }) => `${day} ${id}`;

  /** What needs to be remembered of what was told: nothing is told after its day. @param {readonly string[]} keys @param {string} today */
  const worthKnowing = (keys, today) => keys.filter((key) => key.slice(0, 10) >= today);

  /** @param {readonly DueThing[]} telling @param {string} today */
  function titleOf(telling, today) {
    const first = dayInWords(telling[0].day, today);
    if (telling.length === 1) return `Due ${first}`;
    return `${telling.length} things are due, the first ${first}`;
  }

  /** What is hers, then the offers in one line. @param {readonly DueThing[]} telling @param {string} today */
  function bodyOf(telling, today) {
    const hers = telling.filter(({ kind }) => !OFFERS.has(kind));
    const offers = telling.filter(({ kind }) => OFFERS.has(kind));
    const line = (/** @type {DueThing} */ { day, words }) => `${capital(dayInWords(day, today))}: ${words}`;
    const lines = hers.slice(0, MOST_LINES).map(line);
    if (hers.length > MOST_LINES) lines.push(`And ${hers.length - MOST_LINES} more.`);
    if (offers.length === 1) lines.push(line(offers[0]));
    if (offers.length > 1) lines.push(`${offers.length} offers end, the first ${dayInWords(offers[0].day, today)}.`);
    return lines.join('\n');
  }

  /** 'today', 'tomorrow', or 'on Saturday, December 5'. @param {string} day @param {string} today */
  function dayInWords(day, today) {
    if (day === today) return 'today';
    if (day === daysAfter(today, 1)) return 'tomorrow';
    return `on ${longDay(day)}`;
  }

  /** @param {string} day */
  const longDay = (day) =>
    new Date(`${day}T00:00:00Z`).toLocaleDateString('en', { weekday: 'long', day: 'numeric', month: 'long', timeZone: 'UTC' });

  /** @param {string} day @param {number} days */
  const daysAfter = (day, days) => new Date(Date.parse(`${day}T00:00:00Z`) + days * DAY).toISOString().slice(0, 10);

  /** Whole days from `today` to `day`. @param {string} today @param {string} day */
  const daysUntil = (today, day) => (Date.parse(`${day}T00:00:00Z`) - Date.parse(`${today}T00:00:00Z`)) / DAY;

  /** The day that the phone's own calendar shows at that moment, in its own zone. @param {Date} now */
  function localDay(now) {
    const two = (/** @type {number} */ part) => String(part).padStart(2, '0');
    return `${String(now.getFullYear()).padStart(4, '0')}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
  }

  /** @param {string} words */
  const capital = (words) => words.slice(0, 1).toUpperCase() + words.slice(1);

  return { OFFERS, daysUntil, dueWithin, keyOf, localDay, longDay, reminderOf, worthKnowing };
})();

Object.assign(globalThis, { counterfoilReminding });
