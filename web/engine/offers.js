/**
 * The nouns: the shape of every document that the engine reads. Twin of `server/engine/offers.py`,
 * which says what each field means; `types.js` has the types.
 */

import { filled } from './documents.js';

/** @import { Shape } from './documents.js' */
/** @import { Filled, Trip } from './types.js' */

// Defaults are shared by all records that leave the field out: never to be changed in place.
/** @type {readonly never[]} */
const NONE = Object.freeze([]);
const NOTHING = Object.freeze({});
const NULL = null;

/** @type {Shape} */
export const MULTIPLYING = { defaults: { times: 2, up_to_cents: 50, per_transaction: NULL } };

/** @type {Shape} */
export const HOUSE_RULES = {
  defaults: {
    manufacturer_coupons_per_unit: 1,
    store_coupons_per_unit: 1,
    percent_offers_per_unit: 1,
    store_with_manufacturer: true,
    like_coupons_per_transaction: 4,
    coupons_no_more_than_items: true,
    slip_counts_as_manufacturer_coupon: false,
    percent_base: 'shelf',
    percent_rounding: 'unit',
    multiplying: NULL,
    overage: 'cut',
    basket_coupons_per_transaction: 1,
    slips_buy_gift_cards: false,
    transactions_per_visit: 2,
  },
  parts: { multiplying: MULTIPLYING },
};

/** @type {Shape} */
export const TAX = { defaults: { rates: NOTHING, treatment: 'store_funded', basis: 'invoice' } };

/** @type {Shape} */
export const STORE = {
  defaults: {
    rules: NOTHING,
    tax: NOTHING,
    region: '',
    channel_of: NULL,
    cash_ceiling_cents: NULL,
    note: '',
  },
  parts: { rules: HOUSE_RULES, tax: TAX },
};

/** @type {Shape} */
export const PRODUCT = {
  defaults: {
    category: '',
    size: Object.freeze({ amount: '1', unit: 'piece' }),
    pieces: 1,
    tax_class: '',
    gtin: NULL,
    note: '',
  },
};

/** @type {Shape} */
export const SHELF_PRICE = {
  defaults: {
    regular_cents: NULL,
    low_cents: NULL,
    high_cents: NULL,
    kind: 'regular',
    deal: NULL,
    from_date: NULL,
    until: NULL,
    place: '',
    place_note: '',
    per_transaction: NULL,
    per_visit: NULL,
  },
  parts: {
    deal: {
      kinds: {
        n_for_m: { defaults: { must_buy: false } },
        buy_one_get_one: { defaults: { off_bp: 10_000, mix: '' } },
      },
    },
  },
};

/** @type {Shape} */
export const RAIN_CHECK = { defaults: { until: NULL } };

/** @type {Shape} */
export const WANT = {
  defaults: { name: '', need: 0, welcome: 0, stock_up: NULL },
  parts: { stock_up: { defaults: { per: 'piece' } } },
};

/** @type {Shape} */
export const COUPON = {
  defaults: {
    stores: NONE,
    copies: 1,
    per_transaction: NULL,
    per_day: NULL,
    per_household: NULL,
    from_date: NULL,
    until: NULL,
    may_multiply: true,
    where: '',
    legible: '',
  },
  parts: {
    gives: {
      kinds: {
        cents_off: { defaults: { regional_cents: NOTHING } },
        percent_off: {},
        free_item: { defaults: { off_bp: 10_000, up_to_cents: NULL, leg: NULL } },
        fixed_price: {},
        basket_off: { defaults: { measure: 'before_coupons' } },
      },
    },
    asks: { defaults: { products: NONE, units: 1 } },
  },
};

/** @type {Shape} */
export const PERCENT_OFFER = {
  defaults: {
    products: NONE,
    units_per_transaction: NULL,
    transactions: NULL,
    from_date: NULL,
    until: NULL,
  },
};

/** @type {Shape} */
export const REWARD_OFFER = {
  defaults: {
    by: 'units',
    measure: 'before_coupons',
    products: NONE,
    per_transaction: 1,
    per_household: NULL,
    rolls: true,
    valid_days: 14,
    from_date: NULL,
    until: NULL,
  },
};

/** @type {Shape} */
export const REBATE = {
  defaults: {
    units: 1,
    limit: 1,
    stores: NONE,
    from_receipt_cents: 0,
    needs_receipt: true,
    deadline_days: 7,
    from_date: NULL,
    until: NULL,
  },
};

/** @type {Shape} */
export const SLIP = { defaults: { until: NULL, offer: NULL } };

/** @type {Shape} */
export const WALLET = {
  defaults: { slips: NONE, gift_cards: NONE, rain_checks: NONE, cash_cents: NULL },
  parts: { slips: SLIP, rain_checks: RAIN_CHECK },
};

/** @type {Shape} */
export const SETTINGS = {
  defaults: {
    worth: NOTHING,
    further_transaction_cents: 0,
    further_store_cents: 0,
    days_to_next_visit: 7,
  },
  parts: {
    worth: { defaults: { slip_bp: 10_000, gift_card_bp: 10_000, points_bp: 10_000, rebate_bp: 10_000 } },
  },
};

/** @type {Shape} */
export const TRIP = {
  defaults: {
    format: 'counterfoil-trip-1',
    version: 1,
    currency: 'USD',
    exponent: 2,
    region: '',
    wants: NONE,
    coupons: NONE,
    percent_offers: NONE,
    rewards: NONE,
    rebates: NONE,
    set_bonuses: NONE,
    wallet: NOTHING,
    settings: NOTHING,
    pinned: NONE,
  },
  parts: {
    stores: STORE,
    products: PRODUCT,
    prices: SHELF_PRICE,
    wants: WANT,
    coupons: COUPON,
    percent_offers: PERCENT_OFFER,
    rewards: REWARD_OFFER,
    rebates: REBATE,
    wallet: WALLET,
    settings: SETTINGS,
  },
};

/**
 * A trip with every default written out.
 * @param {Trip} document
 */
export const filledTrip = (document) => /** @type {Filled<Trip>} */ (filled(TRIP, document));
