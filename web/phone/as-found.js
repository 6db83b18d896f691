/**
 * The trip as packed, with what was found in the stores since: products and their tags, coupons.
 * For the screens, which must be able to name them; the engine folds the events itself. Pure.
 */

/** @import { Event, Found, ShelfPrice, Trip } from '../engine/types.js' */

/**
 * @param {Trip} trip
 * @param {readonly Event[]} standing the events that still count, in order
 * @returns {Trip}
 */
export function asFound(trip, standing) {
  return standing.reduce((found, { what }) => {
    if (what.kind === 'coupon_found') return withCoupon(found, what.coupon);
    return what.kind === 'found' ? withProduct(found, what) : found;
  }, trip);
}

/** @param {Trip} trip @param {import('../engine/types.js').Coupon} coupon @returns {Trip} */
function withCoupon(trip, coupon) {
  const coupons = trip.coupons ?? [];
  return coupons.some((each) => each.id === coupon.id) ? trip : { ...trip, coupons: [...coupons, coupon] };
}

/** @param {Trip} trip @param {Found} found @returns {Trip} */
function withProduct(trip, { want, store, product, cents, product_data: data }) {
  const isNew = data && trip.products.every((each) => each.id !== product);
  const wants = (trip.wants ?? []).map((each) =>
    each.id === want && !each.products.includes(product)
      ? { ...each, products: [...each.products, product] } : each);
  const tagged = trip.prices.some((tag) => tag.store === store && tag.product === product);
  // It stands where the others of its kind stand, as far as anybody knows.
  const kin = trip.prices.find((tag) =>
    tag.store === store && wants.some((each) => each.id === want && each.products.includes(tag.product)));
  /** @type {ShelfPrice} */
  const tag = { store, product, cents, place: kin?.place ?? '' };
  return {
    ...trip,
    products: isNew ? [...trip.products, data] : trip.products,
    wants,
    prices: tagged ? trip.prices : [...trip.prices, tag],
  };
}
