/**
 * Ways to choose, in the order of Python's `itertools`: the first item changes last.
 */

/**
 * Every choice of `size` of the items, each at most once, in their order.
 * @template T
 * @param {readonly T[]} items @param {number} size @param {number} [from] the first place to choose from
 * @returns {Generator<T[]>}
 */
export function* combinations(items, size, from = 0) {
  if (size === 0) {
    yield [];
    return;
  }
  for (let place = from; place <= items.length - size; place += 1) {
    for (const rest of combinations(items, size - 1, place + 1)) yield [items[place], ...rest];
  }
}

/**
 * Every choice of one item from each list.
 * @template T
 * @param {readonly (readonly T[])[]} lists
 * @returns {Generator<T[]>}
 */
export function* cartesian(lists) {
  if (lists.length === 0) {
    yield [];
    return;
  }
  for (const item of lists[0]) {
    for (const rest of cartesian(lists.slice(1))) yield [item, ...rest];
  }
}

/**
 * Every order of the items, first as they stand.
 * @template T
 * @param {readonly T[]} items
 * @returns {Generator<T[]>}
 */
export function* permutations(items) {
  if (items.length === 0) yield [];
  for (const [place, item] of items.entries()) {
    for (const rest of permutations(items.toSpliced(place, 1))) yield [item, ...rest];
  }
}
