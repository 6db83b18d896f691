/**
 * One transaction of the program: how many of each column, and what the register forces.
 * Twin of `server/engine/block.py`, which says what each row stands for.
 */

import { entryOf, known } from './entries.js';
import { floorDivide, roundHalfUp } from './money.js';
import { compare, sorted } from './order.js';
import { Sum, added, one } from './program.js';
import { asksFor, parts, unitsAsked } from './ways.js';

/** @import { Coupon, Filled, FreeItem, Measure, NForM } from './types.js' */
/** @import { Product, RewardOffer, ShelfPrice } from './types.js' */
/** @import { Program } from './program.js' */
/** @import { Column, Counter, OfferOn, Slot, Way } from './ways.js' */

/** A unit under a percentage. @typedef {readonly [number, Way, OfferOn]} Discounted */

const MOST_CENTS = 2 ** 30;
/** @type {readonly Measure[]} */
export const MEASURES = Object.freeze(['before_coupons', 'after_store_coupons', 'after_all_coupons']);

/**
 * The variables and sums of one transaction; `merchandise` in cents, `tax` in 1/`scale` cents.
 * @typedef {object} Block
 * @property {readonly number[]} columns variable per column, in the shelf's order
 * @property {Map<string, Sum>} units per product
 * @property {Map<string, Sum>} atTag units per product that no rain check pays for
 * @property {Map<string, Sum>} uses per coupon, multiplied or not
 * @property {Map<string, Sum>} offers
 * @property {Map<string, Sum>} rainChecks
 * @property {Map<string, Map<number, number>>} earned per reward and tier, the variable of its times
 * @property {Map<string, Sum>} basketUses
 * @property {Sum} merchandise
 * @property {Sum} tax
 * @property {number} used
 * @property {number} scale
 */

/** Per store, in checkout order. @typedef {ReadonlyMap<string, readonly Block[]>} Blocks */

/** What the register asks for, in parts of a cent where the block stands apart. @param {Block} block */
export const due = (block) => new Sum().plus(block.merchandise, block.scale).plus(block.tax);

/**
 * What a component buys from at one store: its counter, tags, products, columns and rewards.
 * @typedef {object} Shelf
 * @property {Counter} counter
 * @property {ReadonlyMap<string, Filled<ShelfPrice> | null>} tags
 * @property {ReadonlyMap<string, Filled<Product>>} products
 * @property {readonly Column[]} columns
 * @property {readonly Filled<RewardOffer>[]} rewards
 * @property {number} mostUnits
 * @property {boolean} whole whether every way to buy is among the columns
 */

/** @typedef {readonly (readonly [number, Way])[]} Placed each way with its column's variable */

// Apart from the rest of its transaction a cluster's tax cannot be rounded yet: it is reckoned in
// sixteenths of a cent, rounded down per column, so that it never exceeds the exact tax.
export const APART_SCALE = 16;

/**
 * Adds one transaction at the shelf's store to the program.
 * @param {Program} program @param {Shelf} shelf
 * @param {boolean} apart what other clusters put into the transaction is not known
 */
export function buildBlock(program, shelf, apart) {
  const counts = shelf.columns.map(() => program.variable(0, shelf.mostUnits));
  const placed = shelf.columns.flatMap((column, place) =>
    column.ways.map((way) => /** @type {const} */ ([counts[place], way])),
  );
  /** @type {Block} */
  const block = {
    columns: counts,
    units: perProduct(placed, shelf),
    atTag: perProduct(
      placed.filter(([, way]) => !way.level.rainCheck),
      shelf,
    ),
    uses: new Map(),
    offers: new Map(),
    rainChecks: new Map(),
    earned: new Map(),
    basketUses: new Map(),
    merchandise: new Sum(),
    tax: new Sum(),
    used: program.variable(0, 1),
    scale: apart ? APART_SCALE : 1,
  };
  used(program, block, shelf);
  deals(program, placed, shelf);
  percentOffers(program, block, placed, shelf);
  lineRounding(program, placed, shelf);
  coupons(program, block, placed, shelf);
  rainChecks(block, placed, shelf);
  const baskets = basketCoupons(program, block, placed, shelf, apart);
  couponsWithinItems(program, block, shelf, apart);
  if (apart) {
    reckonedApart(program, block, placed, shelf, baskets);
  } else {
    const surplus = merchandise(program, block, placed, shelf, baskets);
    tax(program, block, placed, shelf, baskets, surplus);
  }
  rewards(program, block, placed, shelf, baskets, apart);
  return block;
}

