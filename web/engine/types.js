/**
 * The documents' types, once: what stands in a trip, transaction, receipt, plan and event.
 *
 * As the files and the network have them: a field that stands at its default may be absent, so
 * it is optional here. The engine works on `Filled<...>`, where every field is there. What each
 * field means is said in `server/engine/offers.py` and `papers.py`. Names are the documents' own
 * (snake_case), in both languages. Money is in cents, percents in basis points, tax rates in
 * parts per 100,000, sizes and stock-up prices in decimal text.
 */

/**
 * The same document with every default written out.
 * @template T
 * @typedef {T extends readonly (infer U)[]
 *   ? number extends T['length'] ? Filled<U>[] : {[K in keyof T]: Filled<T[K]>}
 *   : T extends object ? {[K in keyof T]-?: Filled<T[K]>} : T} Filled
 */

/** @typedef {'before_coupons' | 'after_store_coupons' | 'after_all_coupons'} Measure */
/** @typedef {'insert' | 'printable' | 'digital' | 'on_package' | 'register'} Form */
/** @typedef {'manufacturer' | 'store'} Issuer */
/** @typedef {'slip' | 'gift_card' | 'points'} RewardKind */

// --- stores

/** @typedef {{times?: number, up_to_cents?: number, per_transaction?: number | null}} Multiplying */

/**
 * @typedef {object} HouseRules
 * @property {number} [manufacturer_coupons_per_unit]
 * @property {number} [store_coupons_per_unit]
 * @property {number} [percent_offers_per_unit]
 * @property {boolean} [store_with_manufacturer]
 * @property {number | null} [like_coupons_per_transaction]
 * @property {boolean} [coupons_no_more_than_items]
 * @property {boolean} [slip_counts_as_manufacturer_coupon]
 * @property {'shelf' | 'left'} [percent_base]
 * @property {'unit' | 'line'} [percent_rounding]
 * @property {Multiplying | null} [multiplying]
 * @property {'cut' | 'basket' | 'refuse'} [overage]
 * @property {number} [basket_coupons_per_transaction]
 * @property {boolean} [slips_buy_gift_cards]
 * @property {number} [transactions_per_visit]
 */

/**
 * @typedef {object} Tax
 * @property {Record<string, number>} [rates]
 * @property {'store_funded' | 'all' | 'none'} [treatment]
 * @property {'invoice' | 'item'} [basis]
 */

/**
 * @typedef {object} Store
 * @property {string} id
 * @property {string} name
 * @property {HouseRules} [rules]
 * @property {Tax} [tax]
 * @property {string} [region]
 * @property {string | null} [channel_of]
 * @property {number | null} [cash_ceiling_cents]
 * @property {string} [note]
 */

// --- products and prices

/** @typedef {{amount: string, unit: string}} Size */

/**
 * @typedef {object} Product
 * @property {string} id
 * @property {string} description
 * @property {string} [category]
 * @property {Size} [size]
 * @property {number} [pieces]
 * @property {string} [tax_class]
 * @property {string | null} [gtin]
 * @property {string} [note]
 */

/** @typedef {{kind: 'n_for_m', n: number, cents: number, must_buy?: boolean}} NForM */
/** @typedef {{kind: 'buy_one_get_one', off_bp?: number, mix?: string}} BuyOneGetOne */

/**
 * @typedef {object} ShelfPrice
 * @property {string} store
 * @property {string} product
 * @property {number} cents
 * @property {number | null} [regular_cents]
 * @property {number | null} [low_cents]
 * @property {number | null} [high_cents]
 * @property {'regular' | 'sale' | 'clearance'} [kind]
 * @property {NForM | BuyOneGetOne | null} [deal]
 * @property {string | null} [from_date]
 * @property {string | null} [until]
 * @property {string} [place]
 * @property {string} [place_note]
 * @property {number | null} [per_transaction]
 * @property {number | null} [per_visit]
 */

/**
 * @typedef {object} RainCheck
 * @property {string} id
 * @property {string} store
 * @property {string} product
 * @property {number} cents
 * @property {number} units
 * @property {string | null} [until]
 */

// --- wants

/** @typedef {{cents: string, per?: string}} StockUp */

/**
 * @typedef {object} Want
 * @property {string} id
 * @property {string[]} products
 * @property {string} [name]
 * @property {number} [need]
 * @property {number} [welcome]
 * @property {StockUp | null} [stock_up]
 */

