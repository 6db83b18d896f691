/**
 * The papers that the engine writes: transaction, receipt, plan, and what happened. Twin of
 * `server/engine/papers.py`, which says what each field means. The types of all documents can
 * be imported from here; they stand in `types.js`.
 */

import { filled } from './documents.js';
import {
  COUPON,
  PERCENT_OFFER,
  PRODUCT,
  RAIN_CHECK,
  REWARD_OFFER,
  SHELF_PRICE,
  SLIP,
  STORE,
} from './offers.js';

/** @import { Shape } from './documents.js' */

/** @type {readonly never[]} */
const NONE = Object.freeze([]);
const NULL = null;

/** @type {Shape} */
export const TRANSACTION = {
  defaults: {
    format: 'counterfoil-transaction-1',
    coupons: NONE,
    percent_offers: NONE,
    rewards: NONE,
    rain_checks: NONE,
    uses: NONE,
    offer_uses: NONE,
    tenders: Object.freeze([Object.freeze({ kind: 'cash' })]),
    earned_before: Object.freeze({}),
    region: '',
    currency: 'USD',
    exponent: 2,
  },
  parts: {
    store: STORE,
    products: PRODUCT,
    prices: SHELF_PRICE,
    lines: { defaults: { rain_check: NULL } },
    coupons: COUPON,
    percent_offers: PERCENT_OFFER,
    rewards: REWARD_OFFER,
    rain_checks: RAIN_CHECK,
    uses: { defaults: { units: NONE } },
    tenders: {
      kinds: {
        slip: { defaults: { id: '', offer: NULL } },
        gift_card: { defaults: { id: '' } },
        food_benefit: { defaults: { products: NONE } },
        cash: { defaults: { cents: NULL } },
      },
    },
  },
};

/** @type {Shape} */
export const RECEIPT = {
  defaults: { format: 'counterfoil-receipt-1', why: NONE },
  parts: {
    units: { parts: { adjustments: { defaults: { use: NULL } } } },
    tenders: { defaults: { id: '', offer: NULL } },
  },
};

/** @type {Shape} */
export const PLAN = {
  defaults: { format: 'counterfoil-plan-1', notes: NONE },
  parts: {
    transactions: { parts: { transaction: TRANSACTION, receipt: RECEIPT } },
    rebates: { defaults: { until: NULL, bonus: false } },
    totals: {
      defaults: {
        shelf_cents: 0,
        paid_cents: 0,
        tax_cents: 0,
        out_of_pocket_cents: 0,
        rewards_cents: 0,
        rewards_worth_cents: 0,
        rebates_cents: 0,
        rebates_worth_cents: 0,
        net_cents: 0,
        worth_cents: 0,
        saved_cents: 0,
        left_slips_cents: 0,
        transactions: 0,
      },
    },
    proof: { defaults: { net_optimal: false, gap_cents: 0, words: '' } },
  },
};

const REPORT = {
  kinds: {
    in_trolley: {},
    shelf_empty: {},
    price_seen: { defaults: { without_deal: false } },
    found: { defaults: { product_data: NULL }, parts: { product_data: PRODUCT } },
    coupon_copies: {},
    coupon_found: { parts: { coupon: COUPON } },
    chosen: {},
    need_changed: {},
    rain_check_taken: { defaults: { until: NULL } },
    transaction_done: {
      defaults: { shown_total_cents: NULL, printed: NULL },
      parts: { transaction: TRANSACTION, printed: SLIP },
    },
    not_printed: {},
    undone: {},
  },
};

/**
 * A transaction with every default written out.
 * @param {Transaction} document
 */
export const filledTransaction = (document) =>
  /** @type {Filled<Transaction>} */ (filled(TRANSACTION, document));

/**
 * A plan with every default written out.
 * @param {Plan} document
 */
export const filledPlan = (document) => /** @type {Filled<Plan>} */ (filled(PLAN, document));

/**
 * A report with every default written out.
 * @param {Report} document
 */
export const filledReport = (document) => /** @type {Filled<Report>} */ (filled(REPORT, document));

/**
 * @template T
 * @typedef {import('./types.js').Filled<T>} Filled
 */
