/**
 * Every legal way of one unit: the steps of the register that it goes through, and what each leaves of it.
 * Twin of `server/engine/unit_states.py`.
 */

import { permutations } from './choices.js';
import { choicesOf, handedOver, orderMatters } from './handing-over.js';
import { floorDivide, roundHalfUp } from './money.js';
import { sorted } from './order.js';
import { asksFor, isMultiplied, keyOf, parts, slotIn, unitsAsked } from './ways.js';

/** @import { Coupon, Filled, Issuer, Product, RainCheck, ShelfPrice } from './types.js' */
/** @import { Counter, Level, OfferOn, Offered, Slot, Way } from './ways.js' */

/**
 * A unit on its way through the steps: what is left of it and who took what.
 * @typedef {object} UnitState
 * @property {number} left
 * @property {number} shelf
 * @property {readonly OfferOn[]} percents
 * @property {readonly Slot[]} slots
 * @property {number} storeOff
 * @property {number} makerOff
 * @property {number} extraOff
 * @property {number} storeSurplus
 * @property {number} makerSurplus
 */

/**
 * The prices that a unit of the product can have after step 1 of the register.
 * @param {Filled<ShelfPrice> | null} tag @param {readonly Filled<RainCheck>[]} rainChecks
 * @returns {Level[]}
 */
export function levels(tag, rainChecks) {
  /** @type {Level[]} */
  const found = rainChecks.map((check) => ({ role: 'rain_check', cents: check.cents, rainCheck: check.id }));
  if (tag === null) return found;
  const deal = tag.deal;
  switch (deal?.kind) {
    case undefined:
      return [{ role: 'plain', cents: tag.cents, rainCheck: '' }, ...found];
    case 'n_for_m': {
      const low = floorDivide(deal.cents, deal.n);
      /** @type {Level[]} */
      const grouped = [{ role: 'group', cents: low, rainCheck: '' }];
      if (deal.cents % deal.n) grouped.unshift({ role: 'first', cents: low + 1, rainCheck: '' });
      if (deal.must_buy) grouped.push({ role: 'rest', cents: tag.cents, rainCheck: '' });
      return [...grouped, ...found];
    }
    case 'buy_one_get_one': {
      const reduced = tag.cents - roundHalfUp(tag.cents * deal.off_bp, 10_000);
      return [
        { role: 'full', cents: tag.cents, rainCheck: '' },
        { role: 'reduced', cents: reduced, rainCheck: '' },
        ...found,
      ];
    }
  }
}

/**
 * The unit after one percent discount; two answers where rounding per line decides the cent.
 * @param {UnitState} unit @param {string} source @param {number} bp @param {Counter} counter
 * @returns {Generator<UnitState>}
 */
function* percentSteps(unit, source, bp, counter) {
  const rules = counter.store.rules;
  const base = rules.percent_base === 'shelf' ? unit.shelf : unit.left;
  const floor = floorDivide(base * bp, 10_000);
  let answers = [roundHalfUp(base * bp, 10_000)];
  if (rules.percent_rounding === 'line' && (base * bp) % 10_000) answers = [floor, floor + 1];
  for (const answer of answers) {
    const cents = Math.min(answer, unit.left);
    yield {
      ...unit,
      left: unit.left - cents,
      storeOff: unit.storeOff + cents,
      percents: [...unit.percents, { source, bp, base, cents, capped: floor >= unit.left }],
    };
  }
}

/**
 * The unit after a coupon took `cents` (and `extra` of the store's) off it.
 * @param {UnitState} unit @param {Filled<Coupon>} coupon @param {number} cents @param {number} extra
 * @param {number} surplus @param {Slot} slot
 * @returns {UnitState}
 */