/** The class of tax on a way's product, and its rate. @param {Way} way @param {Shelf} shelf */
const taxClassOf = (way, shelf) => known(shelf.products, way.product).tax_class;

/** @param {Readonly<Record<string, number>>} rates @param {string} taxClass */
const rateOf = (rates, taxClass) => (Object.hasOwn(rates, taxClass) ? rates[taxClass] : 0);

/** @param {Placed} placed @param {Shelf} shelf */
function perProduct(placed, shelf) {
  const units = new Map([...shelf.products.keys()].map((product) => [product, new Sum()]));
  for (const [variable, way] of placed) known(units, way.product).add(variable, 1);
  return units;
}

/** A transaction exists when a unit is in it; limits per transaction of each product.
 * @param {Program} program @param {Block} block @param {Shelf} shelf */
function used(program, block, shelf) {
  const everything = added(block.units.values());
  program.require(everything.plus(one(block.used), -shelf.mostUnits), { high: 0 });
  program.require(everything.plus(one(block.used), -1), { low: 0 });
  for (const [product, total] of block.atTag) {
    const limit = known(shelf.tags, product)?.per_transaction ?? null;
    if (limit !== null) program.require(total, { high: limit });
  }
}

/**
 * Units of some products per role that their deal gives them.
 * @param {Placed} placed @param {ReadonlySet<string>} products
 * @returns {Map<string, Sum>}
 */
function roleSums(placed, products) {
  /** @type {Map<string, Sum>} */
  const roles = new Map();
  for (const [variable, way] of placed) {
    if (products.has(way.product)) entryOf(roles, way.level.role, () => new Sum()).add(variable, 1);
  }
  return roles;
}

/** Step 1: which units get which price is the register's to say.
 * @param {Program} program @param {Placed} placed @param {Shelf} shelf */
function deals(program, placed, shelf) {
  /** @type {Map<string, {cents: number, product: string}[]>} */
  const pairs = new Map();
  for (const [product, tag] of shelf.tags) {
    if (tag === null || tag.deal === null) continue;
    if (tag.deal.kind === 'n_for_m') {
      nForM(program, roleSums(placed, new Set([product])), tag.deal);
    } else {
      const mix = tag.deal.mix;
      entryOf(pairs, mix ? `mix ${mix}` : `only ${product}`, () => []).push({ cents: tag.cents, product });
    }
  }
  for (const members of pairs.values()) {
    // Among the units at or above any price, the register reduces every second one.
    const prices = sorted(new Set(members.map(({ cents }) => cents)), (cents) => -cents);
    for (const price of prices) {
      const dear = members.filter(({ cents }) => cents >= price).map(({ product }) => product);
      const roles = roleSums(placed, new Set(dear));
      const unpaired = (roles.get('full') ?? new Sum()).plus(roles.get('reduced') ?? new Sum(), -1);
      program.require(unpaired, { low: 0, high: 1 });
    }
  }
}

/** Odd cents on the first units; with must-buy whole groups, and less than a group beside them.
 * @param {Program} program @param {ReadonlyMap<string, Sum>} roles @param {Filled<NForM>} deal */