// --- coupons and offers

/** @typedef {{kind: 'cents_off', cents: number, regional_cents?: Record<string, number>}} CentsOff */
/** @typedef {{kind: 'percent_off', bp: number}} PercentOff */
/**
 * @typedef {object} FreeItem
 * @property {'free_item'} kind
 * @property {number} [off_bp]
 * @property {number | null} [up_to_cents]
 * @property {number | null} [leg]
 */
/** @typedef {{kind: 'fixed_price', cents: number}} FixedPrice */
/** @typedef {{kind: 'basket_off', cents: number, from_cents: number, measure?: Measure}} BasketOff */
/** @typedef {{products?: string[], units?: number}} Asks */

/**
 * @typedef {object} Coupon
 * @property {string} id
 * @property {string} description
 * @property {Issuer} issuer
 * @property {Form} form
 * @property {CentsOff | PercentOff | FreeItem | FixedPrice | BasketOff} gives
 * @property {Asks[]} asks
 * @property {string[]} [stores]
 * @property {number} [copies]
 * @property {number | null} [per_transaction]
 * @property {number | null} [per_day]
 * @property {number | null} [per_household]
 * @property {string | null} [from_date]
 * @property {string | null} [until]
 * @property {boolean} [may_multiply]
 * @property {string} [where]
 * @property {string} [legible]
 */

/**
 * @typedef {object} PercentOffer
 * @property {string} id
 * @property {string} store
 * @property {string} description
 * @property {number} bp
 * @property {string[]} [products]
 * @property {number | null} [units_per_transaction]
 * @property {number | null} [transactions]
 * @property {string | null} [from_date]
 * @property {string | null} [until]
 */

/** @typedef {{threshold: number, cents: number}} Tier */

/**
 * @typedef {object} RewardOffer
 * @property {string} id
 * @property {string} store
 * @property {string} description
 * @property {RewardKind} kind
 * @property {Tier[]} tiers
 * @property {'units' | 'spend'} [by]
 * @property {Measure} [measure]
 * @property {string[]} [products]
 * @property {number | null} [per_transaction]
 * @property {number | null} [per_household]
 * @property {boolean} [rolls]
 * @property {number} [valid_days]
 * @property {string | null} [from_date]
 * @property {string | null} [until]
 */

/**
 * @typedef {object} Rebate
 * @property {string} id
 * @property {string} description
 * @property {number} cents
 * @property {string[]} products
 * @property {number} [units]
 * @property {number} [limit]
 * @property {string[]} [stores]
 * @property {number} [from_receipt_cents]
 * @property {boolean} [needs_receipt]
 * @property {number} [deadline_days]
 * @property {string | null} [from_date]
 * @property {string | null} [until]
 */

/** @typedef {{id: string, description: string, cents: number, rebates: string[]}} SetBonus */

// --- the wallet and the trip

/**
 * @typedef {object} Slip
 * @property {string} id
 * @property {string} store
 * @property {number} cents
 * @property {string | null} [until]
 * @property {string | null} [offer]
 */
/** @typedef {{id: string, store: string, cents: number}} GiftCard */

/**
 * @typedef {object} Wallet
 * @property {Slip[]} [slips]
 * @property {GiftCard[]} [gift_cards]
 * @property {RainCheck[]} [rain_checks]
 * @property {number | null} [cash_cents]
 */

/** @typedef {{slip_bp?: number, gift_card_bp?: number, points_bp?: number, rebate_bp?: number}} Worth */

/**
 * @typedef {object} Settings
 * @property {Worth} [worth]
 * @property {number} [further_transaction_cents]
 * @property {number} [further_store_cents]
 * @property {number} [days_to_next_visit]
 */

/** @typedef {{store: string, product: string, units: number}} Pinned */

/**
 * @typedef {object} Trip
 * @property {'counterfoil-trip-1'} [format]
 * @property {string} id
 * @property {string} title
 * @property {string} day
 * @property {number} [version]
 * @property {string} [currency]
 * @property {number} [exponent]
 * @property {string} [region]
 * @property {Store[]} stores
 * @property {Product[]} products
 * @property {ShelfPrice[]} prices
 * @property {Want[]} [wants]
 * @property {Coupon[]} [coupons]
 * @property {PercentOffer[]} [percent_offers]
 * @property {RewardOffer[]} [rewards]
 * @property {Rebate[]} [rebates]
 * @property {SetBonus[]} [set_bonuses]
 * @property {Wallet} [wallet]
 * @property {Settings} [settings]
 * @property {Pinned[]} [pinned]
 */

