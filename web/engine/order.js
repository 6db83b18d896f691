/**
 * Python's order of keys: texts by code, lists place by place, and a sort that leaves equals as they stood.
 */

/** @typedef {string | number | boolean | readonly Key[]} Key */

/**
 * Below zero, zero or above it, as `one` comes before, beside or after `other`.
 * @param {Key} one @param {Key} other of the same kind
 * @returns {number}
 */
export function compare(one, other) {
  if (Array.isArray(one) && Array.isArray(other)) {
    for (let place = 0; place < Math.min(one.length, other.length); place += 1) {
      const found = compare(one[place], other[place]);
      if (found !== 0) return found;
    }
    return one.length - other.length;
  }
  if (one === other) return 0;
  return one < other ? -1 : 1;
}

/**
 * The items in the order of their keys, as a new list.
 * @template T
 * @param {Iterable<T>} items @param {(item: T) => Key} key
 */
export function sorted(items, key) {
  const keyed = Array.from(items, (item) => ({ item, key: key(item) }));
  // Most lists stand in order already.
  if (keyed.some((one, place) => place > 0 && compare(keyed[place - 1].key, one.key) > 0)) {
    keyed.sort((one, other) => compare(one.key, other.key));
  }
  return keyed.map(({ item }) => item);
}