function nForM(program, roles, deal) {
  const odd = deal.cents % deal.n;
  const [first, group] = [roles.get('first') ?? new Sum(), roles.get('group') ?? new Sum()];
  if (!deal.must_buy) {
    if (odd) {
      const together = first.plus(group);
      program.require(new Sum().plus(first, deal.n).plus(together, -odd), { low: 0, high: deal.n - 1 });
    }
    return;
  }
  const groups = program.variable(0, 10_000);
  program.require(first.plus(one(groups), -odd), { low: 0, high: 0 });
  program.require(group.plus(one(groups), odd - deal.n), { low: 0, high: 0 });
  program.require(roles.get('rest') ?? new Sum(), { high: deal.n - 1 });
}

/** @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf */
function percentOffers(program, block, placed, shelf) {
  for (const offer of shelf.counter.offers) {
    const total = new Sum();
    for (const [variable, way] of placed) {
      if (way.percents.some((each) => each.source === offer.id)) total.add(variable, 1);
    }
    block.offers.set(offer.id, total);
    if (offer.units_per_transaction !== null && total.terms.size > 0) {
      program.require(total, { high: offer.units_per_transaction });
    }
  }
}

/** Where the house rounds a percent per line: the line's discount is the rounded sum.
 * @param {Program} program @param {Placed} placed @param {Shelf} shelf */
function lineRounding(program, placed, shelf) {
  if (shelf.counter.store.rules.percent_rounding !== 'line') return;
  /** @type {Map<string, Map<string, Discounted[]>>} by product and source */
  const lines = new Map();
  /** @type {[string, Discounted[]][]} */
  const inOrder = [];
  for (const [variable, way] of placed) {
    for (const each of way.percents) {
      const ofProduct = entryOf(lines, way.product, () => new Map());
      const line = entryOf(ofProduct, each.source, () => {
        /** @type {Discounted[]} */
        const made = [];
        inOrder.push([way.product, made]);
        return made;
      });
      line.push([variable, way, each]);
    }
  }
  for (const [product, units] of inOrder) {
    const [given, exact] = [new Sum(), new Sum()];
    const [able, unable] = [new Sum(), new Sum()];
    const leading = leadingRole(known(shelf.tags, product));
    const ahead = roleSums(placed, new Set([product])).get(leading) ?? new Sum();
    const behind = new Sum();
    for (const [variable, way, each] of units) {
      given.add(variable, 10_000 * each.cents);
      exact.add(variable, each.base * each.bp);
      if (way.level.rainCheck) ahead.add(variable, 1);
      // Of several percentages one may find too little left; then what it takes tells nothing.
      if (way.percents.length > 1 || each.cents === roundHalfUp(each.base * each.bp, 10_000)) {
        able.add(variable, 1);
        continue;
      }
      unable.add(variable, 1);
      if (way.level.role === leading) {
        ahead.add(variable, -1);
        behind.add(variable, 1);
      }
    }
    if ([...given.terms].some(([variable, coefficient]) => coefficient !== exact.terms.get(variable))) {
      program.require(given.plus(exact, -1), { low: -4_999, high: 5_000 });
    }
    for (const [before, after] of [
      [able, unable],
      [ahead, behind],
    ]) {
      if (after.terms.size > 0) {
        program.require(new Sum().plus(before, shelf.mostUnits).plus(after, -1), { low: 0 });
      }
    }
  }
}

/** The part in the deal of the first of a product's units on the belt; empty where any may lie first.
 * @param {Filled<ShelfPrice> | null} tag */
function leadingRole(tag) {
  const deal = tag === null ? null : tag.deal;
  if (deal !== null && deal.kind === 'n_for_m') return deal.cents % deal.n ? 'first' : '';
  return deal !== null && deal.kind === 'buy_one_get_one' && deal.mix === '' ? 'full' : '';
}