// --- one transaction and its answer

/** @typedef {{product: string, units: number, rain_check?: string | null}} Line */
/** @typedef {{coupon: string, units?: number[]}} Use */
/** @typedef {{offer: string, units: number[]}} OfferUse */

/** @typedef {{kind: 'slip', cents: number, id?: string, offer?: string | null}} PayBySlip */
/** @typedef {{kind: 'gift_card', cents: number, id?: string}} PayByGiftCard */
/** @typedef {{kind: 'food_benefit', cents: number, products?: string[]}} PayByFoodBenefit */
/** @typedef {{kind: 'cash', cents?: number | null}} PayByCash */
/** @typedef {PayBySlip | PayByGiftCard | PayByFoodBenefit | PayByCash} Tender */

/**
 * @typedef {object} Transaction
 * @property {'counterfoil-transaction-1'} [format]
 * @property {Store} store
 * @property {string} day
 * @property {Product[]} products
 * @property {ShelfPrice[]} prices
 * @property {Line[]} lines
 * @property {Coupon[]} [coupons]
 * @property {PercentOffer[]} [percent_offers]
 * @property {RewardOffer[]} [rewards]
 * @property {RainCheck[]} [rain_checks]
 * @property {Use[]} [uses]
 * @property {OfferUse[]} [offer_uses]
 * @property {Tender[]} [tenders]
 * @property {Record<string, number>} [earned_before]
 * @property {string} [region]
 * @property {string} [currency]
 * @property {number} [exponent]
 */

/**
 * @typedef {'sale' | 'percent_offer' | 'store_coupon' | 'manufacturer_coupon' | 'multiplied'
 *   | 'basket_coupon' | 'overage'} AdjustmentKind
 */

/**
 * @typedef {object} Adjustment
 * @property {AdjustmentKind} kind
 * @property {string} source
 * @property {number} cents
 * @property {string} why
 * @property {number | null} [use]
 */

/**
 * @typedef {object} UnitOnReceipt
 * @property {string} product
 * @property {number} line
 * @property {number} tag_cents
 * @property {Adjustment[]} adjustments
 * @property {number} paid_cents
 * @property {number} taxable_cents
 */

/** @typedef {{tax_class: string, rate: number, taxable_cents: number, cents: number, why: string}} TaxLine */

/**
 * @typedef {object} TenderLine
 * @property {'slip' | 'gift_card' | 'food_benefit' | 'cash'} kind
 * @property {number} cents
 * @property {string} [id]
 * @property {string | null} [offer]
 */

/**
 * @typedef {object} Earned
 * @property {string} offer
 * @property {RewardKind} kind
 * @property {number} times
 * @property {number} each_cents
 * @property {number} cents
 * @property {string} why
 */

/** @typedef {{use: number, coupon: string, cents: number, why: string}} CouponTaken */

/**
 * @typedef {object} Receipt
 * @property {'counterfoil-receipt-1'} [format]
 * @property {string} store
 * @property {UnitOnReceipt[]} units
 * @property {CouponTaken[]} coupons
 * @property {TaxLine[]} taxes
 * @property {TenderLine[]} tenders
 * @property {Earned[]} earned
 * @property {number} shelf_cents
 * @property {number} merchandise_cents
 * @property {number} tax_cents
 * @property {number} total_cents
 * @property {number} out_of_pocket_cents
 * @property {string[]} [why]
 */

/** @typedef {{format?: 'counterfoil-refusal-1', rule: string, subject: string, sentence: string}} Refusal */

// --- the plan

/**
 * @typedef {object} Stack
 * @property {string} want
 * @property {string[]} products
 * @property {number} times
 * @property {number} tag_cents
 * @property {[string, number][]} parts
 * @property {number} paid_cents
 * @property {string} words
 * @property {number[]} units
 */

/**
 * @typedef {object} PlannedTransaction
 * @property {string} store
 * @property {number} number
 * @property {Transaction} transaction
 * @property {Receipt} receipt
 * @property {Stack[]} stacks
 * @property {string[]} hand_over
 * @property {string[]} prints
 */

