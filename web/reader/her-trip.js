/**
 * A published trip with what is hers: the prices on her tags, the coupons in her hand, her needs, the stores
 * that she goes to, her region. Pure; the outcome is an ordinary trip, planned like any other.
 */

/** @import { Coupon, ShelfPrice, Trip, Want } from '../engine/types.js' */

/**
 * What a reader changed. Whatever is not named stays as published.
 * @typedef {object} Mine
 * @property {number} version counts her changes: a plan stands on one of them
 * @property {string[]} leftOut ids of stores that she does not go to
 * @property {string} region '' as published
 * @property {Record<string, number>} cents what her tags show, by `spotOf`
 * @property {Record<string, number>} copies coupons in her hand, by id
 * @property {Record<string, {need: number, welcome: number}>} needs by want id
 */

/** @returns {Mine} */
export const nothingOfHers = () => ({ version: 1, leftOut: [], region: '', cents: {}, copies: {}, needs: {} });

/** @param {string} store @param {string} product */
export const spotOf = (store, product) => `${store} ${product}`;

/** Whether anything is hers. @param {Mine} mine */
export const isChanged = ({ leftOut, region, cents, copies, needs }) =>
  leftOut.length > 0 || region !== '' || [cents, copies, needs].some((each) => Object.keys(each).length > 0);

/**
 * The published trip as she would plan it.
 * @param {Trip} published @param {Mine} mine
 * @returns {Trip}
 */
export function herTrip(published, mine) {
  const gone = new Set(mine.leftOut);
  const goes = (/** @type {string} */ store) => !gone.has(store);
  const places = published.stores.filter(({ id, channel_of: parent }) => goes(id) && !(parent && gone.has(parent)));
  const here = new Set(places.map(({ id }) => id));
  return {
    ...published,
    version: mine.version,
    ...(mine.region ? { region: mine.region } : {}),
    // The store's region decides before the trip's.
    stores: mine.region ? places.map((store) => ({ ...store, region: mine.region })) : places,
    prices: published.prices.filter(({ store }) => here.has(store)).map((tag) => herTag(tag, mine)),
    wants: (published.wants ?? []).map((want) => herWant(want, mine)),
    coupons: (published.coupons ?? []).filter((coupon) => takenSomewhere(coupon.stores, here))
      .map((coupon) => herCoupon(coupon, mine, here)),
    percent_offers: (published.percent_offers ?? []).filter(({ store }) => here.has(store)),
    rewards: (published.rewards ?? []).filter(({ store }) => here.has(store)),
    ...rebatesAt(published, here),
  };
}

/** The tag keeps its deal: that is the store's, whatever one unit costs. @param {ShelfPrice} tag @param {Mine} mine @returns {ShelfPrice} */
function herTag(tag, mine) {
  const cents = mine.cents[spotOf(tag.store, tag.product)];
  if (cents === undefined || cents === tag.cents) return tag;
  const { regular_cents: regular = null, ...rest } = tag;
  // What is above the regular price is no sale: nothing must look saved.
  return regular !== null && regular > cents ? { ...rest, regular_cents: regular, cents } : { ...rest, cents };
}

/** @param {Want} want @param {Mine} mine @returns {Want} */
const herWant = (want, mine) => ({ ...want, ...mine.needs[want.id] });

/** @param {readonly string[] | undefined} stores @param {ReadonlySet<string>} here */
const takenSomewhere = (stores, here) => !stores || stores.length === 0 || stores.some((store) => here.has(store));

/** @param {Coupon} coupon @param {Mine} mine @param {ReadonlySet<string>} here @returns {Coupon} */
function herCoupon(coupon, mine, here) {
  const stores = (coupon.stores ?? []).filter((store) => here.has(store));
  return { ...coupon, copies: mine.copies[coupon.id] ?? coupon.copies ?? 1, ...(stores.length > 0 ? { stores } : {}) };
}

/** A set bonus goes with any rebate of its set. @param {Trip} published @param {ReadonlySet<string>} here */
function rebatesAt(published, here) {
  const rebates = (published.rebates ?? []).filter(({ stores }) => takenSomewhere(stores, here))
    .map((rebate) => (rebate.stores?.length ? { ...rebate, stores: rebate.stores.filter((store) => here.has(store)) } : rebate));
  const known = new Set(rebates.map(({ id }) => id));
  const bonuses = (published.set_bonuses ?? []).filter((bonus) => bonus.rebates.every((id) => known.has(id)));
  return { rebates, set_bonuses: bonuses };
}

/** The regions that prices or coupons of the trip speak of. @param {Trip} published @returns {string[]} */
export function regionsOf(published) {
  const ofCoupons = (published.coupons ?? []).flatMap(({ gives }) =>
    gives.kind === 'cents_off' ? Object.keys(gives.regional_cents ?? {}) : []);
  const ofStores = published.stores.flatMap(({ region }) => (region ? [region] : []));
  return [...new Set([...ofStores, ...ofCoupons])].sort();
}

/**
 * What she changed of one kind, with one value set; what is as published is not hers.
 * @template T
 * @param {Record<string, T>} all @param {string} key @param {T} value @param {boolean} same as published
 * @returns {Record<string, T>}
 */
export function withHers(all, key, value, same) {
  const others = Object.fromEntries(Object.entries(all).filter(([other]) => other !== key));
  return same ? others : { ...others, [key]: value };
}
