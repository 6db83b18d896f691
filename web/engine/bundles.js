/**
 * Bundles: units that one cents-off coupon binds because its share is more than one of them costs.
 * Twin of `server/engine/bundles.py`, which has a bundle worked by hand.
 */

import { bind, centsOffOf } from './binding.js';
import { combinations } from './choices.js';
import { faceCents } from './coupons.js';
import { known } from './entries.js';
import { handedOver } from './handing-over.js';
import { share } from './money.js';
import { sorted } from './order.js';
import { roomAt } from './room.js';
import { finished, multiplications, unitCoupons, unitStates, withCoupons } from './unit-states.js';
import { asksFor, isMultiplied, unitsAsked } from './ways.js';

/** @import { Bound, Claimed } from './binding.js' */
/** @import { Member, Room } from './room.js' */
/** @import { Coupon, Filled, Issuer, Product, ShelfPrice, Want } from './types.js' */
/** @import { Column, Counter, Offered, WholeUse } from './ways.js' */

// More groups than this for one coupon at one store are not listed; the plan then says that it
// is not proven. Met only by coupons over many units of many very cheap products.
export const MOST_BUNDLES = 1_500;
// The other orders on the belt of a coupon over more units are not listed, with the same consequence.
const MOST_ORDERED = 4;

/**
 * All columns for the wanted products of one store, sorted by key, and whether the list is whole.
 * @param {readonly Offered[]} products each with its tag (null where only a rain check sells it)
 * @param {Counter} counter @param {readonly Filled<Want>[]} wants a bundle holds no more units than they welcome
 * @returns {[Column[], boolean]}
 */
export function columns(products, counter, wants) {
  /** @type {Map<string, Column>} */
  const found = new Map();
  for (const [product, tag] of products) {
    for (const [level, unit] of unitStates(product, tag, counter)) {
      const way = finished(unit, product.id, level, counter);
      if (!found.has(way.key)) found.set(way.key, { key: way.key, ways: [way], wholeUses: [] });
    }
  }
  let whole = products.every(([product, tag]) => allListed(product, tag, counter));
  const room = roomAt(counter, products, wants);
  for (const coupon of counter.coupons) {
    if (coupon.gives.kind === 'cents_off' && unitsAsked(coupon) > 1) {
      const [own, all] = listed(coupon, products, counter, room);
      for (const bundle of own) found.set(bundle.key, bundle);
      whole &&= all;
    }
  }
  return [sorted(found.values(), (column) => column.key), whole];
}

/**
 * Whether every way of a unit is listed. Where two coupons of an issuer go on a unit, one with several requirements
 * is listed once; and one of cents off that leaves some of its units nothing (a bundle's) with no other of that
 * issuer after it, nor a manufacturer's before it. Where that might be had the plan is not called proven.
 * @param {Filled<Product>} product @param {Filled<ShelfPrice> | null} tag @param {Counter} counter
 */
function allListed(product, tag, counter) {
  const rules = counter.store.rules;
  /** @type {[Issuer, number][]} */
  const issuers = [
    ['store', rules.store_coupons_per_unit],
    ['manufacturer', rules.manufacturer_coupons_per_unit],
  ];
  if (issuers.every(([, most]) => most === 1)) return true;
  let binds = false;
  for (const [issuer, most] of issuers) {
    const own = unitCoupons(counter, issuer, product.id);
    if (most > 1 && own.some((coupon) => coupon.asks.length > 1 && coupon.copies > 1)) return false;
    // A store coupon that binds leaves less for the manufacturers' than a unit by itself.
    binds ||= mayBind(own, most, product, tag, counter);
    const several = own.length > 1 || own.some((coupon) => coupon.copies > 1);
    if (binds && own.some(isShared) && most > 1 && several) return false;
  }
  return true;
}

/** Whether a coupon takes cents off several units. @param {Filled<Coupon>} coupon */
const isShared = (coupon) => coupon.gives.kind === 'cents_off' && unitsAsked(coupon) > 1;

/**
 * Whether one of an issuer's coupons may be worth more than is left of a unit of the product.
 * @param {readonly Filled<Coupon>[]} own @param {number} most
 * @param {Filled<Product>} product @param {Filled<ShelfPrice> | null} tag @param {Counter} counter
 */
function mayBind(own, most, product, tag, counter) {
  const shares = own.filter(isShared).map((coupon) => largestShare(coupon, counter));
  if (shares.length === 0) return false;
  const names = new Set(own.map(({ id }) => id));
  return unitStates(product, tag, counter, own[0].issuer === 'manufacturer').some(([, { left, slots }]) => {
    return left < Math.max(...shares) && slots.filter(({ coupon }) => names.has(coupon)).length < most;
  });
}

/**
 * A coupon's bundles, and whether they are all. Where there are too many in every order on the belt, in one each.
 * @param {Filled<Coupon>} coupon @param {readonly Offered[]} products @param {Counter} counter
 * @param {Room} room
 * @returns {[Column[], boolean]}
 */