/**
 * @typedef {object} Deal
 * @property {string} want
 * @property {string} store
 * @property {string} product
 * @property {number} units
 * @property {string} place
 * @property {number} tag_cents
 * @property {number} register_cents
 * @property {number} tax_cents
 * @property {number} reward_cents
 * @property {number} rebate_cents
 * @property {number} net_cents
 * @property {string} unit_price
 * @property {string} stock_up
 * @property {'at or under' | 'over' | 'no stock-up price'} verdict
 */

/** @typedef {{want: string, missing: number, because: string}} Unmet */

/**
 * @typedef {object} RebateClaim
 * @property {string} rebate
 * @property {number} times
 * @property {number} cents
 * @property {string | null} [until]
 * @property {boolean} [bonus]
 */

/**
 * @typedef {object} Totals
 * @property {number} [shelf_cents]
 * @property {number} [paid_cents]
 * @property {number} [tax_cents]
 * @property {number} [out_of_pocket_cents]
 * @property {number} [rewards_cents]
 * @property {number} [rewards_worth_cents]
 * @property {number} [rebates_cents]
 * @property {number} [rebates_worth_cents]
 * @property {number} [net_cents]
 * @property {number} [worth_cents]
 * @property {number} [saved_cents]
 * @property {number} [left_slips_cents]
 * @property {number} [transactions]
 */

/** @typedef {{optimal: boolean, net_optimal?: boolean, gap_cents?: number, words?: string}} Proof */

/**
 * @typedef {object} Plan
 * @property {'counterfoil-plan-1'} [format]
 * @property {string} trip
 * @property {number} trip_version
 * @property {PlannedTransaction[]} transactions
 * @property {Deal[]} deals
 * @property {Unmet[]} unmet
 * @property {RebateClaim[]} rebates
 * @property {Totals} totals
 * @property {Proof} proof
 * @property {string[]} [notes]
 */

// --- what happened

/** @typedef {{kind: 'in_trolley', store: string, product: string, units: number}} InTrolley */
/** @typedef {{kind: 'shelf_empty', store: string, product: string}} ShelfEmpty */

/**
 * @typedef {object} PriceSeen
 * @property {'price_seen'} kind
 * @property {string} store
 * @property {string} product
 * @property {number} cents
 * @property {boolean} [without_deal]
 */

/**
 * @typedef {object} Found
 * @property {'found'} kind
 * @property {string} want
 * @property {string} store
 * @property {string} product
 * @property {number} cents
 * @property {Product | null} [product_data]
 */

/** @typedef {{kind: 'coupon_copies', coupon: string, copies: number}} CouponCopies */
/** @typedef {{kind: 'coupon_found', coupon: Coupon}} CouponFound */
/** @typedef {{kind: 'chosen', store: string, product: string, units: number}} Chosen */
/** @typedef {{kind: 'need_changed', want: string, need: number, welcome: number}} NeedChanged */

/**
 * @typedef {object} RainCheckTaken
 * @property {'rain_check_taken'} kind
 * @property {string} store
 * @property {string} product
 * @property {number} units
 * @property {number} cents
 * @property {string | null} [until]
 */

/**
 * @typedef {object} TransactionDone
 * @property {'transaction_done'} kind
 * @property {Transaction} transaction
 * @property {number | null} [shown_total_cents]
 * @property {Slip[] | null} [printed]
 */

/** @typedef {{kind: 'not_printed', done: string, offer: string}} NotPrinted */
/** @typedef {{kind: 'undone', event: string}} Undone */

/**
 * @typedef {InTrolley | ShelfEmpty | PriceSeen | Found | CouponCopies | CouponFound | Chosen
 *   | NeedChanged | RainCheckTaken | TransactionDone | NotPrinted | Undone} Report
 */

/**
 * @typedef {object} Event
 * @property {string} id
 * @property {string} device
 * @property {number} counter
 * @property {string} at
 * @property {string} trip
 * @property {Report} what
 */

/**
 * @typedef {object} Swap
 * @property {'swap' | 'elsewhere' | 'leave'} action
 * @property {string | null} product
 * @property {string | null} store
 * @property {number} units
 * @property {number} net_change_cents
 * @property {number} value_change_cents
 * @property {string} words
 * @property {Report[]} reports
 */

/** The reports in order, each with its event id ('' where there is none).
 * @typedef {{entries: [string, Report][]}} Happened */

export {};