/** @typedef {import('./types.js').Adjustment} Adjustment */
/** @typedef {import('./types.js').AdjustmentKind} AdjustmentKind */
/** @typedef {import('./types.js').Asks} Asks */
/** @typedef {import('./types.js').BasketOff} BasketOff */
/** @typedef {import('./types.js').BuyOneGetOne} BuyOneGetOne */
/** @typedef {import('./types.js').CentsOff} CentsOff */
/** @typedef {import('./types.js').Chosen} Chosen */
/** @typedef {import('./types.js').Coupon} Coupon */
/** @typedef {import('./types.js').CouponCopies} CouponCopies */
/** @typedef {import('./types.js').CouponFound} CouponFound */
/** @typedef {import('./types.js').CouponTaken} CouponTaken */
/** @typedef {import('./types.js').Deal} Deal */
/** @typedef {import('./types.js').Earned} Earned */
/** @typedef {import('./types.js').Event} Event */
/** @typedef {import('./types.js').FixedPrice} FixedPrice */
/** @typedef {import('./types.js').Form} Form */
/** @typedef {import('./types.js').Found} Found */
/** @typedef {import('./types.js').FreeItem} FreeItem */
/** @typedef {import('./types.js').GiftCard} GiftCard */
/** @typedef {import('./types.js').Happened} Happened */
/** @typedef {import('./types.js').HouseRules} HouseRules */
/** @typedef {import('./types.js').InTrolley} InTrolley */
/** @typedef {import('./types.js').Issuer} Issuer */
/** @typedef {import('./types.js').Line} Line */
/** @typedef {import('./types.js').Measure} Measure */
/** @typedef {import('./types.js').Multiplying} Multiplying */
/** @typedef {import('./types.js').NForM} NForM */
/** @typedef {import('./types.js').NeedChanged} NeedChanged */
/** @typedef {import('./types.js').NotPrinted} NotPrinted */
/** @typedef {import('./types.js').OfferUse} OfferUse */
/** @typedef {import('./types.js').PayByCash} PayByCash */
/** @typedef {import('./types.js').PayByFoodBenefit} PayByFoodBenefit */
/** @typedef {import('./types.js').PayByGiftCard} PayByGiftCard */
/** @typedef {import('./types.js').PayBySlip} PayBySlip */
/** @typedef {import('./types.js').PercentOff} PercentOff */
/** @typedef {import('./types.js').PercentOffer} PercentOffer */
/** @typedef {import('./types.js').Plan} Plan */
/** @typedef {import('./types.js').PlannedTransaction} PlannedTransaction */
/** @typedef {import('./types.js').PriceSeen} PriceSeen */
/** @typedef {import('./types.js').Product} Product */
/** @typedef {import('./types.js').Proof} Proof */
/** @typedef {import('./types.js').RainCheck} RainCheck */
/** @typedef {import('./types.js').RainCheckTaken} RainCheckTaken */
/** @typedef {import('./types.js').Rebate} Rebate */
/** @typedef {import('./types.js').RebateClaim} RebateClaim */
/** @typedef {import('./types.js').Receipt} Receipt */
/** @typedef {import('./types.js').Refusal} Refusal */
/** @typedef {import('./types.js').Report} Report */
/** @typedef {import('./types.js').RewardKind} RewardKind */
/** @typedef {import('./types.js').RewardOffer} RewardOffer */
/** @typedef {import('./types.js').SetBonus} SetBonus */
/** @typedef {import('./types.js').Settings} Settings */
/** @typedef {import('./types.js').ShelfEmpty} ShelfEmpty */
/** @typedef {import('./types.js').ShelfPrice} ShelfPrice */
/** @typedef {import('./types.js').Size} Size */
/** @typedef {import('./types.js').Slip} Slip */
/** @typedef {import('./types.js').Stack} Stack */
/** @typedef {import('./types.js').StockUp} StockUp */
/** @typedef {import('./types.js').Store} Store */
/** @typedef {import('./types.js').Swap} Swap */
/** @typedef {import('./types.js').Tax} Tax */
/** @typedef {import('./types.js').TaxLine} TaxLine */
/** @typedef {import('./types.js').Tender} Tender */
/** @typedef {import('./types.js').TenderLine} TenderLine */
/** @typedef {import('./types.js').Tier} Tier */
/** @typedef {import('./types.js').Totals} Totals */
/** @typedef {import('./types.js').Transaction} Transaction */
/** @typedef {import('./types.js').TransactionDone} TransactionDone */
/** @typedef {import('./types.js').Trip} Trip */
/** @typedef {import('./types.js').Undone} Undone */
/** @typedef {import('./types.js').UnitOnReceipt} UnitOnReceipt */
/** @typedef {import('./types.js').Unmet} Unmet */
/** @typedef {import('./types.js').Use} Use */
/** @typedef {import('./types.js').Wallet} Wallet */
/** @typedef {import('./types.js').Want} Want */
/** @typedef {import('./types.js').Worth} Worth */