function listed(coupon, products, counter, room) {
  /** @param {number} mostOrdered */
  const upToMost = (mostOrdered) => {
    /** @type {Column[]} */
    const found = [];
    for (const bundle of bundles(coupon, products, counter, room, mostOrdered)) {
      found.push(bundle);
      if (found.length > MOST_BUNDLES) break;
    }
    return found;
  };
  let mostOrdered = MOST_ORDERED;
  let found = upToMost(mostOrdered);
  if (found.length > MOST_BUNDLES) {
    mostOrdered = 0;
    found = upToMost(mostOrdered);
  }
  const mixed = found.some((bundle) => new Set(bundle.ways.map((way) => way.product)).size > 1);
  const all = found.length <= MOST_BUNDLES && !(mixed && unitsAsked(coupon) > mostOrdered);
  return [found.slice(0, MOST_BUNDLES), all];
}

/**
 * Every column that a coupon's binding use makes.
 * @param {Filled<Coupon>} coupon @param {readonly Offered[]} products @param {Counter} counter
 * @param {Room} room @param {number} mostOrdered of so many units in every order
 * @returns {Generator<Column>}
 */
function* bundles(coupon, products, counter, room, mostOrdered) {
  const bases = basesFor(coupon, products, counter);
  const most = largestShare(coupon, counter);
  if (bases.every((base) => base.unit.left >= most)) return;
  for (const multiplied of multiplications(coupon, counter)) {
    for (const group of groups(coupon, bases, room)) {
      for (const bound of bind(coupon, group, counter, multiplied, mostOrdered)) {
        if (coupon.issuer === 'manufacturer') {
          yield columnOf([bound.members], [bound.use], counter);
        } else {
          yield* withMakers(bound, products, counter, room, mostOrdered);
        }
      }
    }
  }
}

/** The most that a use takes off one unit by its even share.
 * @param {Filled<Coupon>} coupon @param {Counter} counter */
function largestShare(coupon, counter) {
  const face = faceCents(centsOffOf(coupon), counter.region);
  const asked = unitsAsked(coupon);
  const rule = counter.store.rules.multiplying;
  const times = rule !== null && isMultiplied(coupon, counter) ? rule.times : 1;
  return share(face, asked, 1) + share(face * (times - 1), asked, 1);
}

/**
 * Units, with their store offers, that the coupon can claim.
 * @param {Filled<Coupon>} coupon @param {readonly Offered[]} products @param {Counter} counter
 * @returns {Member[]}
 */
function basesFor(coupon, products, counter) {
  const rules = counter.store.rules;
  const issuers = new Map(counter.coupons.map((each) => [each.id, each.issuer]));
  /** @type {Member[]} */
  const found = [];
  for (const [product, tag] of products) {
    if (!coupon.asks.some((ask) => asksFor(ask.products, product.id))) continue;
    for (const [level, unit] of unitStates(product, tag, counter, false)) {
      const own = unit.slots.map((slot) => known(issuers, slot.coupon));
      // Only store coupons are on it yet.
      const [most, taken] =
        coupon.issuer === 'store'
          ? [rules.store_coupons_per_unit, own.length]
          : [rules.manufacturer_coupons_per_unit, 0];
      const mixed = coupon.issuer === 'manufacturer' && own.length > 0 && !rules.store_with_manufacturer;
      if (taken < most && !mixed) found.push({ product: product.id, level, unit });
    }
  }
  return found;
}

/**
 * Every choice of units that fills the coupon's requirements and has room, each with its leg.
 * @param {Filled<Coupon>} coupon @param {readonly Member[]} bases @param {Room} room
 * @returns {Generator<Claimed[]>}
 */
function groups(coupon, bases, room) {
  const fitting = coupon.asks.map((ask) => bases.filter((base) => asksFor(ask.products, base.product)));
  /** @param {number} leg @param {readonly Claimed[]} before @returns {Generator<Claimed[]>} */
  function* fromLeg(leg, before) {
    if (leg === coupon.asks.length) {
      yield [...before];
      return;
    }
    const held = before.map(([, member]) => member);
    for (const chosen of choices(fitting[leg], coupon.asks[leg].units, room, held)) {
      const claimed = chosen.map((member) => /** @type {Claimed} */ ([leg, member]));
      yield* fromLeg(leg + 1, [...before, ...claimed]);
    }
  }
  return fromLeg(0, []);
}

/**
 * Every choice of `size` of the units from the `first` on, each as often as wanted, that has room
 * beside what is `held`.
 * @param {readonly Member[]} members @param {number} size @param {Room} room
 * @param {readonly Member[]} held @param {number} [first]
 * @returns {Generator<Member[]>}
 */
function* choices(members, size, room, held, first = 0) {
  if (size === 0) {
    yield [];
    return;
  }
  for (let place = first; place < members.length; place += 1) {
    const beside = [...held, members[place]];
    if (!room.holds(beside)) continue;
    for (const rest of choices(members, size - 1, room, beside, place)) yield [members[place], ...rest];
  }
}