export function takeOff(unit, coupon, cents, extra, surplus, slot) {
  const ours = coupon.issuer === 'store';
  return {
    ...unit,
    left: unit.left - cents - extra,
    slots: [...unit.slots, slot],
    storeOff: unit.storeOff + (ours ? cents : 0),
    makerOff: unit.makerOff + (ours ? 0 : cents),
    extraOff: unit.extraOff + extra,
    storeSurplus: unit.storeSurplus + (ours ? surplus : 0),
    makerSurplus: unit.makerSurplus + (ours ? 0 : surplus),
  };
}

/**
 * The unit after each slot that it can fill in a use of the coupon (steps 3 and 4).
 * @param {UnitState} unit @param {Filled<Coupon>} coupon @param {string} product @param {Counter} counter
 * @param {boolean} multiplied
 * @returns {Generator<UnitState>}
 */
function* couponSteps(unit, coupon, product, counter, multiplied) {
  const asked = unitsAsked(coupon);
  const rules = counter.store.rules;
  const gives = coupon.gives;
  for (const [leg, ask] of coupon.asks.entries()) {
    if (!asksFor(ask.products, product)) continue;
    for (const [index, part] of parts(coupon, counter, multiplied).entries()) {
      const slot = slotIn(coupon.id, leg, index, multiplied, part.free, unit.left);
      switch (gives.kind) {
        case 'cents_off': {
          const surplus = part.cents - unit.left;
          if (surplus > 0 && (asked > 1 || rules.overage === 'refuse')) continue;
          // The rest passes to the coupon's other units: a bundle.
          if (asked > 1 && part.cents + part.extra > unit.left) continue;
          const cents = Math.min(part.cents, unit.left);
          const extra = Math.min(part.extra, unit.left - cents);
          const kept = rules.overage === 'basket' ? Math.max(surplus, 0) : 0;
          if (cents + extra + kept === 0 && part.cents) continue;
          yield takeOff(unit, coupon, cents, extra, kept, slot);
          break;
        }
        case 'fixed_price':
          yield takeOff(unit, coupon, Math.max(unit.left - part.cents, 0), 0, 0, slot);
          break;
        case 'percent_off': {
          const base = rules.percent_base === 'shelf' ? unit.shelf : unit.left;
          const cents = Math.min(roundHalfUp(base * gives.bp, 10_000), unit.left);
          // Nothing off this unit may still make up the number that the coupon asks for.
          if (cents || asked > 1) yield takeOff(unit, coupon, cents, 0, 0, slot);
          break;
        }
        case 'free_item': {
          if (part.free && gives.leg !== null && gives.leg !== leg) continue;
          if (!part.free) {
            yield takeOff(unit, coupon, 0, 0, 0, slot);
            continue;
          }
          let cents = roundHalfUp(unit.left * gives.off_bp, 10_000);
          cents = gives.up_to_cents === null ? cents : Math.min(cents, gives.up_to_cents);
          if (cents) yield takeOff(unit, coupon, cents, 0, 0, slot);
          break;
        }
        case 'basket_off':
          continue;
      }
    }
  }
}

/** Multiplied or not: both where the house counts them, else as the coupon is.
 * @param {Filled<Coupon>} coupon @param {Counter} counter */
export function multiplications(coupon, counter) {
  const rule = counter.store.rules.multiplying;
  if (rule === null || !isMultiplied(coupon, counter)) return [false];
  return rule.per_transaction === null ? [true] : [true, false];
}

/**
 * The unit after every way to fill a slot of each chosen coupon, in the order given. A house that multiplies some
 * only does so with those that come first.
 * @param {UnitState} unit @param {readonly Filled<Coupon>[]} chosen @param {string} product
 * @param {Counter} counter
 * @returns {Generator<UnitState>}
 */
export function withCoupons(unit, chosen, product, counter) {
  const isInOrder = orderMatters(chosen);
  /** @param {UnitState} before @param {number} place @param {boolean} mayMultiply @returns {Generator<UnitState>} */
  function* afterEach(before, place, mayMultiply) {
    if (place === chosen.length) {
      yield before;
      return;
    }
    const variants = multiplications(chosen[place], counter);
    for (const multiplied of variants) {
      if (multiplied && !mayMultiply) continue;
      const passedOver = isInOrder && !multiplied && variants.length > 1;
      for (const after of couponSteps(before, chosen[place], product, counter, multiplied)) {
        yield* afterEach(after, place + 1, mayMultiply && !passedOver);
      }
    }
  }
  return afterEach(unit, 0, true);
}