/** Slots of a use go together; limits per transaction; how many the house multiplies.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf */
function coupons(program, block, placed, shelf) {
  const rules = shelf.counter.store.rules;
  /** @type {Map<string, [number, Slot][]>} */
  const slots = new Map();
  for (const [variable, way] of placed) {
    for (const slot of way.slots) {
      if (slot.part >= 0) {
        entryOf(slots, variantOf(slot.coupon, slot.multiplied), () => []).push([variable, slot]);
      }
    }
  }
  /** @type {Map<string, Sum>} */
  const wholes = new Map();
  for (const [place, column] of shelf.columns.entries()) {
    for (const [coupon, multiplied] of column.wholeUses) {
      entryOf(wholes, variantOf(coupon, multiplied), () => new Sum()).add(block.columns[place], 1);
    }
  }
  let multiplied = new Sum();
  for (const coupon of shelf.counter.coupons) {
    if (coupon.gives.kind === 'basket_off') continue;
    let total = new Sum();
    for (const variant of [false, true]) {
      let times = wholes.get(variantOf(coupon.id, variant)) ?? new Sum();
      const own = slots.get(variantOf(coupon.id, variant));
      if (own !== undefined) times = times.plus(uses(program, coupon, variant, own, shelf));
      total = total.plus(times);
      if (variant) multiplied = multiplied.plus(times);
    }
    if (total.terms.size === 0) continue;
    block.uses.set(coupon.id, total);
    const like = rules.like_coupons_per_transaction ?? Infinity;
    const limit = Math.min(coupon.per_transaction ?? Infinity, like);
    if (limit < coupon.copies) program.require(total, { high: limit });
  }
  const most = rules.multiplying?.per_transaction ?? null;
  if (most !== null && multiplied.terms.size > 0) program.require(multiplied, { high: most });
}

/** A coupon, multiplied or not, as the key of a map. @param {string} coupon @param {boolean} multiplied */
const variantOf = (coupon, multiplied) => `${coupon} ${multiplied}`;

/**
 * How many times the coupon is used (multiplied or not), its slots tied together.
 * @param {Program} program @param {Filled<Coupon>} coupon @param {boolean} multiplied
 * @param {readonly [number, Slot][]} slots @param {Shelf} shelf
 */
function uses(program, coupon, multiplied, slots, shelf) {
  if (unitsAsked(coupon) === 1) {
    const single = new Sum();
    for (const [variable] of slots) single.add(variable, 1);
    return single;
  }
  const times = program.variable(0, coupon.copies);
  for (const [index, part] of parts(coupon, shelf.counter, multiplied).entries()) {
    const filled = new Sum();
    for (const [variable, slot] of slots) filled.add(variable, Number(slot.part === index));
    program.require(filled.plus(one(times), -part.count), { low: 0, high: 0 });
  }
  for (const [leg, ask] of coupon.asks.length > 1 ? coupon.asks.entries() : []) {
    const filled = new Sum();
    for (const [variable, slot] of slots) filled.add(variable, Number(slot.leg === leg));
    program.require(filled.plus(one(times), -ask.units), { low: 0, high: 0 });
  }
  if (coupon.gives.kind === 'free_item') cheapestIsFree(program, coupon, coupon.gives, slots);
  return one(times);
}

/**
 * The free unit of a use is its cheapest: at any price, the units paid at or above it must
 * be enough for the free ones at or above it.
 * @param {Program} program @param {Filled<Coupon>} coupon @param {Filled<FreeItem>} gives
 * @param {readonly [number, Slot][]} slots
 */
function cheapestIsFree(program, coupon, gives, slots) {
  const rivals = slots.filter(([, slot]) => gives.leg === null || slot.leg === gives.leg);
  const beside = (gives.leg === null ? unitsAsked(coupon) : coupon.asks[gives.leg].units) - 1;
  if (beside === 0) return;
  const free = rivals.filter(([, slot]) => slot.free).map(([, slot]) => slot.leftBefore);
  for (const price of sorted(new Set(free), (cents) => cents)) {
    const balance = new Sum();
    for (const [variable, slot] of rivals) {
      if (slot.leftBefore >= price) balance.add(variable, slot.free ? -beside : 1);
    }
    program.require(balance, { low: 0 });
  }
}