/**
 * Every choice of one unit from each list that has room beside what is `held`.
 * @param {readonly (readonly Member[])[]} ends @param {Room} room @param {readonly Member[]} held
 * @returns {Generator<Member[]>}
 */
function* oneOfEach(ends, room, held) {
  if (ends.length === 0) {
    yield [];
    return;
  }
  for (const member of ends[0]) {
    const beside = [...held, member];
    if (!room.holds(beside)) continue;
    for (const rest of oneOfEach(ends.slice(1), room, beside)) yield [member, ...rest];
  }
}

/**
 * A store coupon's bundle with every choice of manufacturer coupons, one of which may bind.
 * @param {Bound} bound @param {readonly Offered[]} products @param {Counter} counter @param {Room} room
 * @param {number} mostOrdered
 * @returns {Generator<Column>}
 */
function* withMakers(bound, products, counter, room, mostOrdered) {
  const rules = counter.store.rules;
  const most = rules.store_with_manufacturer ? rules.manufacturer_coupons_per_unit : 0;
  for (const chosen of oneOfEach(allAfterMakers(bound.members, most, counter), room, [])) {
    yield columnOf([chosen], [bound.use], counter);
  }
  if (most === 0) return;
  for (const coupon of counter.coupons) {
    if (coupon.issuer !== 'manufacturer' || coupon.gives.kind !== 'cents_off') continue;
    if (unitsAsked(coupon) > 1) {
      yield* boundTwice(bound, coupon, basesFor(coupon, products, counter), most, counter, room, mostOrdered);
    }
  }
}

/**
 * Each unit with every choice of plain manufacturer coupons.
 * @param {readonly Member[]} members @param {number} most @param {Counter} counter
 * @returns {Member[][]}
 */
function allAfterMakers(members, most, counter) {
  return members.map(({ product, level, unit }) => {
    const makers = handedOver(unitCoupons(counter, 'manufacturer', product), most);
    const ends = makers.flatMap((chosen) => [...withCoupons(unit, chosen, product, counter)]);
    return ends.map((end) => ({ product, level, unit: end }));
  });
}

/**
 * A store coupon's bundle some of whose units a manufacturer coupon binds, perhaps with others.
 * @param {Bound} bound @param {Filled<Coupon>} coupon @param {readonly Member[]} others
 * @param {number} most @param {Counter} counter @param {Room} room @param {number} mostOrdered
 * @returns {Generator<Column>}
 */
function* boundTwice(bound, coupon, others, most, counter, room, mostOrdered) {
  const asked = unitsAsked(coupon);
  for (let size = 1; size <= Math.min(asked, bound.members.length); size += 1) {
    for (const places of combinations([...bound.members.keys()], size)) {
      const inside = places.map((place) => bound.members[place]);
      const outside = bound.members.filter((_, place) => !places.includes(place));
      for (const beside of choices(others, asked - size, room, bound.members)) {
        const group = withLegs(coupon, [...inside, ...beside]);
        if (group === null) continue;
        for (const multiplied of multiplications(coupon, counter)) {
          for (const twice of bind(coupon, group, counter, multiplied, mostOrdered)) {
            const ends = allAfterMakers(outside, most, counter);
            for (const rest of oneOfEach(ends, room, twice.members)) {
              yield columnOf([twice.members, rest], [bound.use, twice.use], counter);
            }
          }
        }
      }
    }
  }
}

/**
 * The first way to give each unit a requirement that it fills, or null if there is none. Any will do: what a
 * unit takes is reckoned over all units of the use.
 * @param {Filled<Coupon>} coupon @param {readonly Member[]} members
 * @returns {Claimed[] | null}
 */
function withLegs(coupon, members) {
  /** @param {number} place @param {readonly number[]} left @returns {Claimed[] | null} */
  const given = (place, left) => {
    if (place === members.length) return [];
    for (const [leg, ask] of coupon.asks.entries()) {
      if (left[leg] > 0 && asksFor(ask.products, members[place].product)) {
        const rest = given(place + 1, left.with(leg, left[leg] - 1));
        if (rest !== null) return [[leg, members[place]], ...rest];
      }
    }
    return null;
  };
  return given(0, coupon.asks.map((ask) => ask.units));
}

/**
 * The bundle as the program counts it.
 * @param {readonly (readonly Member[])[]} parts @param {readonly WholeUse[]} uses @param {Counter} counter
 * @returns {Column}
 */
function columnOf(parts, uses, counter) {
  const ways = parts.flat().map((member) => finished(member.unit, member.product, member.level, counter));
  let marks = uses.map(([coupon, multiplied]) => `${coupon}:${Number(multiplied)}`).join('&');
  // The first may have left the same units otherwise, in another order on the belt.
  if (uses.length > 1) marks += ways.map((way) => `=${way.cost}`).join('');
  return { key: `${ways.map((way) => way.key).join('&')}&${marks}`, ways, wholeUses: uses };
}
