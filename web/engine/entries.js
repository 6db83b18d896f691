/**
 * Entries of maps, as Python's dictionaries give them: one made where there is none yet, and one that
 * must be there.
 */

/**
 * The entry of a map, made where there is none yet.
 * @template K, V
 * @param {Map<K, V>} map @param {K} key @param {() => V} make
 * @returns {V}
 */
export function entryOf(map, key, make) {
  const held = map.get(key) ?? make();
  map.set(key, held);
  return held;
}

/**
 * The entry of a map that is known to be there.
 * @template K, V
 * @param {ReadonlyMap<K, V>} map @param {K} key
 * @returns {V}
 */
export function known(map, key) {
  const held = map.get(key);
  if (held === undefined) throw new Error(`nothing is known of ${String(key)}`);
  return held;
}