/** @param {Block} block @param {Placed} placed @param {Shelf} shelf */
function rainChecks(block, placed, shelf) {
  for (const check of shelf.counter.rainChecks) {
    const total = new Sum();
    for (const [variable, way] of placed) total.add(variable, Number(way.level.rainCheck === check.id));
    block.rainChecks.set(check.id, total);
  }
}

/** A basket coupon in one transaction: the cents it takes off, and off each taxed class.
 * @typedef {{coupon: Filled<Coupon>, cents: number, byClass: Map<string, number>}} Basket */

/**
 * What a unit adds to a spend. The surplus of overage falls on no unit that is known here; where
 * all goods count it is taken off, else it is left out in the shopper's favour.
 * @param {Way} way @param {Measure} measure @param {readonly string[]} products @param {Shelf} shelf
 * @param {boolean} apart
 */
function spendOf(way, measure, products, shelf, apart) {
  const everything = !apart && [...shelf.products.keys()].every((each) => asksFor(products, each));
  return measure === 'after_all_coupons' && everything ? way.cost : way.spends[MEASURES.indexOf(measure)];
}

/**
 * A spend, or 0 where more surplus than goods would make it less.
 * @param {Program} program @param {Sum} spend @param {Placed} placed @param {Shelf} shelf
 */
function neverBelowZero(program, spend, placed, shelf) {
  const terms = [...spend.terms];
  if (terms.every(([, value]) => value >= 0) || placed.every(([, way]) => way.cost >= 0)) return spend;
  let most = 0;
  for (const [, way] of placed) most = Math.max(most, Math.abs(way.cost), way.level.cents);
  most *= shelf.mostUnits;
  for (const [variable, value] of terms) if (value === -1) most += program.upper[variable];
  const [nothing, reached] = [program.variable(0, 1), program.variable(0, most)];
  program.require(spend.plus(one(reached), -1).plus(one(nothing), most), { low: 0 });
  program.require(one(reached).plus(one(nothing), most), { high: most });
  return one(reached);
}

/**
 * Whether the surplus of overage lowers an unknown part of what a basket coupon counts.
 * @param {Filled<Coupon>} coupon @param {Counter} counter @param {readonly string[]} products
 */
export const surplusMayMiss = (coupon, counter, products) =>
  coupon.gives.kind === 'basket_off' &&
  coupon.gives.measure === 'after_all_coupons' &&
  counter.store.rules.overage === 'basket' &&
  !products.every((each) => asksFor(coupon.asks[0].products, each));

/**
 * Step 5: a threshold to reach, a value no larger than what is left.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {boolean} apart
 * @returns {Basket[]}
 */