/**
 * The unit after each of the percent discounts, in the order given.
 * @param {UnitState} unit @param {readonly [string, number][]} sources @param {Counter} counter
 * @returns {Generator<UnitState>}
 */
function* withPercents(unit, sources, counter) {
  if (sources.length === 0) {
    yield unit;
    return;
  }
  for (const after of percentSteps(unit, sources[0][0], sources[0][1], counter)) {
    yield* withPercents(after, sources.slice(1), counter);
  }
}

/**
 * Every choice of percent offers on a unit, in every order as far as that matters.
 * @param {readonly [string, number][]} offers @param {Counter} counter
 * @returns {[string, number][][]}
 */
function offersInOrder(offers, counter) {
  const rules = counter.store.rules;
  const chosen = choicesOf(offers, rules.percent_offers_per_unit);
  return rules.percent_base === 'shelf' ? chosen : chosen.flatMap((each) => [...permutations(each)]);
}

/** What tax is reckoned on, by the treatment that holds at the store (DEVELOPERS.md, step 6).
 * @param {UnitState} unit @param {Counter} counter */
function taxable(unit, counter) {
  const off = {
    none: 0,
    store_funded: unit.storeOff + unit.extraOff,
    all: unit.storeOff + unit.extraOff + unit.makerOff,
  }[counter.store.tax.treatment];
  return Math.max(unit.shelf - off, 0);
}

/**
 * The way that a unit is, once every step is done.
 * @param {UnitState} unit @param {string} product @param {Level} level @param {Counter} counter
 * @returns {Way}
 */
export function finished(unit, product, level, counter) {
  const afterStore = unit.shelf - unit.storeOff;
  const treatment = counter.store.tax.treatment;
  const { percents, slots } = unit;
  const store = counter.store.id;
  return {
    key: keyOf({ store, product, level, percents, slots }),
    store,
    product,
    level,
    percents,
    slots,
    cost: unit.left - unit.storeSurplus - unit.makerSurplus,
    taxable: taxable(unit, counter),
    spends: [unit.shelf, afterStore, afterStore - unit.makerOff - unit.extraOff],
    surplusLowersTax: treatment === 'all' || (treatment === 'store_funded' && unit.storeSurplus > 0),
  };
}

/**
 * The coupons of one issuer that can claim a unit of the product, basket coupons apart.
 * @param {Counter} counter @param {Issuer} issuer @param {string} product
 */
export function unitCoupons(counter, issuer, product) {
  return counter.coupons.filter(
    (coupon) =>
      coupon.issuer === issuer &&
      coupon.gives.kind !== 'basket_off' &&
      coupon.asks.some((ask) => asksFor(ask.products, product)),
  );
}

/**
 * Every state that one unit of the product can leave the register in.
 * @param {Filled<Product>} product @param {Filled<ShelfPrice> | null} tag @param {Counter} counter
 * @param {boolean} [withMaker]
 * @returns {[Level, UnitState][]}
 */
