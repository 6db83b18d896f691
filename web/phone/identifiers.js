/**
 * Event ids: UUIDv7 (RFC 9562, section 5.7) made on the device.
 *
 * The ids give the order in which all phones of a trip fold their events, so an id made here
 * is always greater than every id that this phone has seen, its own or another phone's, even
 * when the clock stands still or goes back (RFC 9562, section 6.2, method 1: the 12 bits after
 * the version are a counter within the millisecond).
 */

const COUNTER_END = 0x1000;

/**
 * A new id, greater than `last`.
 * @param {string} last the greatest id seen so far, '' when there is none
 * @param {number} now milliseconds of the device's clock
 * @param {Uint8Array} random at least 8 random bytes
 * @returns {string}
 */
export function nextId(last, now, random) {
  const seen = last === '' ? { milliseconds: -1, counter: 0 } : timeOf(last);
  let milliseconds = Math.max(now, seen.milliseconds);
  let counter = milliseconds === seen.milliseconds ? seen.counter + 1 : 0;
  if (counter === COUNTER_END) {
    milliseconds += 1;
    counter = 0;
  }
  const time = milliseconds.toString(16).padStart(12, '0');
  const tail = [...random.subarray(0, 8)];
  tail[0] = 0x80 | (tail[0] & 0x3f);
  const end = tail.map((byte) => byte.toString(16).padStart(2, '0')).join('');
  return [
    time.slice(0, 8),
    time.slice(8),
    `7${counter.toString(16).padStart(3, '0')}`,
    end.slice(0, 4),
    end.slice(4),
  ].join('-');
}

/**
 * The millisecond and counter inside an id; of an id that is no UUIDv7, the start of time.
 * @param {string} id
 */
function timeOf(id) {
  const match = /^([0-9a-f]{8})-([0-9a-f]{4})-7([0-9a-f]{3})-/.exec(id);
  if (!match) return { milliseconds: -1, counter: 0 };
  return { milliseconds: parseInt(match[1] + match[2], 16), counter: parseInt(match[3], 16) };
}

/** The id to go on from when `id` was seen beside `last`. @param {string} last @param {string} id */
export const later = (last, id) => (id > last ? id : last);