function basketCoupons(program, block, placed, shelf, apart) {
  const rules = shelf.counter.store.rules;
  /** @type {Basket[]} */
  const found = [];
  /** @type {Sum[]} */
  const allUses = [];
  const alone = shelf.counter.coupons.filter((coupon) => coupon.gives.kind === 'basket_off').length === 1;
  for (const coupon of shelf.counter.coupons) {
    const gives = coupon.gives;
    if (gives.kind !== 'basket_off' || rules.basket_coupons_per_transaction === 0) continue;
    const eligible = coupon.asks[0].products;
    const [spend, left] = [new Sum(), new Sum()];
    for (const [variable, way] of placed) {
      if (asksFor(eligible, way.product)) {
        spend.add(variable, spendOf(way, gives.measure, eligible, shelf, apart));
        left.add(variable, Math.max(way.cost, 0));
      }
      if (!apart && surplusMayMiss(coupon, shelf.counter, [...shelf.products.keys()])) {
        // All of it may fall on what the coupon counts: then it must reach its spend even so.
        spend.add(variable, -Math.max(-way.cost, 0));
      }
    }
    const most = Math.min(
      coupon.copies,
      rules.basket_coupons_per_transaction,
      coupon.per_transaction ?? coupon.copies,
      rules.like_coupons_per_transaction ?? coupon.copies,
    );
    const times = program.variable(0, most);
    const anyUse = program.variable(0, 1);
    const cents = program.variable(0, most * gives.cents);
    program.require(one(times).plus(one(anyUse), -most), { high: 0 });
    const counted = neverBelowZero(program, spend, placed, shelf);
    program.require(counted.plus(one(anyUse), -gives.from_cents), { low: 0 });
    program.require(one(cents).plus(one(times), -gives.cents), { high: 0 });
    program.require(left.plus(one(cents), -1), { low: 0 });
    if (alone && rules.overage !== 'basket') {
      wholeValue(program, one(cents), one(times, gives.cents), left, shelf.mostUnits);
    }
    block.basketUses.set(coupon.id, one(times));
    block.uses.set(coupon.id, one(times));
    allUses.push(one(times));
    found.push({ coupon, cents, byClass: basketByClass(program, coupon, cents, shelf) });
  }
  if (found.length > 1 || found.some((basket) => basket.coupon.copies > 1)) {
    program.require(added(allUses), { high: rules.basket_coupons_per_transaction });
    const left = new Sum();
    for (const [variable, way] of placed) left.add(variable, Math.max(way.cost, 0));
    program.require(left.plus(added(found.map((basket) => one(basket.cents))), -1), { low: 0 });
  }
  return found;
}

/**
 * A basket coupon takes its whole value or all that is left: by half of one no receipt is kept up
 * to a threshold, nor what is due to a slip.
 * @param {Program} program @param {Sum} cents @param {Sum} value @param {Sum} left
 * @param {number} mostUnits
 */
function wholeValue(program, cents, value, left, mostUnits) {
  const most = Math.max(0, ...[...cents.terms.keys()].map((variable) => program.upper[variable]));
  const mostLeft = mostUnits * Math.max(0, ...left.terms.values());
  const allLeft = program.variable(0, 1);
  program.require(cents.plus(value, -1).plus(one(allLeft), most), { low: 0 });
  program.require(cents.plus(left, -1).plus(one(allLeft), -mostLeft), { low: 0 - mostLeft });
}

/** No more manufacturer coupons than items, those on the basket counted in. With one coupon on a unit
 * only basket coupons can be too many; apart, the items of other clusters count for them too.
 * @param {Program} program @param {Block} block @param {Shelf} shelf @param {boolean} apart */
function couponsWithinItems(program, block, shelf, apart) {
  const rules = shelf.counter.store.rules;
  const makers = shelf.counter.coupons.filter(
    (coupon) => coupon.issuer === 'manufacturer' && block.uses.has(coupon.id),
  );
  const onBasket = makers.some((coupon) => coupon.gives.kind === 'basket_off') && !apart;
  if (rules.coupons_no_more_than_items && (onBasket || rules.manufacturer_coupons_per_unit > 1)) {
    const uses = added(makers.map((coupon) => known(block.uses, coupon.id)));
    program.require(added(block.units.values()).plus(uses, -1), { low: 0 });
  }
}

/**
 * How much of a basket coupon lowers each taxed class.
 * @param {Program} program @param {Filled<Coupon>} coupon @param {number} cents @param {Shelf} shelf
 * @returns {Map<string, number>}
 */
function basketByClass(program, coupon, cents, shelf) {
  const { treatment, rates } = shelf.counter.store.tax;
  const lowers = treatment === 'all' || (treatment === 'store_funded' && coupon.issuer === 'store');
  if (!lowers || coupon.gives.kind !== 'basket_off') return new Map();
  const eligible = [...shelf.products.values()].filter((product) =>
    asksFor(coupon.asks[0].products, product.id),
  );
  const classes = sorted(new Set(eligible.map((product) => product.tax_class)), (each) => each);
  const taxed = classes.filter((each) => rateOf(rates, each) !== 0);
  if (classes.length === 1) return new Map(taxed.map((each) => [each, cents]));
  const most = program.upper[cents];
  const spread = new Map(taxed.map((each) => [each, program.variable(0, most)]));
  program.require(one(cents, -1).plus(added([...spread.values()].map((each) => one(each)))), { high: 0 });
  return spread;
}