export function unitStates(product, tag, counter, withMaker = true) {
  const rules = counter.store.rules;
  const offers = counter.offers
    .filter((offer) => asksFor(offer.products, product.id))
    .map((offer) => /** @type {[string, number]} */ ([offer.id, offer.bp]));
  const storeCoupons = unitCoupons(counter, 'store', product.id);
  const makerCoupons = withMaker ? unitCoupons(counter, 'manufacturer', product.id) : [];
  const ownChecks = counter.rainChecks.filter((check) => check.product === product.id);
  /** @type {[Level, UnitState][]} */
  const found = [];
  const ownChoices = byStep(handedOver(storeCoupons, rules.store_coupons_per_unit), counter);
  const makerChoices = handedOver(makerCoupons, rules.manufacturer_coupons_per_unit);
  const offerChoices = offersInOrder(offers, counter);
  for (const level of levels(tag, ownChecks)) {
    for (const percents of offerChoices) {
      for (const ours of ownChoices) {
        for (const makers of makerChoices) {
          if (ours.flat().length > 0 && makers.length > 0 && !rules.store_with_manufacturer) continue;
          for (const done of throughSteps(level, percents, ours, makers, product.id, counter)) {
            found.push([level, done]);
          }
        }
      }
    }
  }
  return found;
}

/** Store coupons on a unit: the percent ones (step 2) and the others (step 3), each in their order.
 * @typedef {readonly [readonly Filled<Coupon>[], readonly Filled<Coupon>[]]} ByStep */

/**
 * @param {readonly Filled<Coupon>[][]} choices @param {Counter} counter
 * @returns {ByStep[]}
 */
function byStep(choices, counter) {
  /** @type {Map<string, ByStep>} */
  const found = new Map();
  for (const chosen of choices) {
    const takesPercent = chosen.filter((coupon) => coupon.gives.kind === 'percent_off');
    const others = chosen.filter((coupon) => coupon.gives.kind !== 'percent_off');
    const isAnyOrder = counter.store.rules.percent_base === 'shelf';
    const percents = isAnyOrder ? sorted(takesPercent, ({ id }) => id) : takesPercent;
    const key = JSON.stringify([percents, others].map((each) => each.map(({ id }) => id)));
    if (!found.has(key)) found.set(key, [percents, others]);
  }
  return [...found.values()];
}

/**
 * A unit at a price, after the percent offers and coupons chosen for it.
 * @param {Level} level @param {readonly [string, number][]} percents
 * @param {ByStep} ours @param {readonly Filled<Coupon>[]} makers
 * @param {string} product @param {Counter} counter
 * @returns {Generator<UnitState>}
 */
function* throughSteps(level, percents, [percentCoupons, centsCoupons], makers, product, counter) {
  const none = { storeOff: 0, makerOff: 0, extraOff: 0, storeSurplus: 0, makerSurplus: 0 };
  const start = { left: level.cents, shelf: level.cents, percents: [], slots: [], ...none };
  for (const afterOffers of withPercents(start, percents, counter)) {
    for (const afterPercents of withPercentCoupons(afterOffers, percentCoupons, product, counter)) {
      for (const afterStore of withCoupons(afterPercents, centsCoupons, product, counter)) {
        yield* withCoupons(afterStore, makers, product, counter);
      }
    }
  }
}

/**
 * The unit after percent store coupons (step 2), each filling a slot of its coupon.
 * @param {UnitState} unit @param {readonly Filled<Coupon>[]} chosen @param {string} product
 * @param {Counter} counter
 * @returns {Generator<UnitState>}
 */
function* withPercentCoupons(unit, chosen, product, counter) {
  if (chosen.length === 0) {
    yield unit;
    return;
  }
  const coupon = chosen[0];
  if (coupon.gives.kind !== 'percent_off') throw new Error(`${coupon.id} takes no percent off`);
  // Nothing off this unit may still make up the coupon's number, or the line's sum.
  const byItself = unitsAsked(coupon) === 1 && counter.store.rules.percent_rounding === 'unit';
  for (const [leg, ask] of coupon.asks.entries()) {
    if (!asksFor(ask.products, product)) continue;
    for (const after of percentSteps(unit, coupon.id, coupon.gives.bp, counter)) {
      if (after.left === unit.left && byItself) continue;
      const slot = slotIn(coupon.id, leg, 0, false, false, unit.left);
      const taken = { ...after, slots: [...after.slots, slot] };
      yield* withPercentCoupons(taken, chosen.slice(1), product, counter);
    }
  }
}