/** Merchandise and tax of a cluster by itself, never more than its part of the whole.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {readonly Basket[]} baskets */
function reckonedApart(program, block, placed, shelf, baskets) {
  const { basis, rates } = shelf.counter.store.tax;
  for (const [variable, way] of placed) {
    block.merchandise.add(variable, way.cost);
    const rate = rateOf(rates, taxClassOf(way, shelf));
    if (basis === 'item') {
      block.tax.add(variable, APART_SCALE * roundHalfUp(way.taxable * rate, 100_000));
    } else {
      block.tax.add(variable, floorDivide(APART_SCALE * way.taxable * rate, 100_000));
    }
  }
  block.merchandise = block.merchandise.plus(added(baskets.map((basket) => one(basket.cents))), -1);
  for (const basket of baskets) {
    for (const [taxClass, cents] of basket.byClass) {
      const relief = program.variable(0, MOST_CENTS);
      const exact = one(cents, APART_SCALE * rates[taxClass]);
      program.require(exact.plus(one(relief), -100_000), { low: -100_000 });
      block.tax.add(relief, -1);
    }
  }
}

/**
 * What is paid before tax, and how much of the surplus lowers each taxed class. Where overage goes
 * to the basket, the merchandise stops at zero.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {readonly Basket[]} baskets
 * @returns {Map<string, number>}
 */
function merchandise(program, block, placed, shelf, baskets) {
  let total = new Sum();
  for (const [variable, way] of placed) total.add(variable, way.cost);
  total = total.plus(added(baskets.map((basket) => one(basket.cents))), -1);
  if (placed.every(([, way]) => way.cost >= 0)) {
    block.merchandise = total;
    return new Map();
  }
  const paid = program.variable(0, MOST_CENTS);
  program.require(one(paid).plus(total, -1), { low: 0 });
  // The greater of the two and no more: no receipt is kept up to a rebate's least by paying too much.
  const nothing = program.variable(0, 1);
  let most = shelf.mostUnits * Math.max(0, ...placed.map(([, way]) => Math.abs(way.cost)));
  for (const basket of baskets) most += program.upper[basket.cents];
  program.require(one(paid).plus(total, -1).plus(one(nothing), -most), { high: 0 });
  program.require(one(paid).plus(one(nothing), most), { high: most });
  block.merchandise = one(paid);
  const { rates } = shelf.counter.store.tax;
  const surplus = new Sum();
  for (const [variable, way] of placed) {
    if (way.surplusLowersTax) surplus.add(variable, Math.max(-way.cost, 0));
  }
  const taxed = Object.keys(rates).sort(compare).filter((each) => rates[each] !== 0);
  if (surplus.terms.size === 0 || taxed.length === 0) return new Map();
  const spread = new Map(taxed.map((each) => [each, program.variable(0, MOST_CENTS)]));
  program.require(surplus.plus(added([...spread.values()].map((each) => one(each))), -1), { low: 0 });
  return spread;
}

/** Step 6: rounded once, per transaction and class or per unit.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {readonly Basket[]} baskets @param {ReadonlyMap<string, number>} surplus */
function tax(program, block, placed, shelf, baskets, surplus) {
  const { basis, rates } = shelf.counter.store.tax;
  if (basis === 'item') {
    for (const [variable, way] of placed) {
      const rate = rateOf(rates, taxClassOf(way, shelf));
      block.tax.add(variable, roundHalfUp(way.taxable * rate, 100_000));
    }
    relief(program, block, placed, shelf, baskets, surplus);
    return;
  }
  for (const taxClass of Object.keys(rates).sort(compare)) {
    const rate = rates[taxClass];
    const base = new Sum();
    for (const [variable, way] of placed) {
      if (rate && taxClassOf(way, shelf) === taxClass) base.add(variable, way.taxable);
    }
    if (base.terms.size === 0) continue;
    for (const basket of baskets) {
      const off = basket.byClass.get(taxClass);
      if (off !== undefined) base.add(off, -1);
    }
    const over = surplus.get(taxClass);
    if (over !== undefined) base.add(over, -1);
    const cents = program.variable(0, MOST_CENTS);
    // floor((rate * base + 50000) / 100000), and no more: a slip must not be fed with tax.
    program.require(one(cents, 100_000).plus(base, -rate), { low: -49_999, high: 50_000 });
    block.tax.add(cents, 1);
  }
}

/** The most that basket coupons and overage can take off a tax that is rounded per unit: the
 * exact part, and less than a cent for each unit. A bound in the shopper's favour.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {readonly Basket[]} baskets @param {ReadonlyMap<string, number>} surplus */
function relief(program, block, placed, shelf, baskets, surplus) {
  const { rates } = shelf.counter.store.tax;
  for (const taxClass of Object.keys(rates).sort(compare)) {
    const lowered = added(
      [...baskets.map((basket) => basket.byClass.get(taxClass)), surplus.get(taxClass)]
        .filter((variable) => variable !== undefined)
        .map((variable) => one(variable)),
    );
    if (lowered.terms.size === 0 || rates[taxClass] === 0) continue;
    const [units, cents] = [new Sum(), new Sum()];
    for (const [variable, way] of placed) {
      if (taxClassOf(way, shelf) === taxClass) {
        units.add(variable, 1);
        cents.add(variable, roundHalfUp(way.taxable * rates[taxClass], 100_000));
      }
    }
    const off = program.variable(0, MOST_CENTS);
    program.require(lowered.plus(one(off), -1), { low: 0 });
    program.require(cents.plus(one(off), -1), { low: 0 });
    const exact = new Sum().plus(lowered, rates[taxClass]).plus(units, 100_000);
    program.require(exact.plus(one(off), -100_000), { low: 0 });
    block.tax.add(off, -1);
  }
}

/** Step 8: progress reaches the threshold, times are limited. Where a basket coupon is spread over
 * more than what the reward counts, its part is left out, in the shopper's favour.
 * @param {Program} program @param {Block} block @param {Placed} placed @param {Shelf} shelf
 * @param {readonly Basket[]} baskets @param {boolean} apart */
function rewards(program, block, placed, shelf, baskets, apart) {
  for (const reward of shelf.rewards) {
    let progress = new Sum();
    for (const [variable, way] of placed) {
      if (asksFor(reward.products, way.product)) {
        const spend = spendOf(way, reward.measure, reward.products, shelf, apart);
        progress.add(variable, reward.by === 'units' ? 1 : spend);
      }
    }
    if (reward.by === 'spend' && reward.measure === 'after_all_coupons') {
      for (const { coupon, cents } of baskets) {
        const eligible = [...shelf.products.keys()].filter((each) => asksFor(coupon.asks[0].products, each));
        if (eligible.every((each) => asksFor(reward.products, each))) progress.add(cents, -1);
      }
    }
    progress = neverBelowZero(program, progress, placed, shelf);
    /** @type {Map<number, number>} */
    const earned = new Map();
    block.earned.set(reward.id, earned);
    if (reward.tiers.length === 1) {
      const times = program.variable(0, reward.per_transaction ?? 10_000);
      program.require(progress.plus(one(times), -reward.tiers[0].threshold), { low: 0 });
      earned.set(0, times);
      continue;
    }
    const chosen = reward.tiers.map(() => program.variable(0, 1));
    program.require(added(chosen.map((each) => one(each))), { high: 1 });
    for (const [index, tier] of reward.tiers.entries()) {
      program.require(progress.plus(one(chosen[index]), -tier.threshold), { low: 0 });
      earned.set(index, chosen[index]);
    }
  }
}
